"""What a train is moved for: least in all, least at any one foot, fewest feet; and what stands in the way.

Every search appends its own variables behind those of the programme and answers with the moves of the outermost feet.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from couplings.engineering.trains_geometry import WAYS, Floats, Train
from couplings.engineering.trains_programme import TINY_MM, Optimum, Programme, Rows, solve, solve_whole

# The search for the fewest feet has to say how far a foot may go at most: a dial's travel, or ten times what moves
# least in all, whichever is more. [mm]
FARTHEST_MM, FARTHEST_TIMES = 25.0, 10.0
TRIES = 50


@dataclass(frozen=True)
class Relaxation:
    """A bound that has to give: `by_mm` beyond `bound_mm`, in the direction `way` (down, up, left, right). [mm]

    `fixed`: the machine may not be moved at all, and would have to be.
    """

    machine: int
    foot: int
    way: str
    bound_mm: float
    by_mm: float
    fixed: bool = False


class Search:
    """One train, one share of its limits; its bounds may be tightened foot by foot."""

    def __init__(self, train: Train, share: float) -> None:
        self.programme = Programme(train)
        self.share = share
        self.bounds = self.programme.bounds.copy()

    @property
    def _many(self) -> int:
        return len(self.programme.planes) * len(self.programme.owners)

    def _open(self, width: int) -> Floats:
        """Bounds of the variables: the moves go both ways, what follows them is not negative."""
        bounds = np.column_stack([np.zeros(width), np.full(width, np.inf)])
        bounds[: self.programme.size, 0] = -np.inf
        return bounds

    def _bound_rows(self, rows: Rows) -> None:
        for table, pairs in zip(self.programme.feet, self.bounds, strict=True):
            bounded = np.isfinite(pairs).any(axis=1)
            if bounded.any():
                rows.add(table[bounded], pairs[bounded, 0], pairs[bounded, 1])

    def _sizes(self, rows: Rows, columns: Floats) -> None:
        """Rows that hold every move's size below its columns: one of their own each, or one for all."""
        table = np.vstack(self.programme.feet)
        start = rows.width - columns.shape[1]
        for sign in (1.0, -1.0):
            wide = np.zeros((len(table), rows.width))
            wide[:, : table.shape[1]], wide[:, start:] = sign * table, -columns
            rows.add(wide, -math.inf, 0.0)

    def least_total(self, largest_mm: float = math.inf) -> Optimum | None:
        """Least sum of all moves, up or down and sideways, none beyond `largest_mm`. [mm]"""
        start = self.programme.size + self.programme.ratios
        rows = self.programme.couplings(self.share, self._many)
        self._bound_rows(rows)
        self._sizes(rows, np.eye(self._many))
        bounds = self._open(rows.width)
        bounds[start:, 1] = largest_mm
        cost = np.zeros(rows.width)
        cost[start:] = 1.0
        return solve(cost, rows, bounds)

    def least_largest(self) -> Optimum | None:
        """Least of the largest move; among those, the least in all. [mm]"""
        rows = self.programme.couplings(self.share, 1)
        self._bound_rows(rows)
        self._sizes(rows, np.ones((self._many, 1)))
        cost = np.zeros(rows.width)
        cost[-1] = 1.0
        found = solve(cost, rows, self._open(rows.width))
        if found is None:
            return None
        # The solver's tolerance is given back to it, or its own optimum might be refused.
        finer = self.least_total(found.value + TINY_MM)
        return found if finer is None else Optimum(finer.variables, found.value, found.bound)

    def fewest_feet(self) -> Optimum | None:
        """Fewest foot planes that are touched at all, in any direction; among those, the least in all.

        The whole numbers are only right to the solver's tolerance, so each answer is confirmed by a programme in which
        the feet that stay have no freedom left; one that is not is cut off and the search goes on.
        """
        least = self.least_total()
        if least is None:
            return None
        farthest = max(FARTHEST_MM, FARTHEST_TIMES * least.value)
        feet = len(self.programme.owners)
        rows = self.programme.couplings(self.share, feet)
        start = rows.width - feet
        for table, pairs in zip(self.programme.feet, self.bounds, strict=True):
            for number, (row, (lowest, highest)) in enumerate(zip(table, pairs, strict=True)):
                for sign, most in ((1.0, highest), (-1.0, -lowest)):
                    wide = _wide(sign * row, rows.width)
                    wide[start + number] = -min(most, farthest)
                    rows.add(wide, -math.inf, 0.0)
        bounds = self._open(rows.width)
        bounds[start:, 1] = 1.0
        cost, whole = np.zeros(rows.width), np.zeros(rows.width)
        cost[start:], whole[start:] = 1.0, 1.0
        for _ in range(TRIES):
            found = solve_whole(cost, rows, bounds, whole)
            if found is None:
                break
            touched = found.variables[start:] > 0.5
            held = Search(self.programme.train, self.share)
            held.bounds[:, ~touched] = 0.0
            moved = held.least_total()
            if moved is not None:
                return Optimum(moved.variables, float(touched.sum()), math.ceil(found.bound - 1e-6))
            cut = np.zeros(rows.width)
            cut[start:] = ~touched
            rows.add(cut, 1.0, math.inf)
        # Touching every foot is always an answer where there is one; nothing smaller was confirmed.
        return Optimum(least.variables, float(feet), 0.0)

    def nearest_share(self) -> float | None:
        """Smallest share of the limits that can be reached within the bounds; None where no share helps."""
        rows = self.programme.couplings(None)
        self._bound_rows(rows)
        cost = np.zeros(rows.width)
        cost[-1] = 1.0
        found = solve(cost, rows, self._open(rows.width))
        return None if found is None else found.value

    def relaxations(self) -> tuple[Relaxation, ...]:
        """The least in all by which bounds have to give; machines that may not move give only where nothing else helps.

        An elastic programme: every bound gets a slack, and their sum is least. With every machine free there always is
        an answer, since each can be brought to its neighbour's target.
        """
        return self._elastic(freed=False) or self._elastic(freed=True)

    def _elastic(self, freed: bool) -> tuple[Relaxation, ...]:
        train, slacks = self.programme.train, []
        for number, pairs in enumerate(self.bounds):
            for place, pair in enumerate(pairs):
                if freed or not self.programme.owners[place].fixed:
                    slacks += [(number, place, side) for side in (0, 1) if math.isfinite(pair[side])]
        rows = self.programme.couplings(self.share, len(slacks))
        start = rows.width - len(slacks)
        columns = {key: start + order for order, key in enumerate(slacks)}
        for number, (table, pairs) in enumerate(zip(self.programme.feet, self.bounds, strict=True)):
            for place, (row, pair) in enumerate(zip(table, pairs, strict=True)):
                for side, sign in ((0, -1.0), (1, 1.0)):
                    if not math.isfinite(pair[side]):
                        continue
                    wide = _wide(sign * row, rows.width)
                    if (column := columns.get((number, place, side))) is not None:
                        wide[column] = -1.0
                    rows.add(wide, -math.inf, sign * float(pair[side]))
        cost = np.zeros(rows.width)
        cost[start:] = 1.0
        found = solve(cost, rows, self._open(rows.width))
        if found is None:
            return ()
        feet = list(train.feet())
        given = []
        for (number, place, side), column in columns.items():
            by = float(found.variables[column])
            if by <= 10 * TINY_MM:
                continue
            owner = feet[place][0]
            first = next(order for order, (machine, _foot) in enumerate(feet) if machine == owner)
            bound = abs(float(self.bounds[number, place, side]))
            way = WAYS[self.programme.planes[number]][side]
            given.append(Relaxation(owner, place - first, way, bound, by, train.machines[owner].fixed))
        return tuple(given)


def _wide(row: Floats, width: int) -> Floats:
    return np.concatenate([row, np.zeros(width - len(row))])
