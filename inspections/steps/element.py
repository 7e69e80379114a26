"""The wearing element: a new one fitted, or the old one kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from couplings.models import Element, StockLot
from couplings.selectors import lots_to_fit, removal_reasons
from couplings.selectors.wear import age_of, age_sentence
from inspections import rules
from inspections.models import ElementFact, Visit
from inspections.steps.registry import Place, Read, Step, Typed
from inspections.steps.typed import Reading
from plant.calculations import FormField

OF_THE_OLD = ("removal_code", "removal_reason", "removal_finding", "went", "went_to")


@dataclass(frozen=True)
class Wearing:
    act: str
    part_number: str
    batch: str
    cured_on: date | None
    removal_reason: str
    went_to: str
    removal_code: str = ""
    removal_finding: str = ""
    went: str = ""
    lot: StockLot | None = None


def _fields(visit: Visit, typed: Typed) -> list[FormField]:
    version = visit.sheet_version
    part = f" The data sheet names {version.element_part}." if version.element_part else ""
    return [
        FormField("act", "What was done", "choice", required=True, choices=tuple(ElementFact.Act.choices)),
        *(
            [FormField("lot", "From the stores", "choice", choices=lots, hint="Empty: enter what is marked on it.")]
            if (
                lots := tuple((str(lot.uuid), _lot_words(lot)) for lot in lots_to_fit(visit.site, version.element_part))
            )
            else []
        ),
        FormField("part_number", "Part number", "text", hint=f"As marked on the new part.{part}"),
        FormField("batch", "Batch", "text"),
        FormField("cured_on", "Cure date", "date", hint="As marked on the part, such as 2026-03-01."),
        *(
            [FormField("removal_code", "Why the old one came off", "choice", choices=reasons)]
            if (reasons := tuple((row.code, row.title) for row in removal_reasons(visit.site)))
            else []
        ),
        FormField(
            "removal_reason", "Why it came off, in your words" if reasons else "Why the old one came off", "text"
        ),
        FormField("removal_finding", "What is seen on the old one", "text"),
        FormField("went", "Where the old one went", "choice", choices=tuple(Element.Went.choices)),
        FormField("went_to", "Where exactly", "text", hint="Such as cabinet 2."),
    ]


def _read(typed: Typed, place: Place) -> Read:
    reading, visit = Reading(typed, place), place.visit
    act = reading.choice("act", ElementFact.Act.choices)
    part, batch = reading.text("part_number", 60), reading.text("batch", 60)
    cured = reading.date("cured_on")
    reason, went_to = reading.text("removal_reason"), reading.text("went_to", 120)
    code = reading.choice("removal_code", [(row.code, row.title) for row in removal_reasons(place.site)])
    finding, went = reading.text("removal_finding", 300), reading.choice("went", Element.Went.choices)
    lot = _lot(reading, place)
    if lot is not None:
        part, batch, cured = _of_lot(reading, lot, part, batch, cured)
    reading.want("act", "Say whether a new element was fitted or the old one kept.")
    # An amendment corrects what this visit wrote down: the element then in place is no question any more.
    amending = place.amending
    fitted = None if amending else Element.objects.filter(fit_id=visit.fit_id, removed_on__isnull=True).first()
    if act == "fitted":
        if lot is None:
            reading.want("part_number", "The part number of the new element is missing.")
        if fitted is not None:
            if not code:
                reading.want("removal_reason", f"Why did {fitted} come off? Its life is learned from the reason.")
            if fitted.fitted_on > visit.on:
                reading.refuse("act", f"{fitted} was fitted after this visit's day: mend the day of the visit.")
        elif not amending and (said := [name for name in OF_THE_OLD if reading.given(name)]):
            reading.refuse(said[0], "No element is on record in this fit, so none can have come off: leave it empty.")
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
    return reading.done(Wearing(act, part, batch, cured, reason, went_to, code, finding, went, lot))


def _lot(reading: Reading, place: Place) -> StockLot | None:
    given = reading.given("lot")
    if not given:
        return None
    lots = {str(lot.uuid): lot for lot in StockLot.objects.filter(site_id=place.visit.site_id)}
    if given not in lots:
        reading.refuse(
            "lot", "No such lot lies in this site's stores: choose one, or enter what is marked on the part."
        )
        return None
    if lots[given].count < 1 and not place.amending:
        reading.refuse("lot", "Nothing of this lot is left in store: count it and enter the correction first.")
    return lots[given]


def _of_lot(reading: Reading, lot: StockLot, part: str, batch: str, cured: date | None) -> tuple[str, str, date | None]:
    """What the lot says; what was typed differently is refused, for one of the two is wrong."""
    for name, said, its in (
        ("part_number", part, lot.part_number),
        ("batch", batch, lot.batch),
        ("cured_on", cured, lot.cured_on),
    ):
        if said and said != its:
            reading.refuse(name, f"The lot says {its or 'nothing'}: leave this empty, or choose another lot.")
    return lot.part_number, lot.batch, lot.cured_on


def _lot_words(lot: StockLot) -> str:
    return f"{lot}, {lot.count} in store" + (f", {lot.place}" if lot.place else "")


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
            removal_code=values.removal_code if new else "",
            removal_finding=values.removal_finding if new else "",
            went=values.went if new else "",
            lot=str(values.lot.uuid) if new and values.lot is not None else "",
        )
    ]


def _applies(visit: Visit) -> bool:
    return bool(visit.sheet_version.sheet.family.element_name)


def _knows_more(name: str, visit: Visit) -> bool:
    """Fields that are shown only where a site has rows for them: an entry from before may still name them."""
    return name in ("lot", "removal_code")


ELEMENT = Step("element", "Element", _fields, _read, _facts, ElementFact, applies=_applies, knows_more=_knows_more)
