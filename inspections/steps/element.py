"""The wearing element: a new one fitted, or the old one kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from couplings.models import Element
from couplings.selectors.wear import age_of, age_sentence
from inspections import rules
from inspections.models import ElementFact, Visit
from inspections.steps.registry import Place, Read, Step, Typed
from inspections.steps.typed import Reading
from plant.calculations import FormField


@dataclass(frozen=True)
class Wearing:
    act: str
    part_number: str
    batch: str
    cured_on: date | None
    removal_reason: str
    went_to: str


def _fields(visit: Visit, typed: Typed) -> list[FormField]:
    version = visit.sheet_version
    part = f" The data sheet names {version.element_part}." if version.element_part else ""
    return [
        FormField("act", "What was done", "choice", required=True, choices=tuple(ElementFact.Act.choices)),
        FormField("part_number", "Part number", "text", hint=f"As marked on the new part.{part}"),
        FormField("batch", "Batch", "text"),
        FormField("cured_on", "Cure date", "date", hint="As marked on the part, such as 2026-03-01."),
        FormField("removal_reason", "Why the old one came off", "text"),
        FormField("went_to", "Where the old one went", "text"),
    ]


def _read(typed: Typed, place: Place) -> Read:
    reading, visit = Reading(typed, place), place.visit
    act = reading.choice("act", ElementFact.Act.choices)
    part, batch = reading.text("part_number", 60), reading.text("batch", 60)
    cured = reading.date("cured_on")
    reason, went_to = reading.text("removal_reason"), reading.text("went_to", 120)
    reading.want("act", "Say whether a new element was fitted or the old one kept.")
    # An amendment corrects what this visit wrote down: the element then in place is no question any more.
    amending = place.amending
    fitted = None if amending else Element.objects.filter(fit_id=visit.fit_id, removed_on__isnull=True).first()
    if act == "fitted":
        reading.want("part_number", "The part number of the new element is missing.")
        if fitted is not None:
            reading.want("removal_reason", f"Why did {fitted} come off? Its life is learned from the reason.")
            if fitted.fitted_on > visit.on:
                reading.refuse("act", f"{fitted} was fitted after this visit's day: mend the day of the visit.")
        elif not amending and (reason or went_to):
            name = "removal_reason" if reason else "went_to"
            reading.refuse(name, "No element is on record in this fit, so none can have come off: leave it empty.")
        if visit.sheet_version.sheet.family.ages and cured is None and "cured_on" not in reading.read.errors:
            reading.warn("No cure date: the age of this element will not be known.")
        if part and visit.sheet_version.element_part and part != visit.sheet_version.element_part:
            reading.warn(f"Part {part}; the data sheet names {visit.sheet_version.element_part}.")
    elif act == "kept" and fitted is None and not amending:
        reading.refuse("act", "No element is on record in this fit, so none can be kept: enter the one that is fitted.")
    if cured is not None and act != "kept":
        reading.refuse("cured_on", rules.cure_refusal(cured, visit.on))
        if rules.over_shelf_life(cured, visit.on, visit.sheet_version.element_shelf_years):
            years = visit.sheet_version.element_shelf_years
            reading.warn(f"Cured on {cured}: over its shelf life of {years:g} years on the day it was fitted.")
        age = age_of(place.site, visit.sheet_version.element_polymer, cured, visit.on)
        if age is not None and age.verdict != "in tolerance":
            reading.warn(age_sentence(age))
    return reading.done(Wearing(act, part, batch, cured, reason, went_to))


def _facts(values: Wearing, place: Place) -> list[Any]:
    new = values.act == "fitted"
    return [
        ElementFact(
            visit=place.visit,
            act=values.act,
            part_number=values.part_number if new else "",
            batch=values.batch if new else "",
            cured_on=values.cured_on if new else None,
            removal_reason=values.removal_reason if new else "",
            went_to=values.went_to if new else "",
        )
    ]


def _applies(visit: Visit) -> bool:
    return bool(visit.sheet_version.sheet.family.element_name)


ELEMENT = Step("element", "Element", _fields, _read, _facts, ElementFact, applies=_applies)
