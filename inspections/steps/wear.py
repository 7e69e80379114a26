"""Wear: what is looked for on the coupling's family, graded in words, measured where there is a number."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from couplings.calculations.figures import fine
from couplings.engineering.conformity import TOO_CLOSE
from couplings.engineering.wear import FLAG_FROM, Assessment, Observation, WearError, WearLine, assess
from couplings.models import Instrument, WearCode
from couplings.selectors.wear import code_of, site_wear_limits, wear_codes_for, wear_limits_for
from inspections.models import Hardness, Visit, Wear, WearNote
from inspections.steps.hardness import Measured, hardness_facts, hardness_fields, read_hardness
from inspections.steps.registry import Found, Place, Read, Step, Typed
from inspections.steps.typed import Reading
from plant import units
from plant.calculations import FormField

# No number of a kind can be meant beyond this. [mm], [deg], [1]
GAUGED = {"gap": ("feeler", "caliper", "dial"), "size": ("caliper", "feeler", "dial")}
MOST = {"gap": 1_000.0, "size": 5_000.0, "angle": 360.0, "share": 1.0}
NOTE_LENGTH = 500


@dataclass(frozen=True)
class Looked:
    """What was seen and measured, judged."""

    assessment: Assessment
    codes: dict[str, WearCode]
    gauges: dict[str, Instrument]
    hardness: Measured | None = None
    note: str = ""


def _fields(visit: Visit, typed: Typed) -> list[FormField]:
    limits, own = wear_limits_for(visit.sheet_version), site_wear_limits(visit.site)
    rows = []
    for code in wear_codes_for(visit.sheet_version.sheet.family, visit.site):
        choices = tuple((str(grade), f"{grade}: {words}") for grade, words in enumerate(code.words) if words)
        rows.append(FormField(f"{code.code}.grade", "What is seen", "choice", False, code.title, choices))
        if code.number:
            if code.code in limits:
                hint = f"At most {units.written(limits[code.code], code.kind, visit.site.units)} on the data sheet."
            elif code.code in own:
                most = units.written(own[code.code], code.kind, visit.site.units)
                hint = f"At most {most} by your site's wear codes; the data sheet gives no limit."
            else:
                hint = "The data sheet gives no limit for it."
            label = code.number[0].upper() + code.number[1:]
            rows.append(FormField(f"{code.code}.number", label, code.kind, False, code.title, hint=hint))
            if code.kind in GAUGED:
                rows.append(FormField(f"{code.code}.gauge", "Measured with", "instrument", False, code.title))
    return [
        *rows,
        *hardness_fields(visit),
        FormField("note", "Note", "text", False, "In your own words", hint="Where on the coupling, since when."),
    ]


def _read(typed: Typed, place: Place) -> Read:
    reading, version = Reading(typed, place), place.version
    codes = {row.code: row for row in wear_codes_for(version.sheet.family, place.site)}
    limits = site_wear_limits(place.site) | wear_limits_for(version)
    seen: list[Observation] = []
    gauges: dict[str, Instrument] = {}
    for name, code in codes.items():
        known = [(str(grade), words) for grade, words in enumerate(code.words) if words]
        grade = reading.choice(f"{name}.grade", known)
        value = reading.quantity(f"{name}.number", code.kind, 0, MOST[code.kind]) if code.number else None
        gauge = reading.instrument(f"{name}.gauge", GAUGED[code.kind]) if code.kind in GAUGED else None
        if gauge is not None:
            gauges[name] = gauge
            reading.want(f"{name}.number", f"{code.title}: an instrument is named, and what it read is missing.")
        if grade or value is not None:
            limit = limits.get(name) if value is not None else None
            u = (gauge.standard_u_mm or 0.0) if gauge is not None and value is not None else 0.0
            seen.append(Observation(name, int(grade) if grade else None, value, limit, u))
    try:
        found = assess(seen, [code_of(row) for row in codes.values()])
    except WearError as error:
        _refuse(reading, error, seen)
        return reading.done(None)
    _say(reading, found, gauges)
    measured = read_hardness(reading, place)
    note = reading.text("note", NOTE_LENGTH)
    if not seen and measured is None and not reading.read.errors and not reading.read.missing:
        first = next(iter(codes), "")
        reading.read.missing[f"{first}.grade"] = (
            "Nothing is graded yet: grade what was looked at, or leave it all empty."
        )
    return reading.done(Looked(found, codes, gauges, measured, note))


def _refuse(reading: Reading, error: WearError, seen: list[Observation]) -> None:
    _, _, rest = error.field.partition("observations.")
    place, _, part = rest.partition(".")
    name = seen[int(place)].code if place.isdigit() else ""
    reading.refuse(f"{name}.{'number' if part == 'value' else 'grade'}" if name else "", error.message)


def _say(reading: Reading, found: Assessment, gauges: dict[str, Instrument]) -> None:
    """The worst first: whoever reads one sentence reads that one."""
    if found.do_not_run:
        reading.warn(found.words)
    for line in sorted(found.lines, key=lambda one: -(one.grade or 0)):
        if line.grade is not None and line.grade >= FLAG_FROM:
            reading.warn(f"{line.title}: grade {line.grade}, {_first_small(line.words)}.{_because(line.why)}")
    for line in found.lines:
        if line.limit is not None:
            value, limit = (units.written(one, line.kind, reading.place.system) for one in (line.value, line.limit))
            told = f"{value} of at most {limit}.{_how_sure(line, gauges.get(line.code), reading.place.system)}"
            reading.read.found.append(Found(line.title, told, line.verdict))
            if line.verdict == TOO_CLOSE:
                reading.warn(f"{line.title}: {line.verdict}. {told}")
    if found.raises_flag and not found.do_not_run:
        reading.warn(found.words)


def _how_sure(line: WearLine, gauge: Instrument | None, system: str) -> str:
    if line.kind not in GAUGED:
        return ""
    if gauge is None or gauge.standard_u_mm is None:
        return " Judged by the number alone: no instrument with its uncertainty is named."
    return f" {gauge}, standard uncertainty {fine(gauge.standard_u_mm, 'gap', system)}."


def _first_small(words: str) -> str:
    return words[:1].lower() + words[1:]


def _because(why: str) -> str:
    return f" {why}" if why and "no limit" not in why else ""


def _facts(values: Looked, place: Place) -> list[Any]:
    rows: list[Any] = [
        Wear(
            visit=place.visit,
            code=line.code,
            title=line.title,
            of_element=values.codes[line.code].of_element,
            stated=line.stated,
            grade=line.grade,
            words=line.words,
            number=values.codes[line.code].number if line.value is not None else "",
            kind=line.kind if line.value is not None else "",
            value=line.value,
            limit=line.limit,
            instrument=values.gauges.get(line.code),
            u=values.gauges[line.code].standard_u_mm if line.code in values.gauges else None,
            verdict=line.verdict,
        )
        for line in values.assessment.lines
    ]
    rows += hardness_facts(values.hardness, place.visit)
    if values.note:
        rows.append(WearNote(visit=place.visit, text=values.note))
    return rows


def _applies(visit: Visit) -> bool:
    return bool(wear_codes_for(visit.sheet_version.sheet.family))


WEAR = Step("wear", "Wear", _fields, _read, _facts, Wear, applies=_applies, beside=(Hardness, WearNote))
