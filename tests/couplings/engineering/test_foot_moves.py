"""Moves at the feet of one machine, and shims."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from couplings.engineering.alignment import Misalignment, direct
from couplings.engineering.moves import MoveError, after_moves, foot_moves, shim_advice, shim_pack

FEET = [("inboard", 250.0), ("outboard", 700.0)]
KNOWN = direct((-0.14, -0.03), (-0.4, 0.0), offset_u_mm=(0.005, 0.006), slope_u_mrad=(0.07, 0.08)).misalignment


def test_a_move_is_target_less_position_with_its_spread():
    moves = foot_moves(KNOWN, FEET, (0.02, 0.01, -0.1, 0.0))
    assert [m.name for m in moves] == ["inboard", "outboard"]
    assert moves[1].up_mm == pytest.approx(0.02 - 0.1 * 0.7 - (-0.14 - 0.4 * 0.7))
    assert moves[1].right_mm == pytest.approx(0.01 + 0.03)
    assert moves[1].up_u_mm == pytest.approx(math.hypot(0.005, 0.07 * 0.7))
    assert moves[1].right_u_mm == pytest.approx(math.hypot(0.006, 0.08 * 0.7))


def test_offset_and_slope_that_vary_together_spread_accordingly():
    covariance = np.diag([4e-4, 4e-4, 1e-2, 1e-2])
    covariance[0, 2] = covariance[2, 0] = -1.5e-3
    found = Misalignment.of([0.0, 0.0, 0.0, 0.0], covariance)
    inboard = foot_moves(found, [("inboard", 200.0), ("outboard", 900.0)])[0]
    assert inboard.up_u_mm == pytest.approx(math.sqrt(4e-4 + 0.04 * 1e-2 - 0.4 * 1.5e-3))
    assert inboard.right_u_mm == pytest.approx(math.sqrt(4e-4 + 0.04 * 1e-2))


def test_a_plane_that_is_not_known_has_no_move():
    half = direct((0.1, None), (0.2, None), offset_u_mm=(0.01, None), slope_u_mrad=(0.1, None)).misalignment
    move = foot_moves(half, FEET)[0]
    assert move.up_mm == pytest.approx(-0.15)
    assert math.isnan(move.right_mm)
    assert math.isnan(move.right_u_mm)


@pytest.mark.parametrize(
    "feet, field",
    [
        ([("only", 250.0)], "feet"),
        ([(str(n), 100.0 * n) for n in range(1, 6)], "feet"),
        ([("a", 250.0), ("b", 250.0)], "feet.1.x"),
        ([("a", math.nan), ("b", 250.0)], "feet.0.x"),
    ],
)
def test_feet_that_make_no_machine_are_refused(feet, field):
    with pytest.raises(MoveError) as refusal:
        foot_moves(KNOWN, feet)
    assert refusal.value.field == field


def test_shims_are_rounded_to_the_stock_and_what_is_left_is_said():
    assert shim_advice(0.24, 0.05) == (pytest.approx(0.25), pytest.approx(-0.01))
    assert shim_advice(-0.24, 0.05) == (pytest.approx(-0.25), pytest.approx(0.01))
    assert shim_advice(0.02, 0.05) == (0.0, pytest.approx(0.02))
    assert shim_advice(0.26, [0.025, 0.1, 0.2]) == (pytest.approx(0.25), pytest.approx(0.01))


def test_a_pack_is_the_fewest_shims_that_come_nearest():
    stock = [0.025, 0.05, 0.1, 0.25, 0.5, 1.0]
    assert shim_pack(1.23, stock) == (1.0, 0.1, 0.1, 0.025)
    assert shim_pack(0.5, stock) == (0.5,)
    assert shim_pack(0.0, stock) == ()
    assert shim_pack(5.0, [1.0], most=3) == (1.0, 1.0, 1.0)
    assert shim_pack(0.09, [0.1]) == (0.1,)


@settings(max_examples=50, derandomize=True, deadline=None, database=None)
@given(
    wanted=st.integers(0, 2500),
    stock=st.sets(st.integers(5, 1000), min_size=1, max_size=4),
    most=st.integers(1, 3),
)
def test_no_pack_comes_nearer(wanted, stock, most):
    sums = {0}
    for _ in range(most):
        sums |= {total + size for total in sums for size in stock}
    pack = shim_pack(wanted / 1000, [size / 1000 for size in stock], most)
    assert len(pack) <= most
    assert abs(sum(pack) * 1000 - wanted) == pytest.approx(min(abs(s - wanted) for s in sums), abs=1e-6)


def test_rounding_leaves_a_misalignment_that_is_computed():
    whole = [shim_advice(move.up_mm, 0.05)[0] for move in foot_moves(KNOWN, FEET)]
    assert whole == pytest.approx([0.25, 0.40])
    left = after_moves(KNOWN, FEET, whole)
    # 0.01 too high at 250 mm and 0.02 too low at 700 mm.
    slope = -0.03 / 0.45
    assert (left.mean[0], left.mean[2]) == pytest.approx((0.01 - slope * 0.25, slope))
    assert left.mean[1] == KNOWN.mean[1]
    assert left.covariance == KNOWN.covariance


@pytest.mark.parametrize(
    "call, field",
    [
        (lambda: shim_advice(math.nan, 0.05), "up"),
        (lambda: shim_advice(0.1, 0.0), "stock.0"),
        (lambda: shim_advice(0.1, [0.1, -0.1]), "stock.1"),
        (lambda: shim_advice(0.1, []), "stock"),
        (lambda: shim_pack(0.1, [0.1], most=0), "most"),
        (lambda: after_moves(KNOWN, FEET, [0.1]), "moves"),
        (lambda: after_moves(KNOWN, FEET, [0.1, math.nan]), "moves"),
    ],
)
def test_shims_and_moves_that_cannot_be_are_refused(call, field):
    with pytest.raises(MoveError) as refusal:
        call()
    assert refusal.value.field == field
