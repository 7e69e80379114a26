"""The linear programme of a train: moves of each machine's outermost feet as variables, limits and bounds as rows.

A limit on a vector is held inside a regular polygon drawn in its circle, corners on the axes, so that what the
programme allows the circle allows too, and a misalignment in one plane alone may use all of its limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize

from couplings.engineering.trains_geometry import Figure, Floats, Train, TrainError, figures

SIDES = 32  # of the polygon; at least 16. With 32 the sides come within half a per cent of the circle
TINY_MM = 1e-7  # HiGHS's own tolerance on a row; a foot that moves by less does not move
INFEASIBLE, OUT_OF_TIME = 2, 1
SECONDS = 10.0  # six machines take less than one; what is best by then is answered with its gap


@dataclass
class Rows:
    """Rows ``lowest <= table @ variables <= highest``, block by block, each in its own unit. [mm] or [mrad]"""

    width: int
    blocks: list[tuple[Floats, Floats, Floats]] = field(default_factory=list)

    def add(self, table: Floats, lowest: ArrayLike, highest: ArrayLike) -> None:
        """One more row, or a block of them; what a narrower table leaves out is zero."""
        block = np.atleast_2d(table)
        wide = np.zeros((len(block), self.width))
        wide[:, : block.shape[1]] = block
        ends = [np.broadcast_to(np.asarray(end, dtype=float), (len(block),)) for end in (lowest, highest)]
        self.blocks.append((wide, ends[0], ends[1]))

    def all(self) -> tuple[Floats, Floats, Floats]:
        """Table, lowest and highest of every row."""
        tables, lowest, highest = zip(*self.blocks, strict=True)
        return np.vstack(tables), np.concatenate(lowest), np.concatenate(highest)


class Programme:
    """The variables of a train and the rows that tie its couplings.

    Variables 0 to `size` are the moves of the first and last foot of each machine, plane after plane [mm]; what an
    objective needs beyond them is appended. `feet[p]` turns them into the move of every foot in a plane.
    """

    def __init__(self, train: Train, sides: int = SIDES) -> None:
        if sides < 16:
            raise TrainError("sides", "The polygon needs 16 sides at least.")
        self.train, self.sides, self.planes = train, sides, train.planes
        self.each = 2 * len(train.machines)
        self.size = self.each * len(self.planes)
        self.owners = [train.machines[place] for place, _foot in train.feet()]
        one = np.array([self._at(place, foot.x_mm) for place, foot in train.feet()])
        self.feet = [self._widened(one, number) for number in range(len(self.planes))]
        pairs = [foot.bounds(plane) for plane in self.planes for _place, foot in train.feet()]
        self.bounds = np.array(pairs).reshape(len(self.planes), len(self.owners), 2)
        for number, machine in enumerate(self.owners):
            if machine.fixed:
                self.bounds[:, number] = 0.0
        self.ratios = sum(len(self._groups(place)) for place in range(len(train.couplings)))

    def _at(self, place: int, x_mm: float) -> Floats:
        """Row that gives the move of a machine's line at X from the moves of its outermost feet."""
        first, last = self.train.machines[place].ends
        row = np.zeros(self.each)
        row[2 * place] = (last - x_mm) / (last - first)
        row[2 * place + 1] = (x_mm - first) / (last - first)
        return row

    def _turn(self, place: int) -> Floats:
        """Row that gives the slope of a machine's move along X. [mrad]"""
        first, last = self.train.machines[place].ends
        row = np.zeros(self.each)
        row[2 * place], row[2 * place + 1] = -1000.0 / (last - first), 1000.0 / (last - first)
        return row

    def _widened(self, rows: Floats, number: int) -> Floats:
        wide = np.zeros((len(rows), self.size))
        wide[:, number * self.each : (number + 1) * self.each] = rows
        return wide

    def _after(self, place: int, figure: Figure) -> list[tuple[Floats, float]]:
        """Row and constant of a coupling's figure after the moves, for each plane."""
        coupling = self.train.couplings[place]
        offset = self._at(place, coupling.x_mm) - self._at(place + 1, coupling.x_mm)
        slope = self._turn(place + 1) - self._turn(place)
        row = (figure.y * offset + figure.s * slope)[None, :]
        constant = figure.y * coupling.deviation[0] + figure.s * coupling.deviation[1]
        return [(self._widened(row, n)[0], float(constant[p])) for n, p in enumerate(self.planes)]

    def _facets(self, place: int, figure: Figure) -> tuple[Floats, Floats]:
        """Directed figures over their limit, table and constant: sides of a polygon, or both signs in each plane."""
        after = self._after(place, figure)
        table, now = np.array([row for row, _now in after]), np.array([now for _row, now in after])
        limits = self.train.couplings[place].limits
        if len(after) == 1 or (limits is not None and limits.rule == "per-plane"):
            ways = np.vstack([np.eye(len(after)), -np.eye(len(after))])
        else:
            angles = 2.0 * np.pi * (np.arange(self.sides) + 0.5) / self.sides
            ways = np.column_stack([np.cos(angles), np.sin(angles)]) / math.cos(math.pi / self.sides)
        return ways @ table / figure.limit, ways @ now / figure.limit

    def couplings(self, share: float | None, extra: int = 0) -> Rows:
        """The rows of every coupling, for a share of its limits; None: the share is the last variable.

        Behind the moves stand the ratios of combined rules, then `extra` variables of the objective.
        """
        rows, column = Rows(self.size + self.ratios + extra + (share is None)), self.size
        for place, coupling in enumerate(self.train.couplings):
            if coupling.limits is None or not coupling.limits.limits:
                for y, s in ((1.0, 0.0), (0.0, 1.0)):
                    for row, constant in self._after(place, Figure("", 1.0, y, s)):
                        rows.add(row, -constant, -constant)
                continue
            for figure in figures(coupling):
                self._below(rows, self._facets(place, figure), share)
            groups = self._groups(place)
            for number, group in enumerate(groups):
                for figure in group:
                    table, now = self._facets(place, figure)
                    wide = np.zeros((len(table), column + number + 1))
                    wide[:, : self.size], wide[:, -1] = table, -1.0
                    rows.add(wide, -math.inf, -now)
            if groups:
                together = np.zeros((1, column + len(groups)))
                together[0, column:] = 1.0
                self._below(rows, (together, np.zeros(1)), share)
                column += len(groups)
        return rows

    def _below(self, rows: Rows, figures_now: tuple[Floats, Floats], share: float | None) -> None:
        """What stays below the share of the limits, given or sought."""
        table, now = figures_now
        if share is None:
            wide = np.zeros((len(table), rows.width))
            wide[:, : table.shape[1]], wide[:, -1] = table, -1.0
            table = wide
        rows.add(table, -math.inf, (0.0 if share is None else share) - now)

    def _groups(self, place: int) -> list[list[Figure]]:
        """Under a combined rule, the data sheet's figures by offset and angle: their largest ratios add up."""
        coupling = self.train.couplings[place]
        if coupling.limits is None or not coupling.limits.combined:
            return []
        sheet = [figure for figure in figures(coupling) if figure.family == "sheet"]
        groups = [[f for f in sheet if (f.quantity == "offset") is own] for own in (True, False)]
        return groups if all(groups) else []


@dataclass(frozen=True)
class Optimum:
    """A programme solved: variables, value, and the bound below which nothing can lie, all as its costs are. [mm]"""

    variables: Floats
    value: float
    bound: float


def solve(cost: Floats, rows: Rows, bounds: Floats) -> Optimum | None:
    """Least cost by HiGHS; None where the rows contradict each other.

    The bound is the value of the dual, computed from the solver's multipliers: by weak duality nothing lies below it.

    Parameters
    ----------
    cost : ndarray, shape (n,)
        Per variable. [mm] or [1]
    rows : Rows
        Lower and upper ends of linear rows.
    bounds : ndarray, shape (n, 2)
        Of each variable.

    Returns
    -------
    Optimum or None
        None where the rows contradict each other.

    References
    ----------
    Linear programming, weak duality; HiGHS through scipy.
    """
    table, lowest, highest = rows.all()
    equal = lowest == highest
    above, below = ~equal & np.isfinite(highest), ~equal & np.isfinite(lowest)
    upper = np.concatenate([highest[above], -lowest[below]])
    found = optimize.linprog(
        cost,
        A_ub=np.vstack([table[above], -table[below]]),
        b_ub=upper,
        A_eq=table[equal],
        b_eq=lowest[equal],
        bounds=[(low, high) for low, high in bounds.tolist()],
        method="highs",
    )
    if found.status == INFEASIBLE:
        return None
    _check(found.status, found.message)
    dual = float(upper @ found.ineqlin.marginals + lowest[equal] @ found.eqlin.marginals)
    for side, multipliers in ((bounds[:, 0], found.lower.marginals), (bounds[:, 1], found.upper.marginals)):
        finite = np.isfinite(side)
        dual += float(side[finite] @ multipliers[finite])
    assert found.x is not None  # a programme that was solved has its variables
    return Optimum(found.x, float(cost @ found.x), dual)


def solve_whole(cost: Floats, rows: Rows, bounds: Floats, whole: Floats) -> Optimum | None:
    """The same with whole-numbered variables; the bound is that of the branch and bound.

    After `SECONDS` the best that is known is answered, with a bound that may lie below it.

    Parameters
    ----------
    cost : ndarray, shape (n,)
        Per variable. [mm] or [1]
    rows : Rows
        Lower and upper ends of linear rows.
    bounds : ndarray, shape (n, 2)
        Of each variable.
    whole : ndarray of bool, shape (n,)
        Which variables are whole numbers.

    Returns
    -------
    Optimum or None
        None where the rows contradict each other.

    References
    ----------
    Mixed-integer programming by branch and bound; HiGHS through scipy.
    """
    found = optimize.milp(
        cost,
        integrality=whole.astype(int),
        bounds=optimize.Bounds(bounds[:, 0], bounds[:, 1]),
        constraints=optimize.LinearConstraint(*rows.all()),
        options={"mip_rel_gap": 0.0, "time_limit": SECONDS},
    )
    if found.status == INFEASIBLE:
        return None
    if found.status != OUT_OF_TIME or found.x is None:
        _check(found.status, found.message)
    assert found.x is not None  # a programme that was solved has its variables
    return Optimum(found.x, float(cost @ found.x), float(found.mip_dual_bound or 0.0))


def _check(status: int, message: str) -> None:
    if status != 0:
        raise TrainError("", f"The solver gave up ({message}): check distances and limits for a slipped decimal.")
