"""Fits: the table against the standard's formula, pairs with their uncertainty, and what is refused."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from couplings.engineering.fits import (
    FitError,
    band_of,
    fit_of_class,
    kind_of,
    specified_fit,
    standard_tolerance_um,
    zone,
)
from couplings.engineering.pairs import judge_pair, reach_mm
from couplings.engineering.tables.iso286 import HOLES, INCH_CLASSES, ISO_286, SHAFTS

# The standard's formulas for the deviation next to the nominal size, D in mm, result in um (ISO 286-1, from memory):
# g: -2.5 D^0.34, k: 0.6 D^(1/3), n: 5 D^0.34. m is IT7 - IT6 exactly; p is IT7 and 0 to 5 more.
NEAR = {"g6": lambda d: -2.5 * d**0.34, "k6": lambda d: 0.6 * d ** (1 / 3), "n6": lambda d: 5 * d**0.34}


@pytest.mark.parametrize("band", ISO_286, ids=lambda band: f"{band.over_mm}-{band.up_to_mm}")
def test_the_table_agrees_with_the_formulas_within_the_standard_s_rounding(band):
    mean = math.sqrt(band.over_mm * band.up_to_mm)
    for grade, figure in band.it_um.items():
        assert figure == pytest.approx(standard_tolerance_um(band.over_mm, band.up_to_mm, grade), abs=0.8)
    for code, formula in NEAR.items():
        nearest = band.shaft_um[code][1 if code == "g6" else 0]
        assert nearest == pytest.approx(formula(mean), abs=0.85)
    assert band.shaft_um["m6"][0] == band.it_um[7] - band.it_um[6]
    assert 0 <= band.shaft_um["p6"][0] - band.it_um[7] <= 5
    assert band.shaft_um["j6"][1] - band.shaft_um["j6"][0] == band.it_um[6]


def test_where_table_and_formula_part_the_table_governs():
    assert zone("H7", 8).upper_mm == pytest.approx(0.015)
    assert round(standard_tolerance_um(6, 10, 7)) == 14
    assert zone("H7", 15).upper_mm == pytest.approx(0.018)
    assert round(standard_tolerance_um(10, 18, 7)) == 17


def test_bands_join_and_every_class_is_in_each():
    assert [band.up_to_mm for band in ISO_286[:-1]] == [band.over_mm for band in ISO_286[1:]]
    assert all(set(band.shaft_um) == set(SHAFTS) and len(band.it_um) == len(HOLES) for band in ISO_286)
    assert all(band.source and band.mark == "published" for band in ISO_286)


def test_an_edge_belongs_to_the_lower_band():
    assert band_of(50).up_to_mm == 50
    assert band_of(50.001).over_mm == 50
    # H7/k6, H7/m6 and H7/p6 at 50 mm as printed: ISO 286-2.
    assert (specified_fit(50, "H7", "k6").least_clearance_mm, specified_fit(50, "H7", "k6").most_clearance_mm) == (
        pytest.approx(-0.018), pytest.approx(0.023),
    )  # fmt: skip
    tight = specified_fit(50, "H7", "p6")
    assert (tight.least_clearance_mm, tight.most_clearance_mm) == (pytest.approx(-0.042), pytest.approx(-0.001))
    assert (tight.kind, specified_fit(50, "H7", "m6").kind, specified_fit(50, "H7", "g6").kind) == (
        "interference", "transition", "clearance",
    )  # fmt: skip
    assert specified_fit(50, "H7", "h6").kind == "clearance"


@pytest.mark.parametrize(
    "call, field, words",
    [
        (lambda: band_of(3), "nominal", "over 3 up to 250 mm"),
        (lambda: band_of(251), "nominal", "No row"),
        (lambda: band_of(math.nan), "nominal", "not a finite"),
        (lambda: zone("F7", 50), "hole", "Choose one of"),
        (lambda: zone("s6", 50), "shaft", "Choose one of"),
        (lambda: specified_fit(50, "k6", "H7"), "hole", "H6, H7, H8"),
        (lambda: specified_fit(50, "H7", "H7"), "shaft", "g6"),
        (lambda: standard_tolerance_um(6, 10, 9), "grade", "6, 7 and 8"),
        (lambda: standard_tolerance_um(10, 6, 7), "nominal", "in order"),
        (lambda: fit_of_class(2, "press", INCH_CLASSES), "class", "enter it first"),
        (lambda: judge_pair(specified_fit(50, "H7", "k6"), math.inf, 50), "bore", "finite"),
        (lambda: judge_pair(specified_fit(50, "H7", "k6"), 50, 50, -1), "bore_u", "not negative"),
        (lambda: judge_pair(specified_fit(50, "H7", "k6"), 50, 50, 0, math.nan), "shaft_u", "finite"),
        (lambda: judge_pair(specified_fit(50, "H7", "k6"), 50, 50, 0, 0, 0.5), "confidence", "between"),
    ],
)
def test_what_cannot_be_is_refused_by_its_field(call, field, words):
    with pytest.raises(FitError, match=re.escape(words)) as caught:
        call()
    assert caught.value.field == field


def test_a_bore_that_is_worn_is_told_apart_from_the_fit():
    found = judge_pair(specified_fit(50, "H7", "k6"), 50.030, 50.015)
    assert found.verdict == "in tolerance"
    assert found.bore.verdict == "out of tolerance"
    assert found.bore.beyond_mm == pytest.approx(0.005)
    assert "bore alone would not" in found.reason
    loose = judge_pair(specified_fit(50, "H7", "k6"), 50.060, 50.010)
    assert (loose.verdict, loose.kind) == ("out of tolerance", "clearance")
    assert loose.fit.beyond_mm == pytest.approx(0.027)
    assert "bore lies outside" in loose.reason
    tight = judge_pair(specified_fit(50, "H7", "k6"), 49.990, 50.015)
    assert tight.fit.beyond_mm == pytest.approx(-0.007)


def test_uncertainty_across_an_end_is_too_close_to_call():
    fit = specified_fit(50, "H7", "k6")
    assert judge_pair(fit, 50.025, 50.003).verdict == "in tolerance"
    close = judge_pair(fit, 50.025, 50.003, 0.003, 0.003)
    assert close.verdict == "too close to call"
    assert "measure again" in close.reason
    # Half the probability lies on either side of an end, the far end being many deviations away.
    at_the_end = judge_pair(fit, 50.025, 50.002, 0.001, 0.001)
    assert at_the_end.fit.probability == pytest.approx(0.5, abs=1e-6)
    assert reach_mm(at_the_end.fit) == pytest.approx(1.6449 * math.hypot(0.001, 0.001), rel=1e-4)
    # A gauge coarser than the zone decides nothing, even in the middle of it.
    assert judge_pair(fit, 50.0125, 50.010, 0.5, 0.5).verdict == "too close to call"


@given(
    size=st.floats(3.001, 250), hole=st.sampled_from(HOLES), shaft=st.sampled_from(SHAFTS),
    bore=st.floats(0, 1), journal=st.floats(0, 1),
)  # fmt: skip
def test_parts_inside_their_zones_make_the_fit(size, hole, shaft, bore, journal):
    fit = specified_fit(size, hole, shaft)
    found = judge_pair(
        fit,
        size + fit.bore.lower_mm + bore * (fit.bore.upper_mm - fit.bore.lower_mm),
        size + fit.shaft.lower_mm + journal * (fit.shaft.upper_mm - fit.shaft.lower_mm),
    )
    assert (found.bore.verdict, found.shaft.verdict, found.verdict) == ("in tolerance",) * 3
    assert found.specified_kind == kind_of(fit.least_clearance_mm, fit.most_clearance_mm)
    if found.specified_kind != "transition":
        assert found.kind == found.specified_kind
