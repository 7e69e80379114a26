"""Pipe strain: how far each shaft moved at the coupling while its piping was made up.

On upright and flange-mounted machines it moves to N and E: there is no up at their coupling, and no right or left.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from couplings.engineering.one_figure import judge_vector
from couplings.engineering.pipestrain import movement
from couplings.models import Instrument
from inspections.models import PipeStrain, Visit
from inspections.models.findings import SIDES
from inspections.steps.figures import DECISION, Verdict, length, limit_words
from inspections.steps.registry import Found, Place, Read, Step, Typed
from inspections.steps.typed import Reading
from inspections.steps.upright import NORTH, upright
from plant.calculations import FormField

ENDS = (("driver", "from the driver end"), ("driven", "from the driven end"))
DIALS = ("dial", "alignment")


@dataclass(frozen=True)
class Strained:
    """Movement of one machine's shaft; horizontal is positive to the right as seen from the driver end. [mm]

    By `compass` points vertical is positive to the north and horizontal to the east.
    """

    side: str
    vertical_mm: float
    horizontal_mm: float
    judged: Verdict
    instrument: Instrument | None
    compass: bool = False
    north_is: str = ""


def _fields(visit: Visit, typed: Typed) -> list[FormField]:
    machines = {"driver": visit.coupling.driver_machine.name, "driven": visit.coupling.driven_machine.name}
    compass = upright(visit.coupling)
    rows = [NORTH if compass else FormField("viewed_from", "Right and left as seen", "choice", choices=ENDS)]
    up, right = ("to the north", "to the east") if compass else ("up", "to the right")
    down, left = ("To the south", "To the west") if compass else ("Down", "To the left")
    for side, words in SIDES:
        group = f"{machines[side].capitalize()}, {words}"
        rows += [
            FormField(
                f"{side}.vertical",
                f"Moved {up}",
                "gap",
                group=group,
                hint=f"After make-up, dials zeroed with the piping loose. {down} is minus.",
            ),
            FormField(f"{side}.horizontal", f"Moved {right}", "gap", group=group, hint=f"{left} is minus."),
            FormField(f"{side}.dial", "Dial", "instrument", group=group),
        ]
    return rows


def _read(typed: Typed, place: Place) -> Read:
    reading, compass = Reading(typed, place), upright(place.visit.coupling)
    viewed_from = "" if compass else reading.choice("viewed_from", ENDS)
    north_is = reading.text("north_is", 60) if compass else ""
    up_words, right_words = ("north", "east") if compass else ("vertical", "horizontal")
    found = []
    for side, words in SIDES:
        up = reading.quantity(f"{side}.vertical", "gap", -25, 25)
        right = reading.quantity(f"{side}.horizontal", "gap", -25, 25)
        dial = reading.instrument(f"{side}.dial", DIALS)
        if not (reading.given(f"{side}.vertical") or reading.given(f"{side}.horizontal")):
            continue
        reading.want(f"{side}.vertical", f"The {up_words} movement is missing; 0 where the dial stayed.")
        reading.want(f"{side}.horizontal", f"The {right_words} movement is missing; 0 where the dial stayed.")
        if right and not compass:
            reading.want("viewed_from", "Say from which end right and left were seen.")
        if up is None or right is None:
            continue
        seen = -right if viewed_from == "driven" else right
        judged = _judged(reading, place, side, words, up, seen + 0.0, dial)
        found.append(replace(judged, compass=compass, north_is=north_is))
    return reading.done(found)


def _judged(
    reading: Reading, place: Place, side: str, words: str, up: float, right: float, dial: Instrument | None
) -> Strained:
    u_mm = dial.standard_u_mm if dial is not None and dial.standard_u_mm is not None else place.site.reading_u_mm
    moved, limit = movement((0.0, 0.0), (up, right), u_mm), place.site.pipe_strain_limit_mm
    judgement = judge_vector(
        (up, right),
        (moved.u_mm, moved.u_mm),
        limit,
        "shaft-movement",
        source="this site",
        confidence=place.site.confidence,
        decision=DECISION,
    )
    judged = Verdict.of(judgement, limit)
    direction = _compass(up, right) if upright(place.visit.coupling) else _direction(up, right)
    said = f"The shaft moved {length(moved.size_mm, place)}{direction}. "
    reading.read.found.append(
        Found(f"Pipe strain, {words}", said + limit_words(judged, "this site's", place), judged.verdict)
    )
    return Strained(side, up, right, judged, dial)


def _compass(north: float, east: float) -> str:
    """ "to the north and west"."""
    words = [word for number, word in ((north, "north"), (-north, "south"), (east, "east"), (-east, "west"))
             if number > 0]  # fmt: skip
    return f" to the {' and '.join(words)}" if words else ""


def _direction(up: float, right: float) -> str:
    """ "up and to the left", as seen from the driver end."""
    words = [word for number, word in ((up, "up"), (-up, "down")) if number > 0]
    words += [word for number, word in ((right, "to the right"), (-right, "to the left")) if number > 0]
    return f" {' and '.join(words)}{', seen from the driver end' if right else ''}" if words else ""


def _facts(values: list[Strained], place: Place) -> list[Any]:
    return [
        PipeStrain(
            visit=place.visit,
            side=one.side,
            vertical_mm=one.vertical_mm,
            horizontal_mm=one.horizontal_mm,
            limit_mm=one.judged.limit_mm,
            verdict=one.judged.verdict,
            probability=one.judged.probability,
            instrument=one.instrument,
            positions="compass" if one.compass else "",
            north_is=one.north_is,
        )
        for one in values
    ]


PIPE_STRAIN = Step("pipe-strain", "Pipe strain", _fields, _read, _facts, PipeStrain)
