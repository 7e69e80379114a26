"""A train's moves in whole shims, and how sure they leave it: confirmed by trying every step, and by Monte Carlo."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from couplings.engineering.conformity import Limit, Limits
from couplings.engineering.trains import TrainError, coupling_left, residuals, train_moves
from couplings.engineering.trains_shims import rounded_moves
from couplings.engineering.trains_sure import enough, sure_moves
from tests.couplings.engineering.train_sketches import standing

FEET = [[0, 500], [900, 1200], [1600, 2400]]
CENTRES = (700.0, 1400.0)
SHORT = Limits((Limit("offset", 0.05), Limit("angularity", 0.5)))
TIGHT = Limits((Limit("offset", 0.03), Limit("angularity", 0.05)))


def train(vertical, limits=SHORT, **more):
    return standing(FEET, CENTRES, vertical, [[0, 0]] * 3, limits=limits, **more)


def sure(one, u_mm=0.005, u_mrad=0.03):
    spread = tuple(tuple((u_mm**2 if n < 2 else u_mrad**2) if n == m else 0.0 for m in range(4)) for n in range(4))
    return replace(one, couplings=tuple(replace(each, covariance=spread) for each in one.couplings))


def within(one, ups, share):
    """Whether these moves of the outermost feet keep every coupling: the record's own frame, no programme in it."""
    moves = [[(up, 0.0) for up in pair] for pair in ups]
    left = [coupling_left(c, d) for c, d in zip(one.couplings, residuals(one, moves), strict=True)]
    return all(each.used <= share + 1e-6 for each in left)


def test_the_nearest_steps_are_taken_where_they_keep_every_coupling():
    one = train([[0, 0], [0.31, 0.31], [0, 0]], Limits((Limit("offset", 0.05),)), fixed=(0, 2))
    found = train_moves(one)
    whole = rounded_moves(one, found, 0.09)  # 0.26 mm down is 0.27 mm in shims
    assert not whole.nearest_broke
    assert not whole.searched
    for foot, move in zip(whole.feet, found.moves, strict=True):
        assert foot.up_mm == pytest.approx(-0.27 if foot.machine == 1 else 0)
        assert abs(foot.up_mm - move.up_mm) <= 0.045 + 1e-9


def test_where_the_nearest_steps_break_a_limit_others_are_found():
    """Every pair of steps of the two machines that move is tried by hand: the search finds one exactly where one is."""
    rng = np.random.default_rng(4711)
    print()  # noqa: T201
    searched = lost = 0
    for _ in range(16):
        one = train([[0, 0], *rng.uniform(-0.4, 0.4, (2, 2)).tolist()], TIGHT, fixed=(0,))
        found = train_moves(one)
        whole = rounded_moves(one, found, 0.05)
        ends = [[(m.up_mm) for m in found.moves if m.machine == place] for place in range(3)]
        if not whole.nearest_broke:
            assert all(left.used <= 1 + 1e-6 for left in whole.after)
            continue
        around = range(-2, 3)
        steps = [round(up / 0.05) for pair in ends[1:] for up in pair]
        by_hand = any(
            within(one, [(0, 0), (0.05 * (steps[0] + a), 0.05 * (steps[1] + b)),
                         (0.05 * (steps[2] + c), 0.05 * (steps[3] + d))], 1.0)
            for a, b, c, d in itertools.product(around, repeat=4)
        )  # fmt: skip
        searched += whole.searched
        lost += bool(whole.broken)
        if by_hand:
            assert whole.searched, "steps that keep every coupling were there and not found"
        if whole.searched:
            ups = [[foot.up_mm for foot in whole.feet if foot.machine == place] for place in range(3)]
            assert within(one, ups, 1.0)
    print(f"nearest steps broke a limit and others were found {searched} times, none were there {lost} times")  # noqa: T201
    assert searched > 3


def test_where_no_whole_steps_keep_every_coupling_that_is_said():
    one = train(
        [[0, 0], [0.12, 0.1], [0, 0]], Limits((Limit("offset", 0.001), Limit("angularity", 0.001))), fixed=(0, 2)
    )
    whole = rounded_moves(one, train_moves(one), 0.5)
    assert whole.broken
    assert whole.broken == whole.nearest_broke
    assert not whole.searched


def test_no_more_is_taken_out_than_lies_there():
    bounds = [[{}, {}], [{"down_mm": 0.17}, {"down_mm": 0.17}], [{}, {}]]
    one = train([[0, 0], [0.2, 0.2], [0, 0]], Limits((Limit("offset", 0.04),)), bounds=bounds, fixed=(0, 2))
    whole = rounded_moves(one, train_moves(one), 0.05)
    assert min(foot.up_mm for foot in whole.feet) >= -0.17 - 1e-9


def test_a_middle_foot_plane_says_how_far_it_stands_off():
    one = standing([[0, 250, 500], [900, 1200]], (700.0,), [[0.1, 0.2, 0.3], [0, 0]], limits=SHORT, fixed=(1,))
    whole = rounded_moves(one, train_moves(one, share=0.1), 0.1)
    assert all(abs(foot.stands_off_mm) <= 0.05 + 1e-9 for foot in whole.feet)


@pytest.mark.parametrize("stock", [0, -0.1, math.nan, math.inf, 0.0001])
def test_a_step_that_cannot_be_is_refused(stock):
    one = train([[0, 0], [0.3, 0.3], [0, 0]])
    with pytest.raises(TrainError) as refused:
        rounded_moves(one, train_moves(one), stock)
    assert list(refused.value.errors) == ["shim_stock"]


def test_nothing_is_rounded_where_there_are_no_moves():
    one = train([[0, 0], [0.3, 0.3], [0, 0]], fixed=(0, 1, 2))
    with pytest.raises(TrainError):
        rounded_moves(one, train_moves(one), 0.05)


def test_the_probability_after_the_moves_is_that_of_many_draws():
    one = sure(train([[0, 0], [0.31, 0.28], [0.1, -0.1]]))
    found = train_moves(one, share=0.9)
    rng = np.random.default_rng(5)
    print()  # noqa: T201
    for coupling, left in zip(one.couplings, found.after, strict=True):
        centre = np.array(left.misalignment) - np.array(coupling.target)
        draws = rng.multivariate_normal(centre, np.array(coupling.covariance), 400_000)
        inside = (np.hypot(draws[:, 0], draws[:, 1]) <= 0.05) & (np.hypot(draws[:, 2], draws[:, 3]) <= 0.5)
        print(f"probability {left.probability:.4f}, of draws {inside.mean():.4f}")  # noqa: T201
        assert left.probability == pytest.approx(inside.mean(), abs=4e-3)


def test_asked_to_be_sure_less_of_the_limits_is_used_and_no_less_than_needed():
    one = sure(train([[0, 0], [0.31, 0.28], [0.1, -0.1]]))
    plain = train_moves(one)
    assert not enough(plain, 0.95)
    found = sure_moves(one, "least-total", 1.0, 0.95)
    assert enough(found, 0.95)
    assert 0.3 < found.share < 1
    assert not enough(train_moves(one, share=found.share + 0.01), 0.95), "a little more would not have done"
    assert found.value > plain.value


def test_readings_too_uncertain_for_any_moves_say_what_they_reach():
    one = sure(train([[0, 0], [0.31, 0.28], [0, 0]]), u_mm=0.2)
    found = sure_moves(one, "least-total", 1.0, 0.95)
    assert found.feasible
    assert not enough(found, 0.95)
    assert found.share == 0


def test_bounds_that_leave_no_room_for_being_sure_give_what_they_allow():
    bounds = [[{}, {}], [{"down_mm": 0.265}, {"down_mm": 0.265}], [{}, {}]]
    one = sure(train([[0, 0], [0.31, 0.31], [0, 0]], bounds=bounds, fixed=(0, 2)))
    found = sure_moves(one, "least-total", 1.0, 0.95)
    assert found.feasible
    assert min(left.probability for left in found.after) < 0.95


@pytest.mark.parametrize("confidence", [0.5, 1.0, math.nan])
def test_a_confidence_that_cannot_be_is_refused(confidence):
    with pytest.raises(TrainError):
        sure_moves(sure(train([[0, 0], [0.3, 0.3], [0, 0]])), "least-total", 1.0, confidence)


def test_to_be_sure_every_coupling_needs_its_uncertainty():
    with pytest.raises(TrainError) as refused:
        sure_moves(train([[0, 0], [0.3, 0.3], [0, 0]]), "least-total", 1.0, 0.95)
    assert set(refused.value.errors) == {"couplings.0.offset", "couplings.1.offset"}


@given(
    ups=st.lists(st.floats(-0.5, 0.5), min_size=4, max_size=4),
    stock=st.sampled_from([0.025, 0.05, 0.1]),
    offset=st.floats(0.01, 0.2),
    fixed=st.sampled_from([(), (0,), (2,)]),
)
@settings(max_examples=40, deadline=None)
def test_whole_shims_are_whole_and_never_claim_to_keep_what_they_break(ups, stock, offset, fixed):
    one = train([[0, 0], ups[:2], ups[2:]], Limits((Limit("offset", offset), Limit("angularity", 1.0))), fixed=fixed)
    found = train_moves(one)
    whole = rounded_moves(one, found, stock)
    for foot in whole.feet:
        assert foot.up_mm / stock == pytest.approx(round(foot.up_mm / stock), abs=1e-6)
        assert foot.machine not in fixed or foot.up_mm == 0
    kept = [place for place, left in enumerate(whole.after) if left.used <= 1 + 1e-6]
    assert set(kept) | set(whole.broken) == {0, 1}
    assert not set(kept) & set(whole.broken)
