"""Verdicts against limits."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from couplings.engineering.alignment import Misalignment, ReadingSet, direct, solve
from couplings.engineering.conformity import (
    IN_TOLERANCE,
    NOT_KNOWN,
    OUT_OF_TOLERANCE,
    TOO_CLOSE,
    ConformityError,
    Limit,
    Limits,
    degrees_from_slope,
    gap_in_place,
    judge,
    percent,
    slope_from_degrees,
    slope_from_gap,
)

OFFSET = Limits((Limit("offset", 0.1),))
BOTH = (Limit("offset", 0.1), Limit("angularity", 0.5))
PLANES = (-70.0, 70.0)
FINITE = {"allow_nan": False, "allow_infinity": False}


def at_offset(vertical: float, u: float, horizontal: float = 0.0, slope: float = 0.0, u_slope: float = 0.01):
    return direct(
        (vertical, horizontal), (slope, 0.0), offset_u_mm=(u, u), slope_u_mrad=(u_slope, u_slope)
    ).misalignment


def vertical_only(offset: float, slope: float) -> Misalignment:
    return direct((offset, None), (slope, None), offset_u_mm=(0.01, None), slope_u_mrad=(0.1, None)).misalignment


def test_a_guarded_verdict_has_three_words():
    # One dominant plane: the border lies 1.645 standard deviations from the limit, in and out.
    assert judge(at_offset(0.1 - 0.0180, 0.01), OFFSET).verdict == IN_TOLERANCE
    assert judge(at_offset(0.1 - 0.0150, 0.01), OFFSET).verdict == TOO_CLOSE
    assert judge(at_offset(0.1 + 0.0150, 0.01), OFFSET).verdict == TOO_CLOSE
    assert judge(at_offset(0.1 + 0.0180, 0.01), OFFSET).verdict == OUT_OF_TOLERANCE


def test_a_simple_verdict_looks_at_the_value_and_still_gives_the_probability():
    inside = judge(at_offset(0.1, 0.01), OFFSET, decision="simple")
    outside = judge(at_offset(0.101, 0.01), OFFSET, decision="simple")
    assert (inside.verdict, inside.reason_code) == (IN_TOLERANCE, "value-within")
    assert (outside.verdict, outside.reason_code) == (OUT_OF_TOLERANCE, "value-beyond")
    assert inside.probability == pytest.approx(stats.ncx2.cdf(100, 2, 100), abs=1e-8)
    assert outside.probability is not None
    assert outside.probability > 0.4


def test_one_axial_limit_is_closed_form():
    judged = judge(at_offset(0, 0.01), Limits((Limit("axial", 0.5),)), axial=(-0.45, 0.05))
    assert judged.probability == pytest.approx(stats.norm.cdf(1.0) - stats.norm.cdf(-19.0), abs=1e-12)
    assert judged.tolerance_used == pytest.approx(0.9)
    assert judged.lines[0].verdict == TOO_CLOSE


def test_the_tightest_ratio_governs_over_both_families():
    limits = Limits((*BOTH, Limit("flex-angle", 0.5, "grade", "the site's grade")))
    judged = judge(at_offset(0.05, 0.001, slope=0.1), limits, PLANES)
    # Flex angles: 0.05/0.14 + 0.05 = 0.407 at A and 0.307 at B; offset 0.5 of its limit, angularity 0.2.
    shares = {line.quantity: line.share for line in judged.lines}
    assert shares["flex-angle-a"] == pytest.approx((50 / 140 + 0.05) / 0.5)
    assert shares["flex-angle-b"] == pytest.approx((50 / 140 - 0.05) / 0.5)
    assert (shares["offset"], shares["angularity"]) == (pytest.approx(0.5), pytest.approx(0.2))
    assert judged.tolerance_used == max(shares.values())
    assert judged.numbers["governing"] == "flex-angle-a"
    assert judged.numbers["governing_family"] == "grade"
    assert judged.lines[-1].source == "the site's grade"


def test_per_plane_and_vector_rules_differ():
    found = at_offset(0.08, 0.001, horizontal=0.08)
    assert judge(found, Limits(BOTH, "per-plane")).verdict == IN_TOLERANCE
    assert judge(found, Limits(BOTH, "vector")).verdict == OUT_OF_TOLERANCE
    planes = [(line.quantity, line.plane) for line in judge(found, Limits(BOTH, "per-plane")).lines]
    assert planes == [(q, p) for q in ("offset", "angularity") for p in ("vertical", "horizontal")]


def test_the_joint_probability_counts_every_limit_once():
    # Independent planes and quantities multiply; the same limit twice adds nothing.
    found = at_offset(0.085, 0.01, horizontal=0.07, slope=0.4, u_slope=0.06)
    judged = judge(found, Limits(BOTH, "per-plane"))
    expected = math.prod(
        stats.norm.cdf((limit - mean) / u) - stats.norm.cdf((-limit - mean) / u)
        for mean, u, limit in ((0.085, 0.01, 0.1), (0.07, 0.01, 0.1), (0.4, 0.06, 0.5), (0.0, 0.06, 0.5))
    )
    assert judged.probability == pytest.approx(expected, abs=2e-4)
    twice = judge(found, Limits((*BOTH, Limit("offset", 0.1, "grade")), "per-plane"))
    assert twice.probability == pytest.approx(judged.probability, abs=2e-4)


def test_correlated_readings_are_judged_with_their_whole_covariance():
    covariance = np.diag([1e-4, 1e-6, 4e-2, 1e-6])
    covariance[0, 2] = covariance[2, 0] = -0.9 * 1e-2 * 0.2
    found = Misalignment.of([0.085, 0.0, 0.3, 0.0], covariance)
    draws = np.random.default_rng(5).multivariate_normal([0.085, 0.3], covariance[::2, ::2], 400_000)
    expected = np.mean((np.abs(draws[:, 0]) <= 0.1) & (np.abs(draws[:, 1]) <= 0.5))
    # 400,000 draws: standard deviation at most 0.0008.
    assert judge(found, Limits(BOTH, "per-plane")).probability == pytest.approx(expected, abs=0.0032)


def test_combined_misalignment_must_sum_to_one():
    limits = Limits((*BOTH, Limit("axial", 1.0)), combined=True)
    judged = judge(at_offset(0.04, 0.001, slope=0.2, u_slope=0.001), limits, axial=(0.3, 0.01))
    combined = judged.lines[-1]
    assert (combined.quantity, combined.share) == ("combined", pytest.approx(0.4 + 0.4 + 0.3))
    assert combined.u == pytest.approx(math.sqrt(0.01**2 + 0.002**2 + 0.01**2))
    assert (judged.verdict, judged.tolerance_used) == (OUT_OF_TOLERANCE, pytest.approx(1.1))
    assert all(line.verdict == IN_TOLERANCE for line in judged.lines[:-1])
    # The rule belongs to the data sheet: a grade's limits do not enter the sum.
    graded = Limits((*BOTH, Limit("offset", 0.05, "grade")), combined=True)
    found = judge(at_offset(0.04, 0.001, slope=0.2, u_slope=0.001), graded)
    assert [line.share for line in found.lines if line.quantity == "combined"] == [pytest.approx(0.8)]
    assert found.probability == pytest.approx(1.0)


def test_what_is_not_known_says_why():
    found = at_offset(0.01, 0.001)
    spacer = Limits((Limit("flex-angle", 0.5),))
    axial = Limits((*BOTH, Limit("axial", 1.0)))
    half = Misalignment.of(
        [0.0, math.nan, 0.0, math.nan], np.where(np.eye(4, dtype=bool)[[0, 0, 2, 2]], 1e-6, math.nan)
    )
    cases = {
        "no-limits": judge(found, None),
        "closure-refused": judge(found, OFFSET, closure_refused=True),
        "flex-planes-missing": judge(found, spacer),
        "axial-missing": judge(found, axial),
        "plane-missing": judge(half, OFFSET),
    }
    for code, judged in cases.items():
        assert (judged.verdict, judged.reason_code) == (NOT_KNOWN, code)
        assert (judged.tolerance_used, judged.probability) == (None, None)
        assert judged.reason.endswith(".")
    assert judge(found, Limits(())).reason_code == "no-limits"
    assert cases["closure-refused"].lines[0].share == pytest.approx(0.1)
    assert cases["closure-refused"].lines[0].verdict == NOT_KNOWN


def test_the_plane_that_was_read_is_still_shown_when_the_other_is_missing():
    judged = judge(vertical_only(0.05, 0.1), Limits(BOTH, "per-plane"))
    assert judged.verdict == NOT_KNOWN
    assert "horizontal" in judged.reason
    assert "3 and 9" in judged.reason
    assert [line.share for line in judged.lines] == [pytest.approx(0.5), None, pytest.approx(0.2), None]


def test_a_gap_nobody_measured_cannot_save_what_is_out_already():
    judged = judge(at_offset(0.2, 0.001), Limits((*BOTH, Limit("axial", 1.0))))
    assert (judged.verdict, judged.reason_code) == (OUT_OF_TOLERANCE, "beyond")


def test_too_close_to_call_says_what_would_decide():
    near = judge(at_offset(0.09, 0.01), OFFSET)
    # 0.01 mm from the limit, one standard deviation: needs 1.645 times finer, or the mean of three.
    assert near.needs == ("the mean of 3 such surveys could decide", "an instrument 1.6 times finer could decide")
    assert all(need in near.reason for need in near.needs)
    on_it = judge(at_offset(0.1, 0.01), OFFSET)
    assert on_it.needs == ("the value lies on the limit, so moving the machine settles it sooner than measuring again",)
    angles = (-45.0, -15.0, 15.0, 45.0)
    rim = ReadingSet("rim", angles, (0.06, 0.09, 0.09, 0.06), carried_by="stationary")
    face = ReadingSet("face", (0.0, 90.0, 180.0, 270.0), (0.05, -0.05, 0.05, -0.05), swing_radius_mm=80.0)
    solution = solve([rim, face])
    needs = judge(solution.misalignment, Limits((Limit("offset", 0.15),)), solution=solution).needs
    assert needs[0] == "turn the shafts through a full turn"
    assert needs[1] == "repeat the readings, they scatter more than their stated uncertainty"


@settings(max_examples=50, derandomize=True, deadline=None, database=None)
@given(
    v=st.floats(-0.15, 0.15, **FINITE),
    h=st.floats(-0.15, 0.15, **FINITE),
    u=st.floats(1e-4, 0.08, **FINITE),
    confidence=st.sampled_from([0.8, 0.95, 0.99]),
)
def test_a_whisker_crosses_the_limit_exactly_when_the_line_is_undecided(v, h, u, confidence):
    line = judge(at_offset(v, u, horizontal=h), OFFSET, confidence=confidence).lines[0]
    assert line.share is not None
    assert line.share_u is not None
    crosses = abs(1.0 - line.share) < line.share_u - 1e-6
    stays_clear = abs(1.0 - line.share) > line.share_u + 1e-6
    if line.verdict == TOO_CLOSE:
        assert not stays_clear
    elif (line.share <= 1.0 and line.verdict == IN_TOLERANCE) or (
        line.share > 1.0 and line.verdict == OUT_OF_TOLERANCE
    ):
        assert not crosses


@settings(max_examples=50, derandomize=True, deadline=None, database=None)
@given(
    v=st.floats(-0.12, 0.12, **FINITE),
    s=st.floats(-0.6, 0.6, **FINITE),
    grow=st.floats(1.05, 3.0, **FINITE),
)
def test_wider_limits_never_lower_the_probability(v, s, grow):
    found = at_offset(v, 0.02, slope=s, u_slope=0.1)
    narrow = judge(found, Limits(BOTH)).probability
    wide = judge(found, Limits((Limit("offset", 0.1 * grow), Limit("angularity", 0.5 * grow)))).probability
    assert narrow is not None
    assert wide is not None
    assert wide >= narrow - 1e-12


def test_without_uncertainty_the_probability_is_nought_or_one():
    limits = Limits((*BOTH, Limit("axial", 1.0)), combined=True)
    assert judge(at_offset(0.05, 0.0, u_slope=0.0), limits, axial=(0.1, 0.0)).probability == 1.0
    assert judge(at_offset(0.11, 0.0, u_slope=0.0), limits, axial=(0.1, 0.0)).probability == 0.0
    assert judge(at_offset(0.1, 0.0, u_slope=0.0), OFFSET).verdict == IN_TOLERANCE
    # One exact figure among uncertain ones decides alone when it is out, and adds nothing when it is in.
    limits = Limits((*BOTH, Limit("axial", 1.0)))
    uncertain = at_offset(0.09, 0.01)
    assert judge(uncertain, limits, axial=(1.1, 0.0)).probability == 0.0
    assert judge(uncertain, limits, axial=(0.9, 0.0)).probability == pytest.approx(
        judge(uncertain, Limits(BOTH)).probability, abs=2e-4
    )


def test_limits_and_rules_that_mean_nothing_are_refused():
    found = at_offset(0.0, 0.01)
    refused = {
        "limits.offset": lambda: judge(found, Limits((Limit("offset", 0.0),))),
        "limits.speed": lambda: judge(found, Limits((Limit("speed", 1.0),))),
        "limits.rule": lambda: judge(found, Limits(BOTH, "either")),
        "confidence": lambda: judge(found, OFFSET, confidence=0.5),
        "decision": lambda: judge(found, OFFSET, decision="lenient"),
        "axial": lambda: judge(found, Limits((Limit("axial", 1.0),)), axial=(math.nan, 0.1)),
        "axial.gaps": lambda: gap_in_place([]),
        "axial.gaps.1": lambda: gap_in_place([3.0, math.nan]),
        "axial.rotor_from_place": lambda: gap_in_place([3.0], math.inf),
        "diameter": lambda: slope_from_gap(0.1, 0.0),
    }
    for field, call in refused.items():
        with pytest.raises(ConformityError) as refusal:
            call()
        assert refusal.value.field == field


def test_gaps_average_and_add_the_rotors_distance():
    assert gap_in_place([3.0, 3.1, 3.2, 3.1], 0.4, u_mm=0.02) == (pytest.approx(3.5), pytest.approx(0.01))


def test_angles_come_in_degrees_slopes_and_gaps():
    assert degrees_from_slope(slope_from_degrees(0.25)) == pytest.approx(0.25)
    assert slope_from_gap(0.1, 200.0) == pytest.approx(0.5)


def test_a_probability_never_reads_more_certain_than_it_is():
    shown = {0.94999: "94.9 %", 0.95: "95.0 %", 0.9995: "more than 99.9 %", 0.0004: "less than 0.1 %"}
    assert {p: percent(p) for p in shown} == shown
