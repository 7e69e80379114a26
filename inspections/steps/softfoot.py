"""Soft foot of the machines that can be moved, and the shims under each of their feet."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from couplings.engineering.one_figure import judge_figure
from couplings.engineering.softfoot import CORNERS, FEET_AT_LEAST, from_corner_gaps, from_rises
from inspections.models import ShimPack, SoftFoot, Visit
from inspections.models.findings import SIDES
from inspections.steps.figures import DECISION, Verdict, length, limit_words
from inspections.steps.registry import Found, Place, Read, Step, Typed
from inspections.steps.typed import Reading
from plant import units
from plant.calculations import FormField

METHODS = (("rises", "rise of each foot, loosened alone"), ("corners", "gaps at the four corners under each foot"))
HANDS = (("l", "left"), ("r", "right"))
EVERY_FIELD = re.compile(r"(driver|driven)[0-3][lr]\.(rise|corner[0-3]|shims)")
LEFT = "Left and right as seen from the driver end. Leave it empty where only the shims are written down."
# Starters, common practice: feeler leaves come in steps of 0.05 mm, 0.05/sqrt(12) = 0.014 mm, taken as 0.02 mm.
FEELER_STEP_MM, FEELER_U_MM = 0.05, 0.02
MOST_SHIMS, THINNEST_MM, THICKEST_MM = 12, 0.01, 100.0


@dataclass(frozen=True)
class Foot:
    """One foot by the field names it has in the form and the name it has in the record."""

    at: str
    name: str


@dataclass(frozen=True)
class FootFound:
    side: str
    foot: str
    kind: str
    size_mm: float
    corners_mm: tuple[float, ...]
    softest: bool
    shim_mm: float | None
    judged: Verdict


@dataclass(frozen=True)
class Pack:
    """Shims under one foot, from the base up. [mm]"""

    side: str
    foot: str
    typed: str
    shims_mm: tuple[float, ...]


@dataclass(frozen=True)
class Stood:
    """The step as understood."""

    feet: tuple[FootFound, ...]
    packs: tuple[Pack, ...]


def machines_of(visit: Visit) -> Iterator[tuple[str, Any]]:
    """Sides whose machine stands on feet and can be moved; both where the register calls neither movable."""
    sides = [("driver", visit.coupling.driver_machine), ("driven", visit.coupling.driven_machine)]
    standing = [(side, machine) for side, machine in sides if machine.mounting == machine.Mounting.FEET]
    yield from [(side, machine) for side, machine in standing if machine.movable] or standing


def feet_under(side: str, machine: Any) -> list[Foot]:
    """Two feet to every foot plane of the register, left and right as seen from the driver end."""
    planes = [plane.name for plane in machine.foot_planes.all()][:4] or ["inboard", "outboard"]
    return [
        Foot(f"{side}{place}{short}", f"{plane} {hand}") for place, plane in enumerate(planes) for short, hand in HANDS
    ]


def _fields(visit: Visit, typed: Typed) -> list[FormField]:
    rows = [FormField("method", "Soft foot found by", "choice", choices=METHODS, hint=LEFT)]
    method = typed.get("method", "").strip()
    unit = units.label_of("gap", visit.site.units)
    words = dict(SIDES)
    for side, machine in machines_of(visit):
        for foot in feet_under(side, machine):
            group = f"{machine.name.capitalize()}, {words[side]}: {foot.name}"
            if method == "rises":
                rows.append(FormField(f"{foot.at}.rise", "Rise", "gap", group=group))
            elif method == "corners":
                rows += [
                    FormField(f"{foot.at}.corner{place}", f"Gap, {corner}", "gap", group=group)
                    for place, corner in enumerate(CORNERS)
                ]
            rows.append(
                FormField(
                    f"{foot.at}.shims",
                    "Shims",
                    "text",
                    group=group,
                    hint=f"As left, from the base up, such as 2.0 + 0.5 + 0.05, in {unit}. 0 where there are none."
                    if visit.site.units == units.METRIC
                    else f"As left, from the base up, such as 80 + 20 + 2, in {unit}. 0 where there are none.",
                )
            )
    return rows


def _read(typed: Typed, place: Place) -> Read:
    reading = Reading(typed, place)
    method = reading.choice("method", METHODS)
    feet: list[FootFound] = []
    packs: list[Pack] = []
    for side, machine in machines_of(place.visit):
        standing = feet_under(side, machine)
        if method == "rises":
            feet += _rises(reading, place, side, standing)
        elif method == "corners":
            feet += _corners(reading, place, side, standing)
        packs += [pack for foot in standing if (pack := _pack(reading, place, side, foot)) is not None]
    if method and not (feet or reading.read.errors or reading.read.missing):
        reading.read.missing["method"] = (
            "Nothing is measured this way yet: enter the figures, or leave the choice empty."
        )
    return reading.done(Stood(tuple(feet), tuple(packs)))


def _rises(reading: Reading, place: Place, side: str, standing: list[Foot]) -> list[FootFound]:
    rises = [reading.quantity(f"{foot.at}.rise", "gap", 0, 25) for foot in standing]
    if not any(reading.given(f"{foot.at}.rise") for foot in standing):
        return []
    for foot in standing:
        reading.want(f"{foot.at}.rise", "The rise of this foot is missing; 0 where it did not rise.")
    known = [rise for rise in rises if rise is not None]
    if len(known) < max(len(standing), FEET_AT_LEAST):
        return []
    found = from_rises(known, place.site.reading_u_mm)
    rows = [
        FootFound(
            side,
            foot.name,
            "rise",
            rise,
            (),
            number == found.foot,
            found.shim_mm if number == found.foot else None,
            _verdict(rise, place.site.reading_u_mm, place),
        )
        for number, (foot, rise) in enumerate(zip(standing, known, strict=True))
    ]
    worst = rows[found.foot]
    said = f"The {worst.foot} foot rises most, {length(worst.size_mm, place)}"
    if found.shim_mm > found.shim_u_mm:
        said += f", {length(found.shim_mm, place)} more than the others: a shim of that thickness under it fills it"
    _say(reading, place, side, said, worst.judged)
    return rows


def _corners(reading: Reading, place: Place, side: str, standing: list[Foot]) -> list[FootFound]:
    rows = []
    for foot in standing:
        names = [f"{foot.at}.corner{number}" for number in range(4)]
        gaps = [reading.quantity(name, "gap", 0, 25) for name in names]
        if not any(reading.given(name) for name in names):
            continue
        for name in names:
            reading.want(name, "The gap at this corner is missing; 0 where no feeler goes in.")
        known = tuple(gap for gap in gaps if gap is not None)
        if len(known) < 4:
            continue
        found = from_corner_gaps(known, FEELER_STEP_MM)
        shim = found.mean_mm if found.kind == "parallel" else None
        judged = _verdict(found.largest_mm, FEELER_U_MM, place)
        rows.append(FootFound(side, foot.name, found.kind, found.largest_mm, known, False, shim, judged))
        if found.kind == "none":
            said = f"No gap under the {foot.name} foot that a feeler can tell"
        elif found.kind == "parallel":
            said = f"A parallel gap of {length(found.mean_mm, place)} under the {foot.name} foot: a flat shim fills it"
        else:
            between = f"{length(found.smallest_mm, place)} to {length(found.largest_mm, place)}"
            said = (
                f"An angular gap of {between} under the {foot.name} foot, widest {CORNERS[found.widest]}: "
                "make foot or pad flat, or step the shims"
            )
        _say(reading, place, side, said, judged)
    if not rows:
        return rows
    softest = max(range(len(rows)), key=lambda number: rows[number].size_mm)
    return [
        row if number != softest else FootFound(**{**vars(row), "softest": True}) for number, row in enumerate(rows)
    ]


def _say(reading: Reading, place: Place, side: str, said: str, judged: Verdict) -> None:
    sentence = f"{said}. " + limit_words(judged, "this site's", place)
    reading.read.found.append(Found(f"Soft foot, {dict(SIDES)[side]}", sentence, judged.verdict))


def _verdict(size_mm: float, u_mm: float, place: Place) -> Verdict:
    limit = place.site.soft_foot_limit_mm
    judgement = judge_figure(
        size_mm, u_mm, limit, "soft-foot", source="this site", confidence=place.site.confidence, decision=DECISION
    )
    return Verdict.of(judgement, limit)


def _pack(reading: Reading, place: Place, side: str, foot: Foot) -> Pack | None:
    name = f"{foot.at}.shims"
    text = reading.text(name, 120)
    if not text:
        return None
    shims: list[float] = []
    for part in [] if text == "0" else text.split("+"):
        try:
            thickness = units.parse(part.strip(), "gap", place.system)
        except units.UnitError as error:
            reading.refuse(name, f"“{part.strip()[:20]}”: {error} Write the thicknesses as 2.0 + 0.5 + 0.05.")
            return None
        if not THINNEST_MM - 1e-9 <= thickness <= THICKEST_MM:
            written = units.written(thickness, "gap", place.system)
            reading.refuse(name, f"A shim of {written} cannot be meant: between 0.01 mm and 100 mm.")
            return None
        shims.append(thickness)
    if len(shims) > MOST_SHIMS:
        reading.refuse(name, f"{len(shims)} shims under one foot cannot be meant: at most {MOST_SHIMS}.")
        return None
    most = place.site.shims_most
    if len(shims) > most:
        reading.warn(
            f"{len(shims)} shims under the {foot.name} foot, {dict(SIDES)[side]}; this site allows {most} "
            "(published practice: 3 to 5). Make the same height of fewer, thicker ones."
        )
    return Pack(side, foot.name, text, tuple(shims))


def _facts(values: Stood, place: Place) -> list[Any]:
    return [
        *(
            SoftFoot(
                visit=place.visit,
                side=one.side,
                foot=one.foot,
                kind=one.kind,
                size_mm=one.size_mm,
                corners_mm=list(one.corners_mm),
                softest=one.softest,
                shim_mm=one.shim_mm,
                limit_mm=one.judged.limit_mm,
                verdict=one.judged.verdict,
                probability=one.judged.probability,
            )
            for one in values.feet
        ),
        *(
            ShimPack(
                visit=place.visit,
                side=one.side,
                foot=one.foot,
                typed=one.typed,
                shims_mm=list(one.shims_mm),
                count=len(one.shims_mm),
                total_mm=sum(one.shims_mm),
            )
            for one in values.packs
        ),
    ]


def _knows_more(name: str, visit: Visit) -> bool:
    """Fields of the way of measuring that was chosen before stay what they are."""
    if not EVERY_FIELD.fullmatch(name):
        return False
    there = {foot.at for side, machine in machines_of(visit) for foot in feet_under(side, machine)}
    return name.partition(".")[0] in there


SOFT_FOOT = Step(
    "soft-foot",
    "Soft foot and shims",
    _fields,
    _read,
    _facts,
    SoftFoot,
    knows_more=_knows_more,
    applies=lambda visit: any(True for _ in machines_of(visit)),
    spared="Neither machine stands on feet, so there is no soft foot and no shim to write down.",
    beside=(ShimPack,),
)
