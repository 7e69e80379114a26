"""Moves of a train: its signs, its objectives, and answers confirmed by trying everything on small grids."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from couplings.engineering import trains_objectives
from couplings.engineering.alignment import Misalignment, to_record
from couplings.engineering.conformity import Limit, Limits, judge
from couplings.engineering.moves import foot_moves
from couplings.engineering.trains import (
    OBJECTIVES,
    FootPlane,
    Train,
    TrainCoupling,
    TrainMachine,
    lines,
    train_moves,
)
from couplings.engineering.trains_programme import Optimum
from tests.couplings.engineering.train_sketches import end_for_end, left_by, random_train, solved_again, standing

FEET = [[0.0, 500.0], [900.0, 1200.0], [1600.0, 2400.0]]
CENTRES = [700.0, 1400.0]
SHORT = Limits((Limit("offset", 0.05), Limit("angularity", 0.5)))


def record(stationary, *numbers):
    return to_record(Misalignment.of(numbers, np.zeros((4, 4))), stationary).mean


def two(misalignment, fixed, feet=((0.0, 500.0), (900.0, 1200.0)), **more):
    machines = tuple(
        TrainMachine(name, tuple(FootPlane(str(x), x) for x in xs), place == fixed)
        for place, (name, xs) in enumerate(zip(("motor", "pump"), feet, strict=True))
    )
    return Train(machines, (TrainCoupling(700.0, misalignment, **more),))


# Axes and signs


def test_a_chain_of_misalignments_gives_back_where_the_shafts_stand():
    vertical = [[0.0, 0.0], [0.3, 0.1], [-0.2, 0.4]]
    horizontal = [[0.0, 0.0], [-0.5, 0.2], [0.1, 0.6]]
    train = standing(FEET, CENTRES, vertical, horizontal)
    for plane, rows in enumerate((vertical, horizontal)):
        for (height, slope), xs, ys in zip(lines(train)[:, plane], FEET, rows, strict=True):
            assert [height + slope * x / 1000 for x in xs] == pytest.approx(ys, abs=1e-9)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_a_gear_between_two_machines_that_stand_to_one_side_of_it_moves_by_itself(objective):
    """Both neighbours 0.2 mm to the same side of the gear, each measured by a crew that stood behind it."""
    # Behind the motor (driver end) the same side is right; behind the compressor, looking back, it is left.
    motor, compressor = record("driven", 0, 0.2, 0, 0), record("driver", 0, -0.2, 0, 0)
    train = Train(standing(FEET, CENTRES).machines, (TrainCoupling(700.0, motor), TrainCoupling(1400.0, compressor)))
    heights = lines(train)[:, 1, 0]
    assert heights[0] - heights[2] == pytest.approx(0.0, abs=1e-12)  # zero between the neighbours
    assert heights[1] - heights[0] == pytest.approx(-0.2)
    found = train_moves(train, objective)
    rights = [move.right_mm for move in found.moves]
    if objective == "least-largest":
        assert rights == pytest.approx([-0.1, -0.1, 0.1, 0.1, -0.1, -0.1], abs=1e-6)
    else:
        assert rights == pytest.approx([0, 0, 0.2, 0.2, 0, 0], abs=1e-6)


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize("stationary", ["driven", "driver"])
def test_one_machine_moves_as_its_own_calculation_says(stationary, objective):
    survey, target = (0.12, -0.3, 0.4, -0.2), (0.02, 0.05, -0.1, 0.3)
    covariance = np.zeros((4, 4))
    train = two(record(stationary, *survey), 1 if stationary == "driven" else 0, target=record(stationary, *target))
    movable = train.machines[0 if stationary == "driven" else 1]
    own = foot_moves(Misalignment.of(survey, covariance), [(f.name, abs(f.x_mm - 700.0)) for f in movable.feet], target)
    ours = {m.foot: m for m in train_moves(train, objective).moves if train.machines[m.machine] is movable}
    # The crew that moves the driven machine looks back at the driver end: its right is the train's left.
    turn = 1 if stationary == "driven" else -1
    assert [ours[place].up_mm for place in range(2)] == pytest.approx([move.up_mm for move in own], abs=1e-9)
    assert [ours[place].right_mm for place in range(2)] == pytest.approx([turn * m.right_mm for m in own], abs=1e-9)


def test_flex_angles_are_those_of_the_verdict():
    coupling = TrainCoupling(
        700.0, (0.1, -0.2, 0.5, 0.3), (0.0, 0.05, 0.1, 0.0), Limits((Limit("flex-angle", 0.5),)), (-80.0, 60.0)
    )
    train = Train(standing(FEET[:2], CENTRES[:1]).machines, (coupling,))
    found = train_moves(train)
    for one in (*found.before, *found.after):
        left = Misalignment.of(np.array(one.misalignment) - np.array(coupling.target), np.zeros((4, 4)))
        judged = judge(left, coupling.limits, coupling.flex_planes_mm, decision="simple")
        assert one.used == pytest.approx(judged.tolerance_used)
        assert {h.quantity: h.value for h in one.held} == pytest.approx({h.quantity: h.value for h in judged.lines})


@given(st.integers(0, 10_000), st.sampled_from(OBJECTIVES[:2]))
@settings(max_examples=25, deadline=None)
def test_naming_the_other_end_first_gives_the_mirrored_moves(seed, objective):
    """What one end's answer does to the other end's train is as good: right turned over, feet in the other order."""
    train = random_train(np.random.default_rng(seed))
    there, back = train_moves(train, objective), train_moves(end_for_end(train), objective)
    assert there.feasible == back.feasible
    assert there.value == pytest.approx(back.value, abs=1e-6)
    if not back.feasible:
        assert there.nearest_share == pytest.approx(back.nearest_share, abs=1e-6)
        total, mirrored = (sum(one.by_mm for one in found.relaxations) for found in (there, back))
        assert total == pytest.approx(mirrored, abs=1e-5)
        return
    last = len(train.machines) - 1
    mirrored = [
        type(move)(last - move.machine, len(train.machines[last - move.machine].feet) - 1 - move.foot,
                   move.up_mm, -move.right_mm)
        for move in reversed(back.moves)
    ]  # fmt: skip
    assert left_by(train, mirrored) <= 1 + 1e-6
    sizes = [abs(n) for move in mirrored for n in (move.up_mm, move.right_mm)]
    value = sum(sizes) if objective == "least-total" else max(sizes)
    assert value == pytest.approx(there.value, abs=1e-6)


@given(st.lists(st.floats(-1, 1), min_size=8, max_size=8), st.integers(0, 2))
@settings(max_examples=25, deadline=None)
def test_where_only_one_set_of_moves_exists_its_mirror_is_exact(numbers, fixed):
    train = standing(FEET, CENTRES, fixed=(fixed,))
    couplings = tuple(TrainCoupling(x, tuple(numbers[4 * i : 4 * i + 4])) for i, x in enumerate(CENTRES))
    train = Train(train.machines, couplings)
    there, back = train_moves(train), train_moves(end_for_end(train))
    assert [m.up_mm for m in there.moves] == pytest.approx([m.up_mm for m in reversed(back.moves)], abs=1e-6)
    assert [m.right_mm for m in there.moves] == pytest.approx([-m.right_mm for m in reversed(back.moves)], abs=1e-6)


# Objectives


def test_each_objective_is_best_at_its_own():
    train = Train(
        standing(FEET, CENTRES).machines,
        (
            TrainCoupling(700.0, (0.1, 0.2, 0.3, -0.7), limits=SHORT),
            TrainCoupling(1400.0, (-0.2, 0.1, 0.4, 0.5), limits=SHORT),
        ),
    )
    found = {objective: train_moves(train, objective) for objective in OBJECTIVES}
    totals = {name: sum(one.sizes_mm) for name, one in found.items()}
    largest = {name: max(one.sizes_mm) for name, one in found.items()}
    touched = {name: sum(move.moves for move in one.moves) for name, one in found.items()}
    assert min(totals, key=totals.__getitem__) == "least-total"
    assert min(largest, key=largest.__getitem__) == "least-largest"
    assert min(touched, key=touched.__getitem__) == "fewest-feet"
    for name, own in (("least-total", totals), ("least-largest", largest), ("fewest-feet", touched)):
        assert found[name].value == pytest.approx(own[name], abs=1e-6)
        one = found[name]
        print(f"\n{name}: {one.value:.6f}, bound {one.bound:.6f}, gap {one.gap:.1e}")  # noqa: T201
        assert found[name].gap <= 1e-6


def test_less_of_the_limits_never_costs_less():
    rng = np.random.default_rng(4)
    for _ in range(10):
        train = random_train(rng, bounded=0.0)
        values = [train_moves(train, share=share).value for share in (1.0, 0.8, 0.5, 0.2, 0.0)]
        known = [value for value in values if value is not None]
        assert known == sorted(known)
        assert values == [*known, *[None] * (5 - len(known))]  # once out of reach, always out of reach


def test_a_misalignment_in_one_plane_may_use_all_of_a_vector_limit():
    train = two((0.15, 0.0, 0.0, 0.0), fixed=1, limits=Limits((Limit("offset", 0.05),)))
    found = train_moves(train, "least-largest")
    assert found.after[0].misalignment[0] == pytest.approx(0.05, abs=1e-7)


def test_the_combined_rule_is_kept_and_costs_more():
    both = Limits(SHORT.limits, "vector", combined=True)
    plain, summed = (
        train_moves(two((0.3, -0.2, 0.9, 0.4), fixed=1, limits=limits), share=0.9) for limits in (SHORT, both)
    )
    shares = {held.quantity: held.share for held in summed.after[0].held}
    assert shares["combined"] == pytest.approx(shares["offset"] + shares["angularity"])
    assert shares["combined"] <= 0.9 + 1e-6
    assert summed.value > plain.value


def test_a_foot_plane_between_two_others_follows_its_machine():
    train = two((0.3, -0.2, 0.9, 0.4), fixed=1, feet=((0.0, 125.0, 500.0), (900.0, 1200.0)))
    first, middle, last = train_moves(train).moves[:3]
    assert middle.up_mm == pytest.approx(0.75 * first.up_mm + 0.25 * last.up_mm)
    assert middle.right_mm == pytest.approx(0.75 * first.right_mm + 0.25 * last.right_mm)


# Tried out


def test_no_moves_on_a_grid_are_less_in_all_or_at_the_largest():
    """One plane, four feet, every combination of 0.05 mm steps: a third way beside the two programmes."""
    limits = Limits((Limit("offset", 0.06), Limit("angularity", 0.4)))
    train = standing(
        FEET[:2],
        CENTRES[:1],
        [[0.05, -0.3], [0.2, 0.1]],
        limits=limits,
        bounds=[[{"down_mm": 0.1}, {}], [{}, {"up_mm": 0.15}]],
    )
    step, reach = 0.05, 9
    grid = step * np.arange(-reach, reach + 1)
    m = np.array(list(itertools.product(grid, repeat=4)))
    m = m[(m[:, 0] >= -0.1 - 1e-12) & (m[:, 3] <= 0.15 + 1e-12)]
    y = np.array([0.05, -0.3, 0.2, 0.1]) + m
    driver = y[:, 1] + (y[:, 1] - y[:, 0]) / 500.0 * 200.0
    driven = y[:, 2] + (y[:, 3] - y[:, 2]) / 300.0 * -200.0
    bend = (y[:, 3] - y[:, 2]) / 0.3 - (y[:, 1] - y[:, 0]) / 0.5
    m = m[(np.abs(driver - driven) <= 0.06) & (np.abs(bend) <= 0.4)]
    assert len(m)
    total, largest = train_moves(train, "least-total"), train_moves(train, "least-largest")
    best_total, best_largest = np.abs(m).sum(axis=1).min(), np.abs(m).max(axis=1).min()
    print(f"\ngrid {best_total} and {best_largest}, programme {total.value} and {largest.value}")  # noqa: T201
    assert total.value <= best_total <= total.value + 4 * step
    assert largest.value <= best_largest <= largest.value + step
    fewest = train_moves(train, "fewest-feet")
    assert fewest.value <= (np.abs(m) > 1e-12).sum(axis=1).min()


def test_the_fewest_feet_are_the_fewest_of_all_choices():
    """Every choice of feet that stay is tried by the second programme."""
    rng = np.random.default_rng(11)
    for _ in range(6):
        train = random_train(rng, machines=2, bounded=0.2)
        many = sum(len(machine.feet) for machine in train.machines)
        found = train_moves(train, "fewest-feet")
        fewest = next(
            (
                count
                for count in range(many + 1)
                for touched in itertools.combinations(range(many), count)
                if solved_again(train, held=set(range(many)) - set(touched)) is not None
            ),
            None,
        )
        assert found.value == fewest
        if found.feasible:
            assert left_by(train, found.moves) <= 1 + 1e-6
            assert found.bound == fewest


def test_whole_numbers_that_are_only_nearly_right_are_cut_off_and_the_search_goes_on(monkeypatch):
    """The solver is made to say at first that no foot need move, as its tolerance on whole numbers might."""
    train = two((0.2, 0.1, 0.0, 0.0), fixed=1, limits=SHORT)
    honest, calls = trains_objectives.solve_whole, []

    def hasty(cost, rows, bounds, whole):
        calls.append(len(rows.blocks))
        return honest(cost, rows, bounds, whole) if len(calls) > 1 else Optimum(np.zeros(len(cost)), 0.0, 0.0)

    expected = train_moves(train, "fewest-feet")
    monkeypatch.setattr(trains_objectives, "solve_whole", hasty)
    found = train_moves(train, "fewest-feet")
    assert calls[1] == calls[0] + 1
    assert (found.value, found.bound) == (expected.value, expected.bound)
    assert found.value < sum(len(machine.feet) for machine in train.machines)


def test_the_polygon_gives_away_half_a_per_cent_at_most():
    found = train_moves(two((0.2, 0.1, 0.0, 0.0), fixed=1, limits=SHORT), "least-total")
    assert 0.995 <= found.after[0].used <= 1 + 1e-6
    assert math.cos(math.pi / 32) > 0.995
