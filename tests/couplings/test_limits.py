"""Limits as sheets state them, and the number they are judged by.

Source of all figures: plane geometry (a slope is the tangent of its angle, and a gap difference over a diameter is a
slope), at the figures that the cited publications print.
"""

import json
from math import atan, degrees
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from couplings.rules import band_errors, judged_value, limit_errors, stated_errors

REFERENCE = Path(__file__).resolve().parents[2] / "fixtures" / "reference" / "alignment.json"


def case(name):
    return next(case for case in json.loads(REFERENCE.read_text(encoding="utf-8")) if case["id"] == name)


def test_the_trades_half_thou_per_inch_is_one_slope_however_it_is_stated():
    # TL-14: exact equivalences of 0.5 mil/in; its degrees are printed to six decimals, which is 1e-5 mrad here.
    row = case("TL-14")
    expected = row["expected"]["mrad"]
    assert judged_value("slope", row["expected"]["mm_per_m"]) == pytest.approx(expected, abs=1e-6)
    assert judged_value("gap-difference", row["expected"]["mm_per_100mm"], 100.0) == pytest.approx(expected, abs=1e-6)
    assert judged_value("degrees", row["expected"]["deg"]) == pytest.approx(expected, abs=1e-5)


def test_a_published_gap_limit_and_its_angle_agree_over_the_diameter_they_imply():
    # CM-04: U.S. Army TM 10-4320-307-24, p. 3-13 prints 0.5 degrees and a gap; the diameter follows within rounding.
    row = case("CM-04")
    inputs, diameter = row["inputs"], row["expected"]["implied_swing_diameter"]
    by_angle = judged_value("degrees", inputs["angle_deg"])
    by_gap = judged_value("gap-difference", inputs["gap_limit"], diameter)
    assert by_gap == pytest.approx(by_angle, rel=row["tolerance"]["implied_swing_diameter"] / diameter)


@given(st.floats(0.001, 5))
def test_degrees_come_back_through_the_arc_tangent(angle):
    assert degrees(atan(judged_value("degrees", angle) / 1000)) == pytest.approx(angle, rel=1e-12)


@pytest.mark.parametrize(
    "limit, field, sentence",
    [
        ({"quantity": "wobble"}, "quantity", "Name what is limited: offset, angularity, flex-angle, axial."),
        (
            {"quantity": "offset", "stated_as": "degrees", "stated_value": 1.0},
            "stated_as",
            "A limit on offset is stated as a length.",
        ),
        (
            {"quantity": "flex-angle", "stated_as": "length", "stated_value": 1.0},
            "stated_as",
            "A limit on flex angle is stated as a slope or an angle in degrees or a gap difference over a diameter.",
        ),
        (
            {"quantity": "offset", "stated_as": "length", "stated_value": 0.0},
            "stated_value",
            "Give the limit as a number above zero.",
        ),
        (
            {"quantity": "offset", "stated_as": "length", "stated_value": float("nan")},
            "stated_value",
            "Give the limit as a number above zero.",
        ),
        (
            {"quantity": "angularity", "stated_as": "degrees", "stated_value": 45.0},
            "stated_value",
            "No coupling takes 45 degrees: check the unit of this limit.",
        ),
        (
            {"quantity": "angularity", "stated_as": "gap-difference", "stated_value": 0.1},
            "over_diameter_mm",
            "Say over which diameter the gap difference is taken.",
        ),
        (
            {"quantity": "angularity", "stated_as": "slope", "stated_value": 0.1, "over_diameter_mm": 100.0},
            "over_diameter_mm",
            "A diameter goes with a gap difference only: leave it out.",
        ),
    ],
)
def test_what_cannot_be_judged_by_is_refused_with_its_field(limit, field, sentence):
    assert stated_errors(limit) == {field: sentence}


def test_limits_in_a_list_are_named_by_their_row():
    offset = {"quantity": "offset", "stated_as": "length", "stated_value": 0.1}
    assert limit_errors([offset, {"quantity": "axial", "stated_as": "length", "stated_value": 0.5}]) == {}
    assert limit_errors([offset, offset]) == {"limits.1.quantity": "Offset is limited twice: row 1 has it already."}


def test_bands_of_a_grade_touch_and_never_overlap():
    low = {"kind": "short", "over_rpm": 0.0, "up_to_rpm": 1800.0, "offset_mm": 0.1, "source": "S"}
    high = low | {"over_rpm": 1800.0, "up_to_rpm": 3600.0}
    assert band_errors([low, high, low | {"kind": "spacer"}]) == {}
    assert band_errors([low, high | {"over_rpm": 1500.0}]) == {"rows.1.over_rpm": "This band overlaps that of row 1."}
    assert band_errors([low | {"up_to_rpm": 0.0}]) == {"rows.0.up_to_rpm": "The band ends below its beginning."}
    assert band_errors([low | {"source": " ", "offset_mm": None}]) == {
        "rows.0.source": "Name the source of this row.",
        "rows.0.offset_mm": "Give at least one limit in this row.",
    }
