"""Re-checks of torque: what may be checked, what a reading says with its uncertainty, and the trend over visits."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from couplings.engineering.conformity import IN_TOLERANCE, NOT_KNOWN, OUT_OF_TOLERANCE, TOO_CLOSE
from couplings.engineering.threads import FastenerError
from couplings.engineering.torque_tools import TorqueTool, calibration_due, class_limit, deviation, within_class
from couplings.engineering.torque_trend import TorqueVisit, torque_trend
from couplings.engineering.torquecheck import BY_FIRST, RECHECK_RULES, Reading, check_joint, recheck_of, retained

TOOL = TorqueTool(0.04)
SPECIFIED = 150.0


def read(*torques, **more):
    readings = [Reading(place, torque) for place, torque in enumerate(torques, start=1)]
    return check_joint(SPECIFIED, len(torques), readings, more.pop("tool", TOOL), **more)


def verdicts(joint):
    return [one.verdict for one in joint.positions]


def test_readings_above_the_data_sheet_are_what_friction_at_rest_gives():
    joint = read(162, 158, 155, 171)
    assert joint.verdict == IN_TOLERANCE
    assert joint.below == ()
    assert joint.mean_nm == pytest.approx(161.5)
    assert joint.lowest.position == 3


def test_a_reading_far_below_is_a_real_loss_and_one_such_screw_is_enough():
    joint = read(162, 120, 155, 171)
    assert verdicts(joint) == [IN_TOLERANCE, OUT_OF_TOLERANCE, IN_TOLERANCE, IN_TOLERANCE]
    assert joint.verdict == OUT_OF_TOLERANCE
    assert joint.below == (2,)
    assert "position 2" in joint.reason


def test_near_the_limit_the_wrench_cannot_tell_and_a_better_one_can():
    assert read(137).verdict == TOO_CLOSE
    assert read(137, tool=TorqueTool(0.005)).verdict == IN_TOLERANCE
    assert read(133, tool=TorqueTool(0.005)).verdict == OUT_OF_TOLERANCE


def test_the_own_first_recheck_shows_a_loss_that_the_data_sheet_hides():
    hidden = read(150, first_nm={1: 195.0})
    assert read(150).verdict == IN_TOLERANCE
    assert hidden.verdict == OUT_OF_TOLERANCE
    assert hidden.positions[0].compared[1].against == BY_FIRST
    assert "23 % below its own first re-check" in hidden.positions[0].reason


def test_a_screw_found_turned_out_is_a_new_installation_whatever_it_reads():
    joint = check_joint(SPECIFIED, 2, [Reading(1, 160), Reading(2, turned_out=True)], TOOL)
    assert joint.verdict == OUT_OF_TOLERANCE
    assert "new installation" in joint.positions[1].reason
    assert joint.mean_nm == 160  # what was turned out is no reading


def test_positions_not_read_are_not_known_and_named():
    joint = check_joint(SPECIFIED, 4, [Reading(2, 160)], TOOL)
    assert joint.unread == (1, 3, 4)
    assert joint.verdict == NOT_KNOWN


def test_a_click_wrench_is_one_fact_for_the_pattern_with_exceptions():
    held = check_joint(SPECIFIED, 16, [], TOOL, set_nm=SPECIFIED)
    assert verdicts(held) == [IN_TOLERANCE] * 16
    assert held.mean_nm is None  # nothing was read, so there is nothing to average or follow
    moved = check_joint(SPECIFIED, 16, [Reading(5, moved=True)], TOOL, set_nm=SPECIFIED)
    assert moved.verdict == NOT_KNOWN
    assert "unknown size" in moved.positions[4].reason


def test_a_setting_too_low_tells_nothing_of_what_held_and_condemns_what_moved():
    low = check_joint(SPECIFIED, 2, [Reading(2, moved=True)], TOOL, set_nm=100)
    assert verdicts(low) == [NOT_KNOWN, OUT_OF_TOLERANCE]


@pytest.mark.parametrize("rule", RECHECK_RULES, ids=lambda rule: rule.feature)
def test_what_a_recheck_would_spoil_is_not_judged(rule):
    joint = read(160, 160, features=[rule.feature], prevailing_nm=5.0 if rule.allowed == "qualified" else 0.0)
    assert joint.recheck.allowed == rule.allowed
    if rule.allowed == "not-allowed":
        assert verdicts(joint) == [NOT_KNOWN] * 2
        assert joint.reason == rule.how
        assert joint.mean_nm is None
    else:
        assert joint.verdict == IN_TOLERANCE
    assert rule.mark


def test_one_thing_that_forbids_outweighs_one_that_qualifies():
    assert recheck_of([]).allowed == "allowed"
    assert recheck_of(["prevailing-torque", "single-use"]).allowed == "not-allowed"
    with pytest.raises(FastenerError):
        recheck_of(["bent"])


def test_a_nuts_own_torque_is_taken_off_before_comparing():
    with_nut = read(165, features=["prevailing-torque"], prevailing_nm=40)
    assert with_nut.positions[0].compared[0].ratio == pytest.approx(125 / 150)
    assert with_nut.verdict == OUT_OF_TOLERANCE


@given(st.floats(50, 300), st.floats(0.01, 0.1), st.floats(0.02, 0.5))
def test_the_probability_is_that_of_many_repetitions(torque, limit, allowed_loss):
    """Monte Carlo: true torques drawn about the reading, counted where the loss is within what is allowed."""
    tool = TorqueTool(limit)
    joint = check_joint(SPECIFIED, 1, [Reading(1, torque)], tool, allowed_loss=allowed_loss)
    (line,) = joint.positions[0].compared
    draws = np.random.default_rng(7).normal(torque, tool.standard_uncertainty_nm(torque), 40_000)
    assert line.probability == pytest.approx(np.mean(draws >= (1 - allowed_loss) * SPECIFIED), abs=0.012)
    # The whisker crosses the limit exactly where nothing is decided.
    crosses = abs(line.share - 1) < line.reach
    assert crosses == (line.verdict == TOO_CLOSE)


@given(st.floats(60, 200), st.floats(60, 200), st.floats(0.5, 2.0))
def test_units_do_not_matter_only_ratios(torque, first, factor):
    one = check_joint(SPECIFIED, 1, [Reading(1, torque)], TOOL, first_nm={1: first})
    other = check_joint(SPECIFIED * factor, 1, [Reading(1, torque * factor)], TOOL, first_nm={1: first * factor})
    for ours, theirs in zip(one.positions[0].compared, other.positions[0].compared, strict=True):
        assert ours.share == pytest.approx(theirs.share, abs=1e-9)
        assert ours.probability == pytest.approx(theirs.probability, abs=1e-9)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"positions": 0}, "positions"),
        ({"specified_nm": math.nan}, "torque"),
        ({"readings": [Reading(1, 150), Reading(1, 151)]}, "readings.1.position"),
        ({"readings": [Reading(3, 150)]}, "readings.0.position"),
        ({"readings": [Reading(1, -1.0)]}, "readings.0.value"),
        ({"allowed_loss": 0.0}, "allowed_loss"),
        ({"confidence": 0.5}, "confidence"),
        ({"prevailing_nm": -1.0}, "prevailing_torque"),
        ({"prevailing_nm": 160.0}, "readings.0.value"),
        ({"first_nm": {1: 10.0}, "prevailing_nm": 12.0}, "first_recheck.0.value"),
        ({"set_nm": 0.0}, "set_torque"),
    ],
)
def test_what_cannot_be_meant_is_refused(change, field):
    asked = {"specified_nm": SPECIFIED, "positions": 2, "readings": [Reading(1, 150)], "tool": TOOL} | change
    with pytest.raises(FastenerError) as refused:
        check_joint(**asked)
    assert refused.value.field == field


def test_a_tool_is_as_sure_as_its_class_and_scale():
    # Even distributions: limit/sqrt(3) and step/sqrt(12) (JCGM 100, 4.3.7).
    assert TorqueTool(0.04, 1.0).standard_uncertainty_nm(100) == pytest.approx(math.hypot(4 / 3**0.5, 1 / 12**0.5))
    assert (class_limit(10), class_limit(10.1)) == (0.06, 0.04)
    assert calibration_due(3, 10, interval_months=3)
    with pytest.raises(FastenerError):
        calibration_due(-1, 0)
    with pytest.raises(FastenerError):
        TorqueTool(0.0)


def test_a_deviation_counts_from_the_reference_and_the_limit_itself_is_inside():
    # 100 against 96.0 is 4.17 % though the difference is 4.0 (reference pack, section 9).
    assert deviation(100, 96.0) == pytest.approx(0.0417, abs=5e-5)
    assert not within_class(100, 96.0, 0.04)
    assert within_class(104, 100, 0.04)
    assert retained(129, 150) == 0.86


def test_a_joint_that_loses_evenly_has_that_loss_a_year():
    visits = [TorqueVisit(365.25 * year, "read", 165 - 3.0 * year) for year in range(4)]
    trend = torque_trend(SPECIFIED, visits, TOOL)
    assert trend.per_year == pytest.approx(-0.02, rel=0.02)
    assert (trend.visits, trend.left_out) == (4, 0)


@given(st.lists(st.floats(100, 200), min_size=3, max_size=6), st.floats(0.005, 0.06))
def test_the_line_is_that_of_least_squares(means, limit):
    """Independent route: numpy's polynomial fit with the same weights."""
    tool = TorqueTool(limit)
    days = [200.0 * place for place in range(len(means))]
    trend = torque_trend(
        SPECIFIED, [TorqueVisit(*row, mean) for row, mean in zip(((d, "read") for d in days), means, strict=True)], tool
    )
    weights = [SPECIFIED / tool.standard_uncertainty_nm(mean) for mean in means]
    (slope, _level), covariance = np.polyfit(days, np.array(means) / SPECIFIED, 1, w=weights, cov="unscaled")
    assert trend.per_year == pytest.approx(slope * 365.25, abs=1e-9)
    assert trend.u_per_year >= math.sqrt(covariance[0, 0]) * 365.25 * (1 - 1e-9)


def test_only_what_was_read_since_it_was_tightened_anew_makes_the_trend():
    old = [TorqueVisit(-900, "read", 190), TorqueVisit(-500, "installed"), TorqueVisit(-450, "set")]
    new = [TorqueVisit(-400, "read", 165), TorqueVisit(0, "read", 164)]
    trend = torque_trend(SPECIFIED, [*old, *new], TOOL)
    assert trend.visits == 2
    assert trend.left_out == 3
    assert not trend.tells  # one newton metre is far inside what the wrench may be off
    assert torque_trend(SPECIFIED, old, TOOL) is None
    assert torque_trend(SPECIFIED, [new[0], new[0]], TOOL) is None  # one day makes no line


def test_a_trend_needs_days_and_readings():
    for bad in (TorqueVisit(math.nan, "read", 150), TorqueVisit(0, "read", None), TorqueVisit(0, "read", 0.0)):
        with pytest.raises(FastenerError):
            torque_trend(SPECIFIED, [bad], TOOL)
