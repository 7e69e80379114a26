"""The question 'what if' under the result of a survey: moves typed in the address, the answer below, nothing kept."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from couplings.calculations import moves_page
from couplings.calculations.picture import picture_of
from couplings.engineering.moves import FootMove
from inspections.models import Visit
from inspections.selectors.whatif import TRAVEL_MM, Move, TrainTrial, Trial, train_tried, tried
from inspections.steps.judging import FootAdvice, Judged
from plant import units
from plant.calculations import FormField
from plant.pages.fields import id_of, shown_groups

PREFIX = "try-"
STRAIGHT_MM = 0.005
WAYS = ("up", "right")


def whatif_of(visit: Visit, found: Judged, given: Mapping[str, str], system: str) -> dict[str, Any] | None:
    """The form, its errors, and the answer where moves were asked for; None where the feet are not known."""
    if not found.feet:
        return None
    planes = {"up": found.misalignment.has_vertical, "right": found.misalignment.has_horizontal}
    rows = [
        FormField(
            f"{way}{n}",
            _("up; − is down") if way == "up" else _("right; − is left"),
            "gap",
            group=(one.move.name or _("Feet %d") % (n + 1)).capitalize(),
            required=True,
        )
        for n, one in enumerate(found.feet)
        for way in WAYS
        if planes[way]
    ]
    asked = any(PREFIX + row.name in given for row in rows)
    typed = {row.name: given.get(PREFIX + row.name, "") for row in rows} if asked else _advised(found.feet, system)
    moves, errors = _read(found.feet, rows, typed, system) if asked else ((), {})
    trial = tried(found, moves) if moves else None
    train = train_tried(visit, found, trial)
    return {
        "groups": shown_groups(rows, typed, errors, system, prefix=PREFIX),
        "problems": [
            {"id": id_of(row.name), "label": f"{row.group}, {row.label}", "message": errors[row.name]}
            for row in rows
            if row.name in errors
        ],
        "movable": _movable(visit, found),
        "trial": trial,
        "bent": trial is not None and trial.bent_mm > STRAIGHT_MM,
        "picture": _picture(visit, found, trial, system) if trial is not None else None,
        "train": _train(train, system) if train is not None else None,
    }


def _movable(visit: Visit, found: Judged) -> str:
    coupling = visit.coupling
    machine = coupling.driver_machine if found.surveyed.movable == "driver" else coupling.driven_machine
    return machine.name


def _advised(feet: tuple[FootAdvice, ...], system: str) -> dict[str, str]:
    """What the advice above says: shims as the stock has them, sideways as computed."""
    unit = units.unit_of("gap", system)
    advised = {}
    for n, one in enumerate(feet):
        for way, move in (("up", one.shim_mm), ("right", one.move.right_mm)):
            if move is not None and math.isfinite(move):
                advised[f"{way}{n}"] = units.figures(units.in_unit(move, "gap", unit), "gap", system)
    return advised


def _read(
    feet: tuple[FootAdvice, ...], rows: list[FormField], typed: Mapping[str, str], system: str
) -> tuple[tuple[Move, ...], dict[str, str]]:
    """The moves, or everything that is wrong with them by its field."""
    values: dict[str, float] = {}
    errors: dict[str, str] = {}
    for row in rows:
        text = typed[row.name].strip()
        if not text:
            errors[row.name] = _("Say how far this foot plane goes, 0 where it stays.")
            continue
        try:
            value = units.parse(text, "gap", system)
        except units.UnitError as error:
            errors[row.name] = str(error)
            continue
        if abs(value) > TRAVEL_MM:
            errors[row.name] = _("This is more than %s: is the unit right?") % units.written(TRAVEL_MM, "gap", system)
        values[row.name] = value
    if errors:
        return (), errors
    return tuple(
        Move(one.move.name, one.move.x_mm, values.get(f"up{n}", 0.0), values.get(f"right{n}", 0.0))
        for n, one in enumerate(feet)
    ), {}


def _picture(visit: Visit, found: Judged, trial: Trial, system: str) -> Any:
    """Where the shafts would lie; the feet say what is then still to move."""
    coupling = visit.coupling
    names = {"driver": coupling.driver_machine.name, "driven": coupling.driven_machine.name}
    return picture_of(
        trial.position,
        found.target,
        found.flex_planes_mm,
        found.yardstick.limits.limits,
        [_still(one, found, trial) for one in trial.moves],
        stationary=names[found.surveyed.stationary],
        movable=names[found.surveyed.movable],
        system=system,
        expected=_("after these moves"),
    )


def _still(move: Move, found: Judged, trial: Trial) -> FootMove:
    v, h, sv, sh = (a - b for a, b in zip(found.target, trial.position.mean, strict=True))
    return FootMove(move.name, move.x_mm, v + sv * move.x_mm / 1000, h + sh * move.x_mm / 1000, math.nan, math.nan)


def _train(train: TrainTrial, system: str) -> dict[str, Any]:
    """The train's words, tables and picture: dashed where the moves tried, else the least moves, would bring it."""
    least = moves_page.drawn(train.least, system) if train.least is not None else None
    moved = moves_page.drawn(train.moved, system) if train.moved is not None else None
    return {"said": train, "least": least, "moved": moved, "drawn": moved or least}
