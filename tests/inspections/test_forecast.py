"""First passage, forecasts and dates: against closed forms, brute force, and what a person would draw with a ruler."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize

from couplings.engineering.alignment import Misalignment
from couplings.engineering.conformity import Limit, Limits, judge
from inspections.forecasting.envelope import Envelope, envelope, round_limits, used
from inspections.forecasting.feet import BOTH, ONE, at_planes, foot_moves
from inspections.forecasting.forecast import (
    chance_by,
    extrapolated,
    straight_line,
    straight_rates,
    tolerance_used,
    within_risk,
)
from inspections.forecasting.legs import ForecastError, Legs, Standing
from inspections.forecasting.parameters import FLAT, GroupFit, at_couplings
from inspections.forecasting.passage import draws, exceedance, first_passage
from inspections.forecasting.posterior import Belief, ahead, fleet_beliefs, interval

SHORT = Limits((Limit("offset", 0.06), Limit("angularity", 0.5)))
SPACER = Limits((Limit("flex-angle", 0.5, "grade"),))
PLANES = (-150.0, 150.0)


def belief(position, u, rate, rate_u, q, *, jumps=0.0, jump=0.0, together=0.0, n=1):
    def four(values):
        return np.repeat(np.broadcast_to(np.asarray(values, dtype=float), (4,))[:, None], n, axis=1)

    return Belief(
        four(position), four(np.square(u)), four(rate), four(np.square(rate_u)), four(together), four(0.5), four(q),
        four(np.square(jump)), np.full(n, float(jumps)), np.ones(n, dtype=int), np.ones(n),
    )  # fmt: skip


def brute(one, limits, horizon, times, paths=10_000, steps=400, seed=1):
    """Plain simulation in small steps, at most one jump, nothing shared with the code under test."""
    rng = np.random.default_rng(seed)
    position, rate, q = one.position[:, 0], one.rate[:, 0], one.diffusion[:, 0]
    x = position + rng.normal(size=(paths, 4)) * np.sqrt(one.position_variance[:, 0])
    v = rate + rng.normal(size=(paths, 4)) * np.sqrt(one.rate_variance[:, 0])
    first = rng.exponential(1 / max(one.jumps_per_year[0], 1e-12), paths)
    size = rng.normal(size=(paths, 4)) * np.sqrt(one.jump_variance[:, 0])
    dt = horizon / steps
    out = used(limits, x[None])[0] > 1
    found = []
    for k in range(1, steps + 1):
        x = x + v * dt + rng.normal(size=(paths, 4)) * np.sqrt(q * dt)
        x = x + size * ((first > (k - 1) * dt) & (first <= k * dt))[:, None]
        out = out | (used(limits, x[None])[0] > 1)
        if any(abs(k * dt - t) < dt / 2 for t in times):
            found.append(out.mean())
    return found


def got(one, limits, horizon, times, paths=2048):
    at, chance = exceedance(one, limits, np.array([horizon]), draws(paths))
    assert (np.diff(chance[0]) >= 0).all()
    return [float(chance_by(at, chance, np.array([t]))[0]) for t in times]


def test_one_component_agrees_with_the_closed_form():
    one = belief([0.01, 0, 0, 0], 0.0, [0.02, 0, 0, 0], [0.01, 0, 0, 0], [1.4e-4, 0, 0, 0])
    # A limit on the vertical offset alone; what drifts away first meets it on the other side far later.
    limits = Envelope(np.array([[[1 / 0.06, 0, 0, 0]]]), np.zeros((1, 1), dtype=int))
    times = [0.5, 1.0, 2.0, 3.0]
    expected = first_passage(0.05, 0.02, 1e-4, 1.4e-4, np.array(times))
    assert got(one, limits, 3.0, times) == pytest.approx(expected, abs=0.012)


@pytest.mark.long
@pytest.mark.parametrize(
    ("one", "limits"),
    [
        (belief([0.01, -0.01, 0.1, 0.0], 0.006, [0.01, 0.0, 0.03, 0.02], 0.01, [2e-4, 1e-4, 3e-3, 2e-3]), SHORT),
        (belief([0.02, 0.0, 0.1, 0.1], 0.006, 0.01, 0.02, 3e-4, jumps=0.3, jump=0.05), SHORT),
        (belief([0.02, 0.01, 0.1, 0.0], 0.006, [0.01, 0.0, 0.05, 0.0], 0.02, [2e-4, 1e-4, 2e-3, 2e-3]), SPACER),
        (belief([0.02, 0.01, 0.1, 0.0], 0.006, 0.015, 0.02, 2e-4), Limits(SHORT.limits, rule="per-plane")),
        (
            belief([0.02, 0.0, 0.1, 0.0], 0.006, 0.01, 0.02, [1e-4, 1e-4, 2e-3, 2e-3]),
            Limits(SHORT.limits, combined=True),
        ),
    ],
    ids=["two vectors", "jumps", "flex planes", "per plane", "sum of ratios"],
)
def test_limits_of_every_form_are_left_as_often_as_brute_force_says(one, limits):
    held = envelope([limits], [PLANES])
    times = [0.5, 1.0, 2.0]
    # 10,000 paths have a standard deviation of 0.005 at most; steps of 1/200 year miss some touches, and the sum of
    # ratios has no bridge: it is looked at on the steps only.
    allowed = 0.04 if limits.combined else 0.02
    assert got(one, held, 2.0, times) == pytest.approx(brute(one, held, 2.0, times), abs=allowed)


def test_the_same_question_gets_the_same_answer_alone_or_in_a_fleet():
    one = belief([0.02, 0, 0.1, 0], 0.006, 0.01, 0.02, 2e-4, jumps=0.02, jump=0.04)
    many = belief([0.02, 0, 0.1, 0], 0.006, 0.01, 0.02, 2e-4, jumps=0.02, jump=0.04, n=900)
    _, alone = exceedance(one, envelope([SHORT], [None]), np.array([2.0]), draws())
    _, fleet = exceedance(many, envelope([SHORT] * 900, [None] * 900), np.full(900, 2.0), draws())
    assert np.abs(fleet - alone).max() < 1e-6


def test_tolerance_used_is_the_verdicts():
    rng = np.random.default_rng(1)
    forms = [
        Limits((*SHORT.limits, Limit("axial", 1.0), Limit("flex-angle-b", 0.4, "grade"))),
        Limits(SHORT.limits, rule="per-plane"),
        Limits(SHORT.limits, combined=True),
        SPACER,
    ]
    held = envelope(forms, [PLANES] * 4)
    for _ in range(20):
        position = rng.normal(size=4) * [0.05, 0.05, 0.4, 0.4]
        expected = [
            judge(Misalignment.of(position, np.eye(4) * 1e-6), limits, PLANES, (0.0, 1e-3)).tolerance_used
            for limits in forms
        ]
        assert used(held, np.tile(position, (4, 1))) == pytest.approx(expected)


def test_without_a_limit_or_a_position_nothing_is_claimed():
    held = envelope([None, SHORT], [None, None])
    two = belief([0.02, 0, np.nan, 0], 0.006, 0.01, 0.02, 2e-4, n=2)
    _, chance = exceedance(two, held, np.ones(2), draws())
    assert np.isnan(chance).all()
    assert np.isnan(tolerance_used(two, held, np.ones(2), draws())).all()
    years, code = within_risk(np.zeros((2, 21)), chance, 0.02, 0.1, 5.0)
    assert np.isnan(years).all()
    assert code.tolist() == ["unknown", "unknown"]


def test_a_horizontal_plane_nobody_read_does_not_matter_to_a_limit_on_the_vertical_one():
    one = belief([0.02, np.nan, 0.1, np.nan], 0.006, 0.01, 0.02, 2e-4)
    vertical = Envelope(np.array([[[1 / 0.06, 0, 0, 0]]]), np.zeros((1, 1), dtype=int))
    assert np.isfinite(exceedance(one, vertical, np.ones(1), draws())[1]).all()


def test_the_interval_of_a_component_is_that_of_the_mixture():
    one = belief(0.01, 0.006, 0.01, 0.02, 2e-4, jumps=0.2, jump=0.05, together=1e-5)
    years = np.array([1.5])
    low, high = interval(one, years, 3.6e-5)
    mean, variance = ahead(one, years, 3.6e-5)
    assert variance[0, 0] == pytest.approx(3.6e-5 + 2 * 1.5 * 1e-5 + 1.5**2 * 4e-4 + 1.5 * 2e-4 + 3.6e-5)
    rng = np.random.default_rng(2)
    drawn = mean[0, 0] + np.sqrt(variance[0, 0]) * rng.normal(size=400_000)
    drawn += 0.05 * rng.normal(size=400_000) * (rng.random(400_000) < 1 - np.exp(-0.3))
    assert ((drawn > low[0, 0]) & (drawn < high[0, 0])).mean() == pytest.approx(0.9, abs=0.003)


def test_tolerance_used_has_the_median_and_the_shortest_interval_of_plain_draws():
    one = belief([0.02, -0.01, 0.1, 0.0], 0.006, 0.01, 0.02, 2e-4, jumps=0.2, jump=0.05)
    held = envelope([SHORT], [None])
    found = tolerance_used(one, held, np.array([1.5]), draws(2048), 3.6e-5)[0]
    rng = np.random.default_rng(4)
    mean, variance = ahead(one, np.array([1.5]), 3.6e-5)
    drawn = mean[:, 0] + np.sqrt(variance[:, 0]) * rng.normal(size=(200_000, 4))
    drawn += 0.05 * rng.normal(size=(200_000, 4)) * (rng.random((200_000, 1)) < 1 - np.exp(-0.3))
    values = np.sort(used(held, drawn[None])[0])
    assert found[0] == pytest.approx(np.median(values), rel=0.03)
    # The shortest of all intervals that hold nine tenths of the plain draws; it is flat about its ends.
    held_by = len(values) * 9 // 10
    widths = values[held_by:] - values[:-held_by]
    assert found[2] - found[1] == pytest.approx(widths.min(), rel=0.03)
    assert ((values >= found[1]) & (values <= found[2])).mean() == pytest.approx(0.9, abs=0.01)
    assert found[2] < np.quantile(values, 0.95)


def test_the_date_is_the_last_within_the_risk_and_inside_the_sites_bounds():
    times = np.tile([0.0, 1.0, 2.0, 3.0], (5, 1))
    chance = np.array([[0, 0.01, 0.03, 0.2], [0, 0, 0, 0.001], [0, 0.5, 1, 1], [0.3, 0.5, 1, 1], [0, 0.01, 0.03, 0.2]])
    years, code = within_risk(times, chance, [0.02, 0.02, 0.02, 0.02, 0.1], 0.25, 2.6)
    assert years == pytest.approx([1.5, 2.6, 0.25, 0.25, 2 + 0.07 / 0.17])
    assert code.tolist() == ["risk", "longest", "shortest", "shortest", "risk"]
    with pytest.raises(ForecastError):
        within_risk(times, chance, 0.0, 0.25, 2.6)
    with pytest.raises(ForecastError):
        within_risk(times, chance, 0.02, 3.0, 2.6)


def one_leg(move, years):
    n = len(years)
    zero = np.zeros((n, 4))
    return Legs(
        np.zeros(n, dtype=int), np.array(years) * 365.25, np.full(n, np.nan), zero, np.array(move, dtype=float), zero,
        zero, np.zeros(n, dtype=bool), zero, np.arange(n), np.arange(n),
    )  # fmt: skip


def test_the_straight_line_reaches_seventy_per_cent_where_a_ruler_says():
    legs = one_leg([[0.01, 0, 0, 0], [0.04, 0, 0, 0]], [1.0, 2.0])
    rates = straight_rates(legs, np.array([1.0, 2.0]), 2)
    assert rates[0, 0] == pytest.approx((0.01 + 0.08) / 5)
    assert np.isnan(rates[:, 1]).all()
    limits = round_limits(np.array([0.06]), np.array([0.5]))
    position = np.array([[0.0], [0.02], [0.0], [0.0]])
    expected = optimize.brentq(lambda t: np.hypot(0.018 * t, 0.02) - 0.7 * 0.06, 0, 10)
    found = straight_line(position, rates[:, :1], limits)
    assert found[0] == pytest.approx(expected, abs=1e-6)
    assert straight_line(position, np.zeros((4, 1)), limits).tolist() == [np.inf]
    assert straight_line(position + 0.1, np.zeros((4, 1)), limits).tolist() == [0.0]
    assert np.isnan(straight_line(position, rates[:, 1:], limits)).all()


def test_past_twice_the_longest_leg_is_extrapolation():
    assert extrapolated(belief(0, 0, 0, 0, 0), np.array([2.1])).tolist() == [True]
    assert extrapolated(belief(0, 0, 0, 0, 0), np.array([1.9])).tolist() == [False]


DRIVER, DRIVEN = (("inboard", 200.0), ("outboard", 700.0)), (("inboard", -250.0), ("outboard", -900.0))


@pytest.mark.parametrize(
    ("machine", "lifted"),
    [
        ("driver", (0.1, 0.0)),
        ("driver", (0.0, 0.1)),
        ("driven", (0.1, 0.0)),
        ("driven", (0.0, -0.2)),
        ("driver", (0.1, 0.1)),
    ],
)
def test_the_feet_that_moved_are_found_from_the_line_they_make(machine, lifted):
    """A line laid through the lifted feet, written out here, is what the survey sees."""
    planes = DRIVER if machine == "driver" else DRIVEN
    slope, offset = np.polyfit([x / 1000 for _name, x in planes], lifted, 1)
    sign = 1 if machine == "driver" else -1
    change = np.array([sign * offset, 0.0, sign * slope, 0.0])
    ways = [way for way in foot_moves(change, np.full(4, 1e-5), DRIVER, DRIVEN) if way.plane == "vertical"]
    exact = [way for way in ways if way.misfit < 1e-9]
    wanted = tuple(name for (name, _x), up in zip(planes, lifted, strict=True) if up)
    mine = [way for way in exact if way.machine == machine]
    assert [(way.feet, way.kind) for way in mine] == [(wanted, ONE if len(wanted) == 1 else BOTH)]
    assert mine[0].move == pytest.approx(max(lifted, key=abs))
    assert ways[0] in exact
    # Both feet of one machine up is both of the other down: said, not decided.
    assert len(exact) == (2 if len(wanted) == 2 else 1)
    assert max(way.misfit for way in ways) > 10


def test_horizontal_movement_and_planes_nobody_read():
    change = np.array([np.nan, 0.05, np.nan, 0.0])
    ways = foot_moves(change, np.full(4, 1e-5), DRIVER, ())
    assert {way.plane for way in ways} == {"horizontal"}
    assert ways[0].feet == ("inboard", "outboard")
    assert ways[0].move == pytest.approx(0.05)
    assert ways[0].u == pytest.approx(np.sqrt(1e-5))
    assert at_planes(np.array([0.1, 0.0, 0.2, -0.1]), DRIVER)[1] == pytest.approx(("outboard", 0.24, -0.07))


@pytest.mark.parametrize(
    ("driver", "driven", "field"),
    [
        (DRIVER[:1], DRIVEN, "driver.feet"),
        (DRIVER, DRIVER, "driven.feet.0.x"),
        ((DRIVER[0], DRIVER[0]), DRIVEN, "driver.feet.1.x"),
    ],
)
def test_feet_that_cannot_be_are_refused_by_field(driver, driven, field):
    with pytest.raises(ForecastError) as refused:
        foot_moves(np.zeros(4), np.ones(4), driver, driven)
    assert list(refused.value.errors) == [field]


def test_refusals_name_what_is_expected():
    for call in (
        lambda: first_passage(0.0, 1, 0, 1, 1),
        lambda: draws(100),
        lambda: envelope([SPACER], [None]),
        lambda: envelope([SPACER], []),
        lambda: interval(belief(0, 0, 0, 0, 0), np.ones(1), share=1.0),
        lambda: tolerance_used(belief(0, 0, 0, 0, 0), envelope([SHORT], [None]), np.ones(1), draws(), share=0.0),
    ):
        with pytest.raises(ForecastError):
            call()


def test_a_fresh_as_left_is_drawn_towards_the_target_unless_it_was_left_far_out():
    """Normal reading of a normal position: the weight is s^2 / (s^2 + r^2), by hand 1e-4 / (1e-4 + 0.25e-4) = 0.8."""
    fit = GroupFit((0.0,) * 4, (0.0,) * 4, (1e-4,) * 4, (1e-4,) * 4, 0.0, (0.0,) * 4, left_variance=(1e-4,) * 4)
    read = np.array([[0.01, -0.02, 0.0, 0.3], [0.01, -0.02, 0.0, 0.3]])
    standing = Standing(read, np.full((2, 4), 0.25e-4), np.zeros(2), np.zeros(2), np.zeros(2, dtype=bool))
    none = one_leg(np.zeros((0, 4)), [])
    found, _, _ = fleet_beliefs(none, standing, at_couplings([fit, replace(fit, left_variance=FLAT)], [0, 1]))
    assert found.position[:3, 0] == pytest.approx([0.008, -0.016, 0.0])
    assert found.position_variance[0, 0] == pytest.approx(0.2e-4)
    assert found.position[3, 0] == pytest.approx(0.3, rel=0.05)
    assert found.position[:, 1].tolist() == read[1].tolist()
    assert found.position_variance[:, 1].tolist() == [0.25e-4] * 4


def test_no_couplings_use_no_tolerance():
    assert used(round_limits(np.zeros(0), np.zeros(0)), np.zeros((0, 4))).shape == (0,)
