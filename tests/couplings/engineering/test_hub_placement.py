"""Hubs on their shafts. Constructed figures; the independent route is counting covered millimetres one by one."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from couplings.engineering.placement import PlacementError, engagement_mm, hub_face_gap_mm


@pytest.mark.parametrize(
    "bore, overhang, shaft, engaged",
    [
        (60, 0, 110, 60),  # flush
        (60, 10, 110, 50),  # the hub overhangs
        (60, -15, 110, 60),  # the shaft stands proud
        (60, -70, 110, 40),  # beyond the straight part
        (60, 60, 110, 0),
        (60, 80, 110, 0),  # clear of the shaft
    ],
)
def test_engagement_is_the_shaft_inside_the_bore(bore, overhang, shaft, engaged):
    assert engagement_mm(bore, overhang, shaft) == engaged


@settings(max_examples=50, derandomize=True, deadline=None, database=None)
@given(bore=st.integers(1, 120), overhang=st.integers(-150, 150), shaft=st.integers(1, 120))
def test_engagement_counts_the_covered_millimetres(bore, overhang, shaft):
    covered = sum(1 for mm in range(-shaft, 0) if overhang - bore <= mm < overhang)
    assert engagement_mm(bore, overhang, shaft) == covered


def test_the_gap_is_what_the_hubs_leave():
    assert hub_face_gap_mm(140.0, 2.0, -3.0) == 141.0
    assert hub_face_gap_mm(3.0, 2.0, 2.0) == -1.0


@pytest.mark.parametrize(
    "call, field",
    [
        (lambda: engagement_mm(0.0, 0.0, 100.0), "bore_length"),
        (lambda: engagement_mm(60.0, math.nan, 100.0), "overhang"),
        (lambda: engagement_mm(60.0, 0.0, math.inf), "shaft_length"),
        (lambda: hub_face_gap_mm(math.nan, 0.0, 0.0), "dbse"),
        (lambda: hub_face_gap_mm(100.0, 0.0, math.inf), "overhang_2"),
    ],
)
def test_impossible_lengths_are_refused(call, field):
    with pytest.raises(PlacementError) as refusal:
        call()
    assert refusal.value.field == field
