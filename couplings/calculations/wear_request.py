"""The `wear` request: what was seen on a coupling, and what was measured, by its family.

family         code of a family
observations   [{code, grade, value, limit, standard_uncertainty}]; numbers in the kind of their code
hardness       scale, first [..], now [..], limit; plain Shore points
element        polymer, cured_on, on, policy
chain          pitch, links, measured, teeth, fixed_centres
wear           new, now, limit, hours
lubricant      name, quantity_g, filled_on, on, every_months, every_hours, hours_since, grease_state
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

from django.conf import settings

from couplings.calculations.alignment_sets import FAR
from couplings.calculations.request import Request
from couplings.engineering.hardness import SCALES
from couplings.engineering.lubrication import GREASE_STATES, Lubricant
from couplings.engineering.tables.elastomers import STORAGE_POLICIES
from couplings.engineering.wear import Observation, WearCode, codes_of, wear_codes

FOLDER = settings.BASE_DIR / "fixtures" / "starters"
POLICY = "iso-2230"  # starter; a site's setting
GREASES = tuple(state.code for state in GREASE_STATES)
_WORN_AT_MOST = {"gap": (1_000.0, "This is more than 1 m: is the unit right?"), "size": FAR}
_READINGS_AT_MOST = 20


@dataclass(frozen=True)
class HardnessRead:
    """[Shore points]"""

    scale: str
    first: tuple[float, ...]
    now: tuple[float, ...]
    limit: float | None


@dataclass(frozen=True)
class ElementRead:
    polymer: str
    cured_on: date
    on: date
    policy: str


@dataclass(frozen=True)
class ChainRead:
    """[mm]"""

    pitch_mm: float
    links: int
    measured_mm: float
    teeth: int | None
    fixed_centres: bool


@dataclass(frozen=True)
class WornRead:
    """[mm], [hour]"""

    new_mm: float
    now_mm: float
    limit_mm: float
    hours: float


@dataclass(frozen=True)
class LubricantRead:
    """[hour]"""

    lubricant: Lubricant
    filled_on: date | None
    on: date | None
    hours_since: float | None
    state: str | None


@dataclass(frozen=True)
class WearRequest:
    """Everything one look at a coupling gave."""

    family: str
    observations: tuple[Observation, ...] = ()
    hardness: HardnessRead | None = None
    element: ElementRead | None = None
    chain: ChainRead | None = None
    worn: WornRead | None = None
    lubricant: LubricantRead | None = None


@cache
def families() -> dict[str, dict[str, Any]]:
    """Starter families by code."""
    rows = json.loads((FOLDER / "families.json").read_text(encoding="utf-8"))
    return {row["code"]: row for row in rows}


@cache
def starter_codes() -> tuple[WearCode, ...]:
    """Starter observation codes of all families."""
    return wear_codes(json.loads((FOLDER / "wear_codes.json").read_text(encoding="utf-8")), tuple(families()))


def read_wear(payload: Mapping[str, Any]) -> WearRequest:
    """Read the request; raises Refused with every error by field path."""
    request = Request(payload)
    family = request.choice("family", tuple(families()), missing=f"Choose a family: {', '.join(families())}.")
    read = WearRequest(
        family or "",
        _observations(request, family),
        _hardness(request),
        _element(request),
        _chain(request),
        _worn(request),
        _lubricant(request),
    )
    given = (read.observations, read.hardness, read.element, read.chain, read.worn, read.lubricant)
    if not any(given) and not request.errors:
        request.refuse("", "Nothing was seen or measured: give observations, or one of the measurements.")
    request.finish()
    request.raise_errors()
    return read


def _observations(request: Request, family: str | None) -> tuple[Observation, ...]:
    codes = {code.code: code for code in codes_of(family or "", starter_codes())}
    found: list[Observation] = []
    for row in request.rows("observations", 100):
        name = row.choice("code", tuple(codes), missing="Name what was looked at.") if family else row.text("code")
        grade = _whole(row, "grade", 0, 4, "A grade is 0, 1, 2, 3 or 4.")
        code = codes.get(name or "")
        kind = code.kind if code else ""
        numbers: list[float | None] = [None, None, None]
        for place, key in enumerate(("value", "limit", "standard_uncertainty")):
            if kind:
                above, least = (0.0, None) if key == "limit" else (None, 0.0)
                numbers[place] = row.quantity(key, kind, above=above, at_least=least, within=_WORN_AT_MOST.get(kind))
            elif row.has(key) and code:
                row.refuse(key, "This code has no number, only grades.")
        row.finish()
        if name and any(name == other.code for other in found):
            row.refuse("code", "This code is there twice.")
        if grade is None and numbers[0] is None and not row.has("grade"):
            row.refuse("grade", "Give a grade, or a number where the code has one.")
        if numbers[0] is None and not row.has("value") and (numbers[1] is not None or numbers[2] is not None):
            row.refuse("value", "A limit or an uncertainty is given, and the number is missing.")
        if name is not None:
            found.append(Observation(name, grade, numbers[0], numbers[1], numbers[2] or 0.0))
    return tuple(found)


def _hardness(request: Request) -> HardnessRead | None:
    part = request.part("hardness")
    if part is None:
        return None
    scale = part.choice("scale", SCALES, missing="Name the Shore scale: a reading means nothing without it.")
    first = _points(part, "first", "The element's own first reading is missing.")
    now = _points(part, "now", "Today's readings are missing.")
    limit = part.number("limit")
    if limit is not None and not 0 < limit <= 100:
        part.refuse("limit", "The largest change lies above 0 and up to 100 points.")
    part.finish()
    return HardnessRead(scale, first, now, limit) if scale and first and now else None


def _points(part: Request, key: str, missing: str) -> tuple[float, ...]:
    given = part.given(key)
    if not isinstance(given, list | tuple) or not 1 <= len(given) <= _READINGS_AT_MOST:
        part.refuse(key, missing if not given else f"A list of one to {_READINGS_AT_MOST} readings is expected here.")
        return ()
    each = Request({str(place): one for place, one in enumerate(given)}, part.at(key), part.errors)
    found = [each.number(str(place), "A reading is missing.") for place in range(len(given))]
    for place, one in enumerate(found):
        if one is not None and not 0 <= one <= 100:
            each.refuse(str(place), "A Shore reading lies from 0 to 100.")
    return tuple(one for one in found if one is not None)


def _element(request: Request) -> ElementRead | None:
    part = request.part("element")
    if part is None:
        return None
    polymer = part.text("polymer", "Name the polymer by its letters, such as NBR.")
    cured = _day(part, "cured_on", "The cure date is missing.")
    on = _day(part, "on", "Say for which day.")
    policy = part.choice("policy", tuple(STORAGE_POLICIES), POLICY) or POLICY
    part.finish()
    if cured and on and on < cured:
        part.refuse("cured_on", "The cure date lies after the day asked about.")
    return ElementRead(polymer, cured, on, policy) if polymer and cured and on else None


def _chain(request: Request) -> ChainRead | None:
    part = request.part("chain")
    if part is None:
        return None
    pitch = part.quantity("pitch", "size", "The pitch is missing.", above=0, within=FAR)
    links = _whole(part, "links", 1, 10_000, "Say over how many links it was measured, 1 to 10 000.")
    length = part.quantity("measured", "size", "The measured length is missing.", above=0, within=FAR)
    teeth = _whole(part, "teeth", 5, 1_000, "A sprocket has 5 to 1 000 teeth.")
    fixed = part.flag("fixed_centres")
    part.finish()
    if links is None:
        part.refuse("links", "Say over how many links it was measured, 1 to 10 000.")
    if pitch and links and length and not 0.5 < length / (pitch * links) < 2:
        part.refuse("measured", "This is not near pitch times links: are pitch, links and unit right?")
    return ChainRead(pitch, links, length, teeth, fixed) if pitch and links and length else None


def _worn(request: Request) -> WornRead | None:
    part = request.part("wear")
    if part is None:
        return None
    sizes = [
        part.quantity(key, "size", f"The {words} is missing.", at_least=0, within=FAR)
        for key, words in (("new", "size when new"), ("now", "size now"), ("limit", "size at which it is worn out"))
    ]
    hours = part.quantity("hours", "hours", "The running hours are missing.", above=0)
    part.finish()
    new, now, limit = sizes
    if new is not None and new == limit:
        part.refuse("limit", "The limit must differ from the new size.")
    return None if new is None or now is None or limit is None or hours is None else WornRead(new, now, limit, hours)


def _lubricant(request: Request) -> LubricantRead | None:
    part = request.part("lubricant")
    if part is None:
        return None
    name = part.text("name", "Name the lubricant.")
    grams, months = part.number("quantity_g"), part.number("every_months")
    for key, number, most in (("quantity_g", grams, 1e6), ("every_months", months, 600)):
        if number is not None and not 0 < number <= most:
            part.refuse(key, f"This lies above 0 and up to {most:g}.")
    hours = part.quantity("every_hours", "hours", above=0)
    since = part.quantity("hours_since", "hours", at_least=0)
    filled, on = _day(part, "filled_on"), _day(part, "on")
    state = part.choice("grease_state", GREASES)
    part.finish()
    if filled and on is None and not part.has("on"):
        part.refuse("on", "Say for which day.")
    if filled and on and on < filled:
        part.refuse("filled_on", "The last fill lies after the day asked about.")
    if (months is not None or hours is not None) and not part.has("filled_on"):
        part.refuse("filled_on", "An interval runs from the last fill: when was it?")
    return LubricantRead(Lubricant(name, grams, months, hours), filled, on, since, state) if name else None


def _day(part: Request, key: str, missing: str = "") -> date | None:
    text = part.text(key, missing)
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        part.refuse(key, "Write the day as 2026-03-31.")
        return None


def _whole(part: Request, key: str, least: int, most: int, words: str) -> int | None:
    number = part.number(key)
    if number is None:
        return None
    if number != int(number) or not least <= number <= most:
        part.refuse(key, words)
        return None
    return int(number)
