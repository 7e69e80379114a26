"""Moves of a train of two to six machines on one datum: the smallest set that brings every coupling in.

The frame and its signs stand at the head of `trains_geometry`, the programme in `trains_programme`, what is searched
for in `trains_objectives`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from couplings.engineering.trains_geometry import (
    PLANES,
    WAYS,
    FootPlane,
    Train,
    TrainCoupling,
    TrainError,
    TrainMachine,
    check,
    lines,
    residuals,
    straight_line,
)
from couplings.engineering.trains_left import CouplingLeft, Held, coupling_left
from couplings.engineering.trains_objectives import Relaxation, Search
from couplings.engineering.trains_programme import SIDES, TINY_MM, Optimum

__all__ = [
    "OBJECTIVES",
    "PLANES",
    "SIDES",
    "WAYS",
    "CouplingLeft",
    "FootPlane",
    "Held",
    "Relaxation",
    "Train",
    "TrainCoupling",
    "TrainError",
    "TrainFootMove",
    "TrainMachine",
    "TrainMoves",
    "coupling_left",
    "lines",
    "residuals",
    "straight_line",
    "train_moves",
]

OBJECTIVES = ("least-total", "least-largest", "fewest-feet")


@dataclass(frozen=True)
class TrainFootMove:
    """What one foot plane does, up and right in the train's frame; nan in a plane that was not measured. [mm]

    `at_bound` names the ways (down, up, left, right) in which it goes as far as it may.
    """

    machine: int
    foot: int
    up_mm: float
    right_mm: float
    at_bound: tuple[str, ...] = ()

    @property
    def moves(self) -> bool:
        """Whether the foot has to be touched at all."""
        return any(abs(move) > 10 * TINY_MM for move in (self.up_mm, self.right_mm))


@dataclass(frozen=True)
class TrainMoves:
    """The answer for a train. Shares of the limits [1], moves and bounds. [mm]

    Attributes
    ----------
    value, bound : float or None
        Of the objective: millimetres, or a number of foot planes for 'fewest-feet'. Nothing can lie below the bound:
        the value of the dual for a linear programme, that of the branch and bound for a mixed-integer one.
    moves : tuple of TrainFootMove
        Every foot plane from the driver end on; empty where no set of moves exists.
    before, after : tuples of CouplingLeft
        `after` is empty where no set of moves exists.
    relaxations : tuple of Relaxation
        Where no set of moves exists: the bounds that have to give, the least in all.
    nearest_share : float or None
        Where no set of moves exists: the smallest share of the limits that the bounds allow.
    """

    objective: str
    share: float
    planes: tuple[int, ...]
    before: tuple[CouplingLeft, ...]
    after: tuple[CouplingLeft, ...] = ()
    moves: tuple[TrainFootMove, ...] = ()
    value: float | None = None
    bound: float | None = None
    relaxations: tuple[Relaxation, ...] = ()
    nearest_share: float | None = None

    @property
    def feasible(self) -> bool:
        """Whether there is a set of moves."""
        return self.value is not None

    @property
    def gap(self) -> float | None:
        """Value less bound, in the objective's own unit; never below zero but for the solver's dust."""
        return None if self.value is None or self.bound is None else max(0.0, self.value - self.bound)

    @property
    def sizes_mm(self) -> tuple[float, ...]:
        """Every move's size, in the planes that were measured. [mm]"""
        sizes = (abs(move) for one in self.moves for move in (one.up_mm, one.right_mm))
        return tuple(size for size in sizes if not math.isnan(size))


def train_moves(train: Train, objective: str = "least-total", share: float = 1.0) -> TrainMoves:
    """Find the moves that bring every coupling of a train inside its limits, in both planes at once.

    Parameters
    ----------
    train : Train
        Two to six machines, two to four foot planes each; X, up and right as in `trains_geometry`. [mm, mrad]
    objective : {'least-total', 'least-largest', 'fewest-feet'}
        Least sum of all moves up, down and sideways; least of the largest of them (among those, the least sum); fewest
        foot planes touched in any direction (among those, the least sum).
    share : float
        Share of the limits that may be used, 0 (exactly on target) to 1. A coupling without limits is brought exactly
        to its target.

    Returns
    -------
    TrainMoves
        `feasible` says whether the bounds allow it; otherwise `relaxations` say which have to give.

    Raises
    ------
    TrainError
        Anything in the train that cannot be used, by path; another objective; a share outside 0 to 1.

    Notes
    -----
    A limit on a vector is kept by a polygon of 32 sides inside its circle, so up to 0.5 % of it may be left unused
    between its corners; per-plane limits and misalignment in one plane are exact. A machine is rigid: planes between
    its outermost ones follow the straight line. Moves are taken as exact. The survey's uncertainty does not choose
    them: each coupling says with which probability they leave it in, and `trains_sure.sure_moves` finds the share that
    leaves room for it.

    References
    ----------
    Linear programme for the least sum and the least largest move: H. P. Bloch and F. K. Geitner, Machinery Component
    Maintenance and Repair, ch. 5, p. 227 to 229, finds the same by plotting (their pivots are the feet that stay).
    Solved by HiGHS (Huangfu and Hall 2018) through SciPy.
    """
    errors: dict[str, str] = {}
    if objective not in OBJECTIVES:
        errors["objective"] = f"Choose one of: {', '.join(OBJECTIVES)}."
    if not 0.0 <= share <= 1.0:
        errors["share"] = "The share of the limits lies between 0 and 1."
    if errors:
        raise TrainError(errors)
    check(train)
    before = tuple(coupling_left(coupling, coupling.deviation) for coupling in train.couplings)
    search = Search(train, share)
    found = {
        "least-total": search.least_total,
        "least-largest": search.least_largest,
        "fewest-feet": search.fewest_feet,
    }[objective]()
    if found is None:
        return TrainMoves(
            objective,
            share,
            train.planes,
            before,
            relaxations=search.relaxations(),
            nearest_share=search.nearest_share(),
        )
    moves = _foot_moves(train, search, found)
    by_machine = [[(m.up_mm, m.right_mm) for m in moves if m.machine == place] for place in range(len(train.machines))]
    after = tuple(
        coupling_left(coupling, left)
        for coupling, left in zip(train.couplings, residuals(train, by_machine), strict=True)
    )
    return TrainMoves(objective, share, train.planes, before, after, moves, found.value, found.bound)


def _foot_moves(train: Train, search: Search, found: Optimum) -> tuple[TrainFootMove, ...]:
    """The moves of every foot; what is smaller than the solver's tolerance is no move."""
    programme = search.programme
    table = np.full((2, len(programme.owners)), math.nan)
    for plane, rows in zip(programme.planes, programme.feet, strict=True):
        table[plane] = rows @ found.variables[: programme.size]
    table[np.abs(table) <= 10 * TINY_MM] = 0.0
    moves, before, number = [], -1, 0
    for column, (place, foot) in enumerate(train.feet()):
        number = number + 1 if place == before else 0
        before = place
        at_bound = []
        for plane in programme.planes if not train.machines[place].fixed else ():
            for side, (way, bound) in enumerate(zip(WAYS[plane], foot.bounds(plane), strict=True)):
                if (table[plane, column] < 0) == (side == 0) and abs(table[plane, column] - bound) <= 10 * TINY_MM:
                    at_bound.append(way)
        up, right = (float(move) for move in table[:, column])
        moves.append(TrainFootMove(place, number, up, right, tuple(at_bound)))
    return tuple(moves)
