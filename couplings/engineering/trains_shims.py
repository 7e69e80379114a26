"""The moves of a train as the site's shim stock can make them, and what rounding leaves at every coupling."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from couplings.engineering.limits import Limit, Limits
from couplings.engineering.trains import TrainFootMove, TrainMoves
from couplings.engineering.trains_geometry import Floats, Train, TrainError, residuals
from couplings.engineering.trains_left import CouplingLeft, coupling_left
from couplings.engineering.trains_programme import TINY_MM, Programme, solve_whole

EPS = 1e-6
# A coupling without limits is to come exactly to its target, which whole shims cannot promise: it does not steer.
_WIDE = Limits((Limit("offset", 1e4),))


@dataclass(frozen=True)
class RoundedFoot:
    """One foot plane in whole steps of the stock. [mm]

    `up_mm` is what the shims do (take out is negative), `stands_off_mm` what a plane between the outermost ones would
    still need to follow the machine's straight line, at most half a step.
    """

    machine: int
    foot: int
    up_mm: float
    right_mm: float
    stands_off_mm: float = 0.0


@dataclass(frozen=True)
class RoundedMoves:
    """The moves in whole shims.

    Attributes
    ----------
    stock_mm : float
        The step. [mm]
    feet : tuple of RoundedFoot
        Every foot plane from the driver end on.
    after : tuple of CouplingLeft
        What is left at every coupling.
    nearest_broke : tuple of int
        Couplings that each foot's nearest step would have put beyond the share of their limits.
    searched : bool
        Other steps than the nearest were taken, because the nearest broke a limit.
    broken : tuple of int
        Couplings that still lie beyond the share: no whole shims within the bounds keep them all.
    """

    stock_mm: float
    feet: tuple[RoundedFoot, ...]
    after: tuple[CouplingLeft, ...]
    nearest_broke: tuple[int, ...] = ()
    searched: bool = False
    broken: tuple[int, ...] = ()


def rounded_moves(train: Train, found: TrainMoves, stock_mm: float) -> RoundedMoves:
    """Round the vertical moves of a train to whole steps of the shim stock, and search on where that breaks a limit.

    Parameters
    ----------
    train : Train
        As in `train_moves`. [mm, mrad]
    found : TrainMoves
        Its answer, feasible.
    stock_mm : float
        Step in which shims can be made up. [mm]

    Returns
    -------
    RoundedMoves
        First every outermost foot's nearest step; where a coupling then lies beyond the share of its limits, the whole
        steps nearest in sum to the computed moves that keep every coupling, sideways moves following. Feet that were
        not to be touched stay so where that is possible. [mm]

    Raises
    ------
    TrainError
        A step that is not above zero or not finite, or an answer without moves.

    Notes
    -----
    Sideways moves are made with jack bolts and are not rounded. Moves are taken as exact.

    References
    ----------
    Mixed-integer programming by branch and bound; HiGHS through SciPy.
    """
    if not (math.isfinite(stock_mm) and stock_mm >= 0.001):
        raise TrainError("shim_stock", "A shim's thickness must be a number above zero.")
    if not found.feasible:
        raise TrainError("", "There are no moves to round.")
    programme = Programme(train)
    computed = _ends(train, found)
    nearest = _nearest(train, programme, computed, stock_mm)
    result = _laid(train, found, nearest, stock_mm)
    broke = _beyond(train, result.after, found.share)
    if not broke or 0 not in found.planes:
        return replace(result, broken=broke, nearest_broke=broke)
    kept = _search(train, programme, found, computed, stock_mm)
    if kept is None:
        return replace(result, broken=broke, nearest_broke=broke)
    better = _laid(train, found, kept, stock_mm)
    left = _beyond(train, better.after, found.share)
    if left:
        return replace(result, broken=broke, nearest_broke=broke)
    return replace(better, nearest_broke=broke, searched=True)


def _ends(train: Train, found: TrainMoves) -> Floats:
    """The moves of every machine's first and last foot plane: rows machines, then (up first, up last, right ..)."""
    table = np.zeros((len(train.machines), 2, 2))
    for place, machine in enumerate(train.machines):
        order = sorted(range(len(machine.feet)), key=lambda n: machine.feet[n].x_mm)
        own = [move for move in found.moves if move.machine == place]
        for end, number in enumerate((order[0], order[-1])):
            for plane, move in enumerate((own[number].up_mm, own[number].right_mm)):
                table[place, plane, end] = 0.0 if math.isnan(move) else move
    return table


def _end_bounds(train: Train, programme: Programme, place: int) -> Floats:
    """Lowest and highest up of a machine's first and last foot plane. [mm]"""
    machine = train.machines[place]
    if 0 not in programme.planes or machine.fixed:
        return np.zeros((2, 2))
    order = sorted(range(len(machine.feet)), key=lambda n: machine.feet[n].x_mm)
    return np.array([machine.feet[number].bounds(0) for number in (order[0], order[-1])])


def _nearest(train: Train, programme: Programme, computed: Floats, stock_mm: float) -> Floats:
    made = computed.copy()
    for place in range(len(train.machines)):
        bounds = _end_bounds(train, programme, place)
        for end in range(2):
            steps = math.floor(abs(computed[place, 0, end]) / stock_mm + 0.5)
            up = math.copysign(steps * stock_mm, computed[place, 0, end])
            low, high = bounds[end]
            if up > high + EPS:
                up = math.floor(high / stock_mm + EPS) * stock_mm
            if up < low - EPS:
                up = -math.floor(-low / stock_mm + EPS) * stock_mm
            made[place, 0, end] = up + 0.0
    return made


def _laid(train: Train, found: TrainMoves, ends: Floats, stock_mm: float) -> RoundedMoves:
    """Every foot plane and coupling once the ends of each machine have moved so."""
    feet, by_machine = [], []
    for place, machine in enumerate(train.machines):
        first, last = machine.ends
        rows = []
        for number, foot in enumerate(machine.feet):
            share = (foot.x_mm - first) / (last - first)
            up, right = (float(ends[place, p, 0] * (1 - share) + ends[place, p, 1] * share) for p in (0, 1))
            rows.append((up, right))
            whole = math.copysign(math.floor(abs(up) / stock_mm + 0.5) * stock_mm, up)
            known = [math.nan if plane not in found.planes else 0.0 for plane in (0, 1)]
            sideways = 0.0 if abs(right) <= 10 * TINY_MM else right
            feet.append(RoundedFoot(place, number, whole + known[0], sideways + known[1], up - whole + known[0]))
        by_machine.append(rows)
    after = tuple(
        coupling_left(coupling, left)
        for coupling, left in zip(train.couplings, residuals(train, by_machine), strict=True)
    )
    return RoundedMoves(stock_mm, tuple(feet), after)


def _beyond(train: Train, after: tuple[CouplingLeft, ...], share: float) -> tuple[int, ...]:
    return tuple(place for place, one in enumerate(after) if one.used is not None and one.used > share + EPS)


def _search(train: Train, programme: Programme, found: TrainMoves, computed: Floats, stock_mm: float) -> Floats | None:
    """The whole steps nearest in sum to the computed moves that keep every coupling; None where there are none."""
    if found.share <= 0:
        return None
    steered = replace(
        train,
        couplings=tuple(
            one if one.limits and one.limits.limits else replace(one, limits=_WIDE) for one in train.couplings
        ),
    )
    resting = {(move.machine, move.foot) for move in found.moves if not _moves(move)}
    for hold in (resting, set[tuple[int, int]]()):
        kept = _programme(steered, programme.planes, found.share, computed, stock_mm, hold)
        if kept is not None:
            return kept
    return None


def _moves(move: TrainFootMove) -> bool:
    return move.moves


def _programme(
    train: Train,
    planes: tuple[int, ...],
    share: float,
    computed: Floats,
    stock_mm: float,
    hold: set[tuple[int, int]],
) -> Floats | None:
    """Columns behind the moves: a whole number of steps for each vertical end, then each end's distance."""
    programme = Programme(train)
    ends = 2 * len(train.machines)
    rows = programme.couplings(share, ends + programme.size)
    start = rows.width - ends - programme.size
    bounds = np.column_stack([np.zeros(rows.width), np.full(rows.width, np.inf)])
    bounds[: programme.size, 0] = -np.inf
    whole = np.zeros(rows.width)
    whole[start : start + ends] = 1.0
    bounds[start : start + ends, 0] = -np.inf
    for table, pairs in zip(programme.feet, programme.bounds, strict=True):
        bounded = np.isfinite(pairs).any(axis=1)
        if bounded.any():
            rows.add(table[bounded], pairs[bounded, 0], pairs[bounded, 1])
    for table in programme.feet:
        for row, (place, foot) in zip(table, _numbered(train), strict=True):
            if (place, foot) in hold:
                rows.add(row, 0.0, 0.0)
    vertical = planes.index(0) * ends
    for end in range(ends):
        row = np.zeros(rows.width)
        row[vertical + end], row[start + end] = 1.0, -stock_mm
        rows.add(row, 0.0, 0.0)
    for number, plane in enumerate(planes):
        for end in range(ends):
            column = number * ends + end
            wanted = float(computed[end // 2, plane, end % 2])
            for sign in (1.0, -1.0):
                row = np.zeros(rows.width)
                row[column], row[start + ends + column] = sign, -1.0
                rows.add(row, -math.inf, sign * wanted)
    cost = np.zeros(rows.width)
    cost[start + ends :] = 1.0
    best = solve_whole(cost, rows, bounds, whole)
    if best is None:
        return None
    made = computed.copy()
    for number, plane in enumerate(planes):
        pairs = best.variables[number * ends : (number + 1) * ends].reshape(-1, 2)
        made[:, plane, :] = np.round(pairs / stock_mm) * stock_mm + 0.0 if plane == 0 else pairs
    return made


def _numbered(train: Train) -> list[tuple[int, int]]:
    return [(place, number) for place, machine in enumerate(train.machines) for number in range(len(machine.feet))]
