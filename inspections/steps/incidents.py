"""A breakdown, with its evidence first; and what an old card states without its readings."""

from __future__ import annotations

from typing import Any

from couplings.models import Element, FailureCode
from inspections.models import Breakdown, StatedValues, Visit
from inspections.steps.registry import Place, Read, Step, Typed
from inspections.steps.typed import Reading
from plant.calculations import FormField

CODES = (("mode", "How it failed"), ("mechanism", "By what it failed"), ("cause", "Why it failed"))


def _codes(visit: Visit) -> dict[str, tuple[tuple[str, str], ...]]:
    """The site's failure codes by kind; asked once per visit at hand."""
    kept: dict[str, Any] | None = visit.__dict__.get("_failure_codes")
    if kept is None:
        rows = FailureCode.objects.filter(site_id=visit.site_id).order_by("kind", "code")
        found: dict[str, list[tuple[str, str]]] = {kind: [] for kind, _label in CODES}
        for kind, code, name in rows.values_list("kind", "code", "name"):
            found[kind].append((code, name))
        kept = visit.__dict__["_failure_codes"] = {kind: tuple(rows) for kind, rows in found.items()}
    return kept


def _fields(visit: Visit, typed: Typed) -> list[FormField]:
    codes = _codes(visit)
    evidence, later = "Evidence", "As far as it is known"
    return [
        FormField("noticed", "What was noticed", "long", True, hint="In your words: heard, seen, tripped, smelt."),
        FormField("photos", "Photos", "choice", choices=tuple(Breakdown.Photos.choices), group=evidence),
        FormField("part", "What broke", "text", group=evidence),
        FormField("went", "Where the broken part went", "choice", choices=tuple(Element.Went.choices), group=evidence),
        FormField("went_to", "Where exactly", "text", group=evidence, hint="Such as cabinet 2."),
        FormField("failed_at", "When it failed", "instant", group=later, hint="Such as 02:40, or 2026-10-11 22:10."),
        FormField("hours_down", "Hours down", "hours", group=later),
        *(
            FormField(
                kind, label, "choice", choices=tuple((c, f"{name} ({c})") for c, name in codes[kind]), group=later
            )
            for kind, label in CODES
            if codes[kind]
        ),
    ]


def _read(typed: Typed, place: Place) -> Read:
    reading, codes = Reading(typed, place), _codes(place.visit)
    noticed = reading.text("noticed", 500)
    reading.want("noticed", "Say what was noticed: one sentence is enough.")
    photos = reading.choice("photos", Breakdown.Photos.choices)
    part, went = reading.text("part"), reading.choice("went", Element.Went.choices)
    if photos in ("", Breakdown.Photos.NONE):
        reading.warn("No photo on record: take them before anything is cleaned or moved, if that can still be done.")
    if not went:
        reading.warn("Where the broken part went is not written down: it is the evidence.")
    chosen: dict[str, str] = {}
    for kind, _label in CODES:
        code = reading.choice(kind, codes[kind])
        chosen |= {kind: code, f"{kind}_name": dict(codes[kind]).get(code, "")}
    return reading.done(
        Breakdown(
            visit=place.visit,
            noticed=noticed,
            failed_at=reading.instant("failed_at"),
            hours_down=reading.quantity("hours_down", "hours", 0, 1e6),
            photos=photos,
            part=part,
            went=went,
            went_to=reading.text("went_to", 120),
            **chosen,
        )
    )


def _stated_fields(visit: Visit, typed: Typed) -> list[FormField]:
    said = "What it states"
    return [
        FormField(
            "source", "Which card, book or file", "text", True, hint="And where it lies, such as: blue folder 3."
        ),
        FormField("done", "What was done, in its words", "long"),
        FormField(
            "said_verdict", "What it says of the result", "text", group=said, hint="Kept as it stands; no verdict."
        ),
        FormField("offset", "Offset", "gap", group=said),
        FormField("slope", "Angularity", "slope", group=said),
        FormField("gap", "Gap or distance between shaft ends", "size", group=said),
        FormField("part_number", "Part number of an element fitted", "text", group=said),
    ]


def _stated(typed: Typed, place: Place) -> Read:
    reading = Reading(typed, place)
    source = reading.text("source")
    reading.want("source", "Say which card, book or file this comes from.")
    columns = {
        "done": reading.text("done", 500),
        "said_verdict": reading.text("said_verdict", 120),
        "offset_mm": reading.quantity("offset", "gap", -100, 100),
        "slope_mrad": reading.quantity("slope", "slope", -1000, 1000),
        "gap_mm": reading.quantity("gap", "size", -100, 20_000),
        "part_number": reading.text("part_number", 60),
    }
    found = reading.done(StatedValues(visit=place.visit, source=source, **columns))
    found.notes.append("Kept as stated. Without its readings it gets no verdict and sets no date.")
    return found


def _breakdown_knows(name: str, visit: Visit) -> bool:
    """Codes are asked only where the site has them: an entry from before may still name them."""
    return name in {kind for kind, _label in CODES}


BREAKDOWN = Step(
    "breakdown",
    "Breakdown: evidence first",
    _fields,
    _read,
    lambda values, place: [values],
    Breakdown,
    needs_isolation=False,
    knows_more=_breakdown_knows,
    caution="Nothing is touched before the machine is isolated and tried. Broken parts may be sharp, hot or under "
    "tension. Photos come before cleaning; the broken part is kept.",
)
STATED = Step(
    "stated",
    "As the old record states it",
    _stated_fields,
    _stated,
    lambda values, place: [values],
    StatedValues,
    needs_isolation=False,
    caution="An old figure is no reading: before work, measure.",
)
