"""Published and constructed figures of trains on one datum, through the public functions.

The constructed cases name an independent route: a grid search found the same.
"""

import pytest

from couplings.engineering.trains import straight_line, train_moves
from tests.couplings.engineering.train_sketches import standing
from tests.reference.alignment_cases import INCH, assert_agrees, cases


def three_machines(case, key="y_feet", **more):
    """Six feet are three machines on two each; where the couplings stand between them changes nothing."""
    z, y = case["inputs"]["z_feet"], case["inputs"][key]
    pairs = [slice(0, 2), slice(2, 4), slice(4, 6)]
    centres = [(z[1] + z[2]) / 2, (z[3] + z[4]) / 2]
    plane = "horizontal" if key == "x_feet" else "vertical"
    return standing([z[p] for p in pairs], centres, **{plane: [y[p] for p in pairs]}, **more)


@cases("OM-01")
def test_two_machines_pivot_about_their_outboard_feet(case):
    given, z = case["inputs"], case["inputs"]["z_from_pump_OB"]
    # The pump's inboard foot stands where its printed raise of 0.050 in puts it, 8.83 in from the outboard one.
    motor, pump = [0.0, (z["motor_OB"] - z["motor_IB"]) * INCH], [(z["motor_OB"] - 8.83) * INCH, z["motor_OB"] * INCH]
    heights = [given[f"y_{name}"] * INCH for name in ("motor_OB", "motor_IB", "pump_IB", "pump_OB")]
    stays = {"down_mm": 0.0, "up_mm": 0.0}
    train = standing(
        [motor, pump], [(motor[1] + pump[0]) / 2], [heights[:2], heights[2:]], bounds=[[stays, {}], [{}, stays]]
    )
    for objective in ("least-total", "least-largest", "fewest-feet"):
        ups = [move.up_mm / INCH for move in train_moves(train, objective).moves]
        assert [ups[0], ups[3]] == [0.0, 0.0]
        assert_agrees(case, {"raise_motor_IB": ups[1]})
        # The printed raise of the pump's inboard foot, from the same page.
        assert ups[2] == pytest.approx(0.050, abs=0.0005)


@cases("OM-02")
def test_the_least_largest_move_of_a_train(case):
    found = train_moves(three_machines(case), "least-largest")
    assert_agrees(case, {"max_abs_move": max(found.sizes_mm)})
    assert found.bound == pytest.approx(found.value)


@cases("OM-05")
def test_the_least_total_movement_of_a_train(case):
    found = train_moves(three_machines(case), "least-total")
    assert_agrees(case, {"sum_abs_move": sum(found.sizes_mm)})
    # The pivots of the plotting method: two feet at least stay.
    assert sum(size == 0.0 for size in found.sizes_mm) >= 2


@cases("OM-06")
def test_the_line_to_start_from(case):
    z, y = case["inputs"]["z_feet"], case["inputs"]["y_feet"]
    height, slope = straight_line(z, y)
    moves = [height + slope * at / 1000.0 - now for at, now in zip(z, y, strict=True)]
    assert_agrees(case, {"intercept": height, "slope_mrad": slope, "moves": moves})


@cases("OM-08")
def test_no_straight_line_fits_the_bolt_holes(case):
    most = case["inputs"]["max_abs_move_each"]
    rows = [{"left_mm": one, "right_mm": one} for one in most]
    found = train_moves(three_machines(case, "x_feet", bounds=[rows[0:2], rows[2:4], rows[4:6]]))
    assert_agrees(case, {"feasible": found.feasible})
    assert found.relaxations
