"""Trains that the bounds do not allow: what would have to give; and trains that make no sense."""

import math
from dataclasses import replace

import numpy as np
import pytest

from couplings.engineering import trains_programme
from couplings.engineering.conformity import Limit, Limits
from couplings.engineering.trains import Train, TrainCoupling, TrainError, TrainMachine, straight_line, train_moves
from tests.couplings.engineering.test_trains import CENTRES, FEET, SHORT, two
from tests.couplings.engineering.train_sketches import random_train, standing

NAN = math.nan


def freed(train, relaxations, times):
    """The train with every named bound moved out by so many times what the answer asks for, and a hair."""
    machines = []
    for place, machine in enumerate(train.machines):
        feet = []
        released = any(one.machine == place and one.fixed for one in relaxations)
        for number, foot in enumerate(machine.feet):
            bounds = {f"{way}_mm": getattr(foot, f"{way}_mm") for way in ("down", "up", "left", "right")}
            if released:
                bounds = dict.fromkeys(bounds, 0.0)
            for one in relaxations:
                if (one.machine, one.foot) == (place, number):
                    bounds[f"{one.way}_mm"] = one.bound_mm + times * one.by_mm + 1e-6
            feet.append(replace(foot, **bounds))
        machines.append(TrainMachine(machine.name, tuple(feet), machine.fixed and not released))
    return Train(tuple(machines), train.couplings)


def test_the_shims_that_are_missing_are_named_by_foot():
    """The motor stands 0.4 mm high all along; 0.3 mm can be taken out at one foot plane, and the pump may not move."""
    train = standing(
        FEET[:2], CENTRES[:1], [[0.4, 0.4], [0.0, 0.0]], bounds=[[{"down_mm": 0.3}, {"down_mm": 1.0}], [{}, {}]],
        fixed=(1,),
    )  # fmt: skip
    found = train_moves(train)
    assert not found.feasible
    (one,) = found.relaxations
    assert (one.machine, one.foot, one.way, one.fixed) == (0, 0, "down", False)
    assert (one.bound_mm, one.by_mm) == pytest.approx((0.3, 0.1))
    assert found.nearest_share is None  # no limits: exactly on target or not at all
    assert found.moves == found.after == ()


def test_the_bolt_holes_that_are_too_narrow_are_named_by_side():
    bound = {"left_mm": 0.1, "right_mm": 0.5}
    train = standing(
        FEET[:2], CENTRES[:1], None, [[0.4, 0.4], [0.0, 0.0]], bounds=[[bound, bound], [{}, {}]], fixed=(1,),
        limits=Limits((Limit("offset", 0.05),)),
    )  # fmt: skip
    found = train_moves(train)
    # It may swing, since only the offset at the coupling counts. Feet at 0 and 500, coupling at 700: it goes by 1.4 of
    # the second foot's move less 0.4 of the first's, 0.14 + 0.20 to the left in all, where 0.35 are wanted.
    (one,) = found.relaxations
    assert (one.machine, one.foot, one.way) == (0, 1, "left")
    assert one.by_mm == pytest.approx((0.35 - 0.34) / 1.4)
    assert found.nearest_share == pytest.approx((0.40 - 0.34) / 0.05)


def test_where_no_bound_helps_the_machine_that_may_not_move_is_named():
    found = train_moves(replace_fixed(two((0.2, 0.0, 0.0, 0.0), fixed=0, limits=SHORT), True))
    assert found.relaxations
    assert all(one.fixed and one.bound_mm == 0.0 for one in found.relaxations)
    assert found.nearest_share == pytest.approx(4.0)


def replace_fixed(train, fixed):
    return Train(tuple(replace(machine, fixed=fixed) for machine in train.machines), train.couplings)


def test_the_relaxation_is_enough_and_nothing_less_is():
    rng = np.random.default_rng(31)
    tried = 0
    for _ in range(100):
        train = random_train(rng, bounded=0.9)
        found = train_moves(train)
        if found.feasible:
            continue
        tried += 1
        assert train_moves(freed(train, found.relaxations, 1.0)).feasible
        assert not train_moves(freed(train, found.relaxations, 0.98)).feasible
        assert found.nearest_share > 1.0
    assert tried >= 10


def test_the_nearest_share_is_reached_and_nothing_less_is():
    rng = np.random.default_rng(32)
    tried = 0
    for _ in range(60):
        train = random_train(rng, bounded=0.9)
        found = train_moves(train, share=0.4)
        if found.feasible or found.nearest_share > 0.99:
            continue
        tried += 1
        assert train_moves(train, share=found.nearest_share + 1e-6).feasible
        assert not train_moves(train, share=found.nearest_share - 1e-4).feasible
    assert tried >= 5


# Refused


def spoilt(**changes):
    """A train of two with one place changed."""
    train = two((0.1, 0.0, 0.0, 0.0), fixed=1, limits=SHORT)
    coupling, motor, pump = train.couplings[0], *train.machines
    return Train(
        changes.get("machines", (replace(motor, feet=changes.get("feet", motor.feet)), pump)),
        changes.get("couplings", (replace(coupling, **changes.get("coupling", {})),)),
    )


MOTOR = two((0.1, 0, 0, 0), 1).machines[0]
BAD = [
    ({"machines": (MOTOR,)}, "machines"),
    ({"machines": (MOTOR,) * 7}, "machines"),
    ({"couplings": ()}, "couplings"),
    ({"feet": MOTOR.feet[:1]}, "machines.0.feet"),
    ({"feet": (MOTOR.feet[0], MOTOR.feet[0])}, "machines.0.feet.1.x"),
    ({"feet": (MOTOR.feet[0], replace(MOTOR.feet[1], x_mm=NAN))}, "machines.0.feet.1.x"),
    ({"feet": (MOTOR.feet[0], replace(MOTOR.feet[1], x_mm=750.0))}, "machines.0.feet.1.x"),
    ({"feet": (MOTOR.feet[0], replace(MOTOR.feet[1], down_mm=-0.1))}, "machines.0.feet.1.down"),
    ({"feet": (MOTOR.feet[0], replace(MOTOR.feet[1], right_mm=NAN))}, "machines.0.feet.1.right"),
    ({"coupling": {"x_mm": NAN}}, "couplings.0.x"),
    ({"coupling": {"misalignment": (NAN, NAN, NAN, NAN)}}, "couplings"),
    ({"coupling": {"misalignment": (0.1, NAN, NAN, NAN)}}, "couplings.0.angularity.vertical"),
    ({"coupling": {"target": (0.1, NAN, 0, 0)}}, "couplings.0.target.offset.horizontal"),
    ({"coupling": {"limits": Limits((Limit("flex-angle", 0.5),))}}, "couplings.0.flex_planes"),
    ({"coupling": {"limits": Limits((Limit("axial", 0.5),))}}, "couplings.0.limits"),
    ({"coupling": {"limits": Limits((Limit("offset", 0.0),))}}, "couplings.0.limits.offset"),
]


@pytest.mark.parametrize(("changes", "field"), BAD, ids=[f"{n} {field}" for n, (_c, field) in enumerate(BAD)])
def test_what_cannot_be_computed_is_refused_at_its_place(changes, field):
    with pytest.raises(TrainError) as refused:
        train_moves(spoilt(**changes))
    assert field in refused.value.errors


def test_couplings_must_stand_in_order_and_be_measured_in_the_same_planes():
    train = standing(FEET, CENTRES, [[0.0, 0.0]] * 3, [[0.0, 0.0]] * 3)
    first, second = train.couplings
    for couplings, field in (
        ((second, first), "couplings.1.x"),
        ((first, replace(second, misalignment=(0.0, NAN, 0.0, NAN))), "couplings.1.offset.horizontal"),
    ):
        with pytest.raises(TrainError) as refused:
            train_moves(Train(train.machines, couplings))
        assert field in refused.value.errors


def test_objective_and_share_are_refused_together():
    with pytest.raises(TrainError) as refused:
        train_moves(spoilt(), "least-effort", 1.2)
    assert set(refused.value.errors) == {"objective", "share"}


def test_a_plane_that_was_not_measured_has_no_moves():
    train = Train(spoilt().machines, (TrainCoupling(700.0, (0.1, NAN, 0.2, NAN), limits=SHORT),))
    found = train_moves(train)
    assert all(math.isnan(move.right_mm) and math.isfinite(move.up_mm) for move in found.moves)
    assert found.after[0].used <= 1 + 1e-9
    assert {held.plane for held in found.after[0].held} == {"vertical"}


def test_a_search_that_runs_out_of_time_says_so_or_answers_with_its_gap(monkeypatch):
    train = random_train(np.random.default_rng(8), machines=4, bounded=0.0)
    whole = train_moves(train, "fewest-feet")
    monkeypatch.setattr(trains_programme, "SECONDS", 0.0)
    with pytest.raises(TrainError) as refused:
        train_moves(train, "fewest-feet")
    assert "The solver gave up" in refused.value.errors[""]

    def halfway(cost, **given):
        found = honest(cost, **given)
        found.status, found.mip_dual_bound = trains_programme.OUT_OF_TIME, 1.0
        return found

    honest = trains_programme.optimize.milp
    monkeypatch.setattr(trains_programme, "SECONDS", 10.0)
    monkeypatch.setattr(trains_programme.optimize, "milp", halfway)
    best = train_moves(train, "fewest-feet")
    assert (best.value, best.bound, best.gap) == (whole.value, 1, whole.value - 1)


@pytest.mark.parametrize(("x", "y"), [([1.0], [1.0]), ([1.0, 1.0], [0.0, 1.0]), ([1.0, 2.0], [0.0, NAN])])
def test_a_line_needs_two_places(x, y):
    with pytest.raises(TrainError):
        straight_line(x, y)
