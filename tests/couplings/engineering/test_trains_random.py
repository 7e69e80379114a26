"""A thousand invented trains of three machines: moves confirmed by the shafts' own lines and by a second programme."""

import time
from dataclasses import replace

import numpy as np
import pytest

from couplings.engineering.trains import Train, train_moves
from tests.couplings.engineering.train_sketches import left_by, random_train, solved_again

pytestmark = pytest.mark.long
MANY = 1000


def within_bounds(train, moves):
    for move in moves:
        machine = train.machines[move.machine]
        foot = machine.feet[move.foot]
        if machine.fixed:
            assert (move.up_mm, move.right_mm) == (0.0, 0.0)
        assert -foot.down_mm - 1e-6 <= move.up_mm <= foot.up_mm + 1e-6
        assert -foot.left_mm - 1e-6 <= move.right_mm <= foot.right_mm + 1e-6


def held_within(train, most):
    """The train with no foot allowed farther than `most` any way."""
    ways = ("down_mm", "up_mm", "left_mm", "right_mm")
    machines = tuple(
        replace(
            machine,
            feet=tuple(replace(foot, **{way: min(most, getattr(foot, way)) for way in ways}) for foot in machine.feet),
        )
        for machine in train.machines
    )
    return Train(machines, train.couplings)


def test_a_thousand_trains_are_solved_as_a_second_programme_solves_them():
    rng = np.random.default_rng(20)
    spent, worst, worst_gap, infeasible = 0.0, 0.0, 0.0, 0
    for _ in range(MANY):
        train, share = random_train(rng), float(rng.uniform(0.2, 1.0))
        start = time.perf_counter()
        found = train_moves(train, "least-total", share)
        spent += time.perf_counter() - start
        again = solved_again(train, share)
        if again is None:
            assert not found.feasible
            infeasible += 1
            continue
        assert found.feasible
        within_bounds(train, found.moves)
        assert left_by(train, found.moves) <= share + 1e-6
        assert found.value == pytest.approx(sum(found.sizes_mm), abs=1e-6)
        worst, worst_gap = max(worst, abs(found.value - again)), max(worst_gap, abs(found.value - found.bound))
    print(  # noqa: T201
        f"\n{MANY} trains, {infeasible} infeasible; {1000 * spent / MANY:.2f} ms per train; largest difference "
        f"from the second programme {worst:.1e} mm, largest gap to the dual's bound {worst_gap:.1e} mm"
    )
    assert 0.02 * MANY < infeasible < 0.5 * MANY  # both kinds are tried
    assert worst < 1e-5
    assert worst_gap < 1e-6


def test_the_least_largest_move_is_that_of_the_second_programme():
    rng = np.random.default_rng(21)
    for _ in range(100):
        train = random_train(rng)
        found, again = train_moves(train, "least-largest"), solved_again(train, largest=True)
        assert found.feasible == (again is not None)
        if found.feasible:
            within_bounds(train, found.moves)
            assert left_by(train, found.moves) <= 1 + 1e-6
            assert found.value == pytest.approx(again, abs=1e-6)
            assert max(found.sizes_mm) == pytest.approx(again, abs=1e-6)
            # Among all that are no larger, the least in all: the same train with every foot bound so.
            least = solved_again(held_within(train, found.value + 1e-7))
            assert sum(found.sizes_mm) == pytest.approx(least, abs=1e-5)


def test_fewest_feet_of_three_machines_are_confirmed_and_inside_their_bound():
    rng = np.random.default_rng(22)
    spent = []
    for _ in range(20):
        train = random_train(rng, bounded=0.1)
        start = time.perf_counter()
        found = train_moves(train, "fewest-feet")
        spent.append(time.perf_counter() - start)
        if not found.feasible:
            continue
        within_bounds(train, found.moves)
        assert left_by(train, found.moves) <= 1 + 1e-6
        assert sum(move.moves for move in found.moves) <= found.value
        assert found.bound == found.value
        feet = [(move.machine, move.foot) for move in found.moves]
        stays = {feet.index((move.machine, move.foot)) for move in found.moves if not move.moves}
        assert solved_again(train, held=stays) == pytest.approx(sum(found.sizes_mm), abs=1e-5)
    print(f"\nfewest feet: {1000 * max(spent):.0f} ms at most, {1000 * sum(spent) / len(spent):.0f} in the mean")  # noqa: T201
