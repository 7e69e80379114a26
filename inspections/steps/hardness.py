"""Shore hardness in the step Wear: five readings of the element that is left in place, against its own first ones."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import F

from couplings.engineering.hardness import (
    READINGS,
    Hardness,
    HardnessChange,
    HardnessError,
    hardness,
    hardness_change,
)
from couplings.models import Element, SheetVersion
from inspections.models import Hardness as HardnessFact
from inspections.models import Visit
from inspections.steps.registry import Found, Place
from inspections.steps.typed import Reading
from plant import units
from plant.calculations import FormField

OUT = "out of tolerance"
SCALE = "hardness.scale"
NAMES = tuple(f"hardness.position{number}" for number in range(1, READINGS + 1))
BEYOND = 3  # the grade of a change beyond the data sheet's limit, common practice


@dataclass(frozen=True)
class Measured:
    """Hardness as it was read; `first` and `first_on` are None where this is the element's first reading."""

    now: Hardness
    change: HardnessChange | None = None
    first: float | None = None
    first_on: date | None = None
    limit_points: float | None = None

    @property
    def verdict(self) -> str:
        return self.change.verdict if self.change is not None else "not known"

    @property
    def grade(self) -> int | None:
        return BEYOND if self.verdict == OUT else None


def hardness_fields(visit: Visit) -> list[FormField]:
    """Scale and readings, for elements that age."""
    version = visit.sheet_version
    if not version.sheet.family.ages:
        return []
    group = "Hardness of the element left in place"
    sheet = f" The data sheet names Shore {version.hardness_scale}." if version.hardness_scale else ""
    return [
        FormField(
            SCALE,
            "Scale",
            "choice",
            False,
            group,
            tuple(SheetVersion.Shore.choices),
            f"As on the tester.{sheet} Scales never mix: another scale begins a new series.",
        ),
        *(FormField(name, f"Reading {no}", "text", False, group) for no, name in enumerate(NAMES, 1)),
    ]


def read_hardness(reading: Reading, place: Place) -> Measured | None:
    """The readings understood, with what they say; None where none was taken or something is wrong."""
    visit, version = place.visit, place.version
    if not version.sheet.family.ages:
        return None
    scale = reading.choice(SCALE, SheetVersion.Shore.choices)
    points = [point for name in NAMES if (point := _point(reading, name)) is not None]
    if scale and not any(reading.given(name) for name in NAMES):
        reading.read.missing.setdefault(NAMES[0], "No hardness reading is there yet: enter them, or empty the scale.")
    if any(reading.given(name) for name in NAMES):
        reading.want(SCALE, "Say which Shore scale the tester has: the figures mean nothing without it.")
    if not points or not scale or any(name in reading.read.errors for name in NAMES):
        return None
    try:
        now = hardness(points, scale)
    except HardnessError as error:
        reading.refuse(NAMES[0], error.message)
        return None
    for sentence in now.warnings:
        reading.warn(sentence)
    if version.hardness_scale and scale != version.hardness_scale:
        reading.warn(f"Read in Shore {scale}; the data sheet names Shore {version.hardness_scale}.")
    first = first_hardness(visit, scale)
    limit = version.hardness_change if scale == (version.hardness_scale or scale) else None
    if first is None:
        return Measured(now, limit_points=limit)
    change = hardness_change(Hardness(scale, first.median, ()), now, limit)
    beyond = f" It counts as grade {BEYOND}: plan the replacement now." if change.verdict == OUT else ""
    reading.read.found.append(Found("Change of hardness", change.reason + beyond, change.verdict))
    return Measured(now, change, first.median, first.visit.on, limit)


def first_hardness(visit: Visit, scale: str) -> HardnessFact | None:
    """The first reading on record of the element that is in place on the day of this visit, on one scale."""
    if any(one.step == "element" and one.typed.get("act", "").strip() == "fitted" for one in visit.entries.all()):
        return None  # the element left in place is new: this is its first reading
    element = Element.objects.filter(fit_id=visit.fit_id, fitted_on__lte=visit.on).order_by("-fitted_on", "-pk").first()
    if element is None:
        return None
    earlier = HardnessFact.objects.filter(
        record=F("visit__record"), visit__fit_id=visit.fit_id, scale=scale, visit__on__lte=visit.on
    ).exclude(visit_id=visit.pk)
    return (
        earlier.filter(visit__on__gte=element.fitted_on)
        .select_related("visit")
        .order_by("visit__on", "visit_id")
        .first()
    )


def hardness_facts(found: Measured | None, visit: Visit) -> list[Any]:
    """The row that signing writes."""
    if found is None:
        return []
    return [
        HardnessFact(
            visit=visit,
            scale=found.now.scale,
            readings=list(found.now.readings),
            median=found.now.median,
            first_median=found.first,
            first_on=found.first_on,
            limit_points=found.limit_points,
            grade=found.grade,
            verdict=found.verdict,
        )
    ]


def _point(reading: Reading, name: str) -> float | None:
    text = reading.given(name)
    if not text:
        return None
    try:
        point, unit = units.split(text)
    except units.UnitError as error:
        reading.refuse(name, str(error))
        return None
    if unit:
        reading.refuse(name, "A Shore reading is a plain number of points, from 0 to 100.")
    elif not 0 <= point <= 100:
        reading.refuse(name, "A Shore reading lies from 0 to 100.")
    else:
        return point
    return None
