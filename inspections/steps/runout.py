"""Run-out of shafts and hubs on both sides: the total of one turn, or readings round the clock."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from couplings.engineering.one_figure import judge_figure
from couplings.engineering.runout import RunOutError, eccentricity, limit_by_diameter_mm, run_out_mm
from couplings.engineering.tables.runouts import STARTER_TABLES, RunOutTable
from couplings.engineering.upright import compass_point
from couplings.models import Instrument
from inspections.models import RunOut, Visit
from inspections.models.findings import SIDES
from inspections.steps.figures import DECISION, Verdict, length, limit_words
from inspections.steps.registry import Found, Place, Read, Step, Typed
from inspections.steps.typed import Reading
from inspections.steps.upright import POINTS, upright
from plant import units
from plant.calculations import FormField

PARTS = (("shaft", "shaft"), ("hub", "hub"))
DIALS = ("dial", "alignment")
HOURS = (12, 3, 6, 9)


@dataclass(frozen=True)
class Swept:
    """One surface. Angles clockwise from 12 [deg], readings and run-out [mm]."""

    side: str
    part: str
    run_out_mm: float
    diameter_mm: float | None
    readings: tuple[tuple[float, str, float], ...]
    table: str
    judged: Verdict
    instrument: Instrument | None


def _fields(visit: Visit, typed: Typed) -> list[FormField]:
    rows, stands = [], upright(visit.coupling)
    for side, side_words in SIDES:
        for part, part_words in PARTS:
            at, group = f"{side}_{part}", f"{part_words.capitalize()}, {side_words}"
            table = _table(part, visit.site)
            rows += [
                FormField(
                    f"{at}.diameter",
                    "Diameter where the dial stood",
                    "size",
                    group=group,
                    hint=f"Its limit is read from the table: {table.title} ({table.source}).",
                ),
                FormField(
                    f"{at}.tir",
                    "Total over one turn",
                    "gap",
                    group=group,
                    hint="Where only the total was read; else the readings above.",
                ),
                *(FormField(f"{at}.{hour}", _at(hour, stands), "gap", group=group) for hour in HOURS),
                FormField(f"{at}.dial", "Dial", "instrument", group=group),
            ]
    return rows


def _at(hour: int, stands: bool) -> str:
    return POINTS[hour] if stands else f"At {hour}"


def _table(part: str, site: Any) -> RunOutTable:
    return STARTER_TABLES[site.hub_run_out_table if part == "hub" else site.shaft_run_out_table]


def _read(typed: Typed, place: Place) -> Read:
    reading = Reading(typed, place)
    swept = [_swept(reading, place, side, part) for side, _words in SIDES for part, _words in PARTS]
    return reading.done([one for one in swept if one is not None])


def _swept(reading: Reading, place: Place, side: str, part: str) -> Swept | None:
    at = f"{side}_{part}"
    diameter = reading.quantity(f"{at}.diameter", "size", 1, 10_000)
    total = reading.quantity(f"{at}.tir", "gap", 0, 25)
    dial = reading.instrument(f"{at}.dial", DIALS)
    readings = []
    for hour in HOURS:
        value = reading.quantity(f"{at}.{hour}", "gap", -25, 25)
        if value is not None:
            readings.append((float(hour % 12 * 30), reading.given(f"{at}.{hour}")[:40], value))
    if reading.given(f"{at}.tir") and readings:
        reading.refuse(f"{at}.tir", "Give the total or the readings round it, not both.")
        return None
    if len(readings) == 1:
        reading.read.missing.setdefault(f"{at}.tir", "A run-out needs two readings or more, or their total.")
        return None
    if total is None and not readings:
        if reading.given(f"{at}.diameter") or reading.given(f"{at}.dial"):
            reading.read.missing.setdefault(f"{at}.tir", "The run-out itself is not there yet.")
        return None
    found = float(run_out_mm([mm for _angle, _typed, mm in readings])) if total is None else total
    u_mm = dial.standard_u_mm if dial is not None and dial.standard_u_mm is not None else place.site.reading_u_mm
    table = _table(part, place.site)
    judged, words = _judged(place, found, u_mm, diameter, table)
    subject = f"{part.capitalize()}, {dict(SIDES)[side]}"
    sentence = f"Run-out {length(found, place)}{_highest(readings, u_mm, upright(place.visit.coupling))}. {words}"
    reading.read.found.append(Found(subject, sentence, judged.verdict))
    return Swept(
        side, part, found, diameter, tuple(readings), table.name if judged.limit_mm is not None else "", judged, dial
    )


def _judged(
    place: Place, found_mm: float, u_mm: float, diameter_mm: float | None, table: RunOutTable
) -> tuple[Verdict, str]:
    if diameter_mm is None:
        return Verdict(), "Enter the diameter: the limit is read from a table by it."
    try:
        limit = limit_by_diameter_mm(diameter_mm, table)
    except RunOutError:
        size = units.written(diameter_mm, "size", place.system)
        return (
            Verdict(),
            f"The table “{table.title}” has no limit for a diameter of {size}: the site may choose another.",
        )
    # Two readings stand in a total.
    judgement = judge_figure(
        found_mm,
        math.sqrt(2.0) * u_mm,
        limit,
        "run-out",
        source=table.source,
        confidence=place.site.confidence,
        decision=DECISION,
    )
    judged = Verdict.of(judgement, limit)
    return judged, limit_words(judged, f"{table.title}, {table.source}", place)


def _highest(readings: list[tuple[float, str, float]], u_mm: float, stands: bool) -> str:
    if len(readings) < 3:
        return ""
    found = eccentricity([angle for angle, _, _ in readings], [mm for _, _, mm in readings], u_mm)
    if found.direction_deg is None:
        return ""
    if stands:
        return f", highest near {compass_point(found.direction_deg)}"
    return f", highest near {round(found.direction_deg / 30) % 12 or 12} o'clock"


def _facts(values: list[Swept], place: Place) -> list[Any]:
    return [
        RunOut(
            visit=place.visit,
            side=one.side,
            part=one.part,
            run_out_mm=one.run_out_mm,
            diameter_mm=one.diameter_mm,
            readings=[{"angle_deg": angle, "typed": typed, "mm": mm} for angle, typed, mm in one.readings],
            limit_table=one.table,
            limit_mm=one.judged.limit_mm,
            verdict=one.judged.verdict,
            probability=one.judged.probability,
            instrument=one.instrument,
        )
        for one in values
    ]


RUN_OUT = Step("run-out", "Run-out", _fields, _read, _facts, RunOut)
