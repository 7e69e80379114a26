"""What the page of a train's moves shows beyond the answer: the train on one axis, and its tables."""

from __future__ import annotations

from typing import Any

import numpy as np
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _

from couplings.calculations.moves_answer import MovesResult, reason, relaxation_words, rounded_words
from couplings.engineering.trains import PLANES, WAYS, Train, TrainCoupling, TrainFootMove, lines, straight_line
from plant import units
from plant.drawings import Foot, Limits
from plant.drawings.train import Laid, TrainGate, TrainPicture, TrainShaft, train_picture

STUB = 0.08  # of the train's length, at each end


def drawn(result: MovesResult, system: str) -> dict[str, Any]:
    """The picture, or why there is none, and the rows of the tables."""
    train, found = result.request.train, result.found
    feet, number = [], 0
    for place, machine in enumerate(train.machines):
        for foot, plane in enumerate(machine.feet):
            number += 1
            move = next((one for one in found.moves if (one.machine, one.foot) == (place, foot)), None)
            feet.append(
                {
                    "number": number,
                    "machine": machine,
                    "foot": plane,
                    "move": move,
                    "as_far": _as_far(move),
                    "whole": result.rounded.feet[number - 1] if result.rounded is not None else None,
                    "stays": _stays(move, system),
                }
            )
    couplings = [
        {
            "number": place + 1,
            "driver": train.machines[place].name,
            "driven": train.machines[place + 1].name,
            "rows": [
                (_("found"), found.before[place]),
                *([(_("expected"), found.after[place])] if found.feasible else []),
                *([(_("in whole shims"), result.rounded.after[place])] if result.rounded is not None else []),
            ],
        }
        for place in range(len(train.couplings))
    ]
    context = {
        "reason": reason(result, system),
        "rounded": rounded_words(result, system) if result.rounded is not None else "",
        "feet": feet,
        "couplings": couplings,
        "relaxations": [relaxation_words(result, one, system) for one in found.relaxations],
    }
    try:
        views = train_picture(picture_of(result, system))
    except ValueError as error:
        return context | {"no_picture": str(error)}
    shown = {"side": views.side, "above": views.above}
    return context | {"views": views, **{name: svg and mark_safe(svg) for name, svg in shown.items()}}


def _as_far(move: TrainFootMove | None) -> tuple[bool, bool]:
    """Whether a foot goes as far as it may, up or down and sideways."""
    ways = set(move.at_bound) if move else set()
    return bool(ways & set(WAYS[0])), bool(ways & set(WAYS[1]))


def _stays(move: TrainFootMove | None, system: str) -> tuple[bool, bool]:
    """Whether what a foot is to do rounds to nothing in the digits that are printed, as in the drawing."""
    sizes = (move.up_mm, move.right_mm) if move else (0.0, 0.0)
    up, right = (units.written(size, "gap", system) == units.written(0.0, "gap", system) for size in sizes)
    return up, right


def picture_of(result: MovesResult, system: str) -> TrainPicture:
    """The train on squared paper, level: a machine that may not move lies on the datum, else the feet's mean line."""
    train, found = result.request.train, result.found
    before = lines(train)
    after = before + _moved(result) if found.feasible else None
    level = _level(train, before if after is None else after)
    ends = _ends(train)
    shafts, number = [], 0
    for place, machine in enumerate(train.machines):
        feet = []
        for foot in machine.feet:
            number += 1
            move = found.moves[number - 1] if found.feasible else None
            if move is not None:
                feet.append(Foot(str(number), foot.x_mm, move.up_mm, move.right_mm))
        shafts.append(
            TrainShaft(
                machine.name,
                *ends[place],
                before=_laid(before[place] - level, found.planes),
                after=(None, None) if after is None else _laid(after[place] - level, found.planes),
                feet=tuple(feet),
            )
        )
    return TrainPicture(tuple(shafts), tuple(_gate(coupling) for coupling in train.couplings), system)


def _moved(result: MovesResult) -> np.ndarray:
    """What every machine's line gains: height at X = 0 and slope, in both planes."""
    made = []
    for place, machine in enumerate(result.request.train.machines):
        moves = [move for move in result.found.moves if move.machine == place]
        xs = [foot.x_mm for foot in machine.feet]
        pairs = [(move.up_mm, move.right_mm) for move in moves]
        both = [
            straight_line(xs, [pair[plane] for pair in pairs]) if plane in result.found.planes else (0.0, 0.0)
            for plane in range(len(PLANES))
        ]
        made.append(both)
    return np.array(made)


def _level(train: Train, laid: np.ndarray) -> np.ndarray:
    """The line from which the picture is measured, in both planes."""
    fixed = next((place for place, machine in enumerate(train.machines) if machine.fixed), None)
    if fixed is not None:
        level: np.ndarray = laid[fixed]
        return level
    xs = [foot.x_mm for _number, foot in train.feet()]
    both = []
    for plane in range(len(PLANES)):
        heights = [laid[place, plane, 0] + laid[place, plane, 1] * foot.x_mm / 1000.0 for place, foot in train.feet()]
        both.append(straight_line(xs, heights) if plane in train.planes else (0.0, 0.0))
    return np.array(both)


def _laid(rows: np.ndarray, planes: tuple[int, ...]) -> tuple[Laid | None, Laid | None]:
    vertical, horizontal = (Laid(float(rows[p, 0]), float(rows[p, 1])) if p in planes else None for p in (0, 1))
    return vertical, horizontal


def _ends(train: Train) -> list[tuple[float, float]]:
    """X from which to which each shaft is drawn: from coupling to coupling, with a stub beyond the outermost feet."""
    xs = [foot.x_mm for _number, foot in train.feet()]
    stub = STUB * (max(xs) - min(xs))
    starts, stops = [min(xs) - stub], []
    for coupling in train.couplings:
        driven, driver = coupling.flex_planes_mm or (0.0, 0.0)
        stops.append(coupling.x_mm - driver)
        starts.append(coupling.x_mm - driven)
    return list(zip(starts, [*stops, max(xs) + stub], strict=True))


def _gate(coupling: TrainCoupling) -> TrainGate:
    """What the tightest limits of a coupling leave: at its flex planes where such limits stand, else at its centre."""
    limits = coupling.limits.limits if coupling.limits else ()

    def tightest(*names: str) -> float | None:
        return min((limit.value for limit in limits if limit.quantity in names), default=None)

    a, b, offset = tightest("flex-angle", "flex-angle-a"), tightest("flex-angle", "flex-angle-b"), tightest("offset")
    if coupling.flex_planes_mm is not None and a is not None and b is not None:
        driven, driver = coupling.flex_planes_mm
        gates = Limits.of_flex_angles(a, b, (driven, driver))
        return TrainGate(coupling.x_mm, gates, (coupling.x_mm - driver, coupling.x_mm - driven))
    return TrainGate(coupling.x_mm, None if offset is None else Limits(offset_mm=offset))
