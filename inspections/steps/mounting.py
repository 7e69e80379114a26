"""Mounting of the hubs: cleaned, bore and shaft measured against the specified fit, the key, how the hub is held."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from couplings.calculations.fit import HOT
from couplings.models import SheetVersion
from couplings.selectors.sheets import mounting_kind_of
from inspections.models import Mounting, Visit
from inspections.models.findings import SIDES
from inspections.steps.keyless_judging import (
    Said,
    advance_found,
    apart_told,
    before_told,
    pressure_found,
    screws_asked,
    screws_found,
)
from inspections.steps.mounting_judging import advance_told, fit_found, heating_told, key_found, specified_of
from inspections.steps.registry import Found, Place, Read, Step, Typed
from inspections.steps.typed import Reading
from plant import units
from plant.calculations import FormField

GAUGES = ("caliper",)
WRENCHES = ("torque-set", "torque-read")
YES_NO = (("yes", "yes"), ("no", "no"))
KINDS = tuple(SheetVersion.Mounting.choices)
HEATED, TAPERED = SheetVersion.Mounting.HEATED, SheetVersion.Mounting.TAPERED_BORE

# Fields of every kind: (name, label, kind of quantity, hint, low, high in base units).
PAIR = (
    ("bore", "Bore as measured", "size", "Bore and shaft at the same temperature.", 1, 2_000),
    ("shaft", "Shaft as measured", "size", "", 1, 2_000),
)
KEY = (
    ("key_width", "Key found, width", "size", "", 0.5, 500),
    ("key_height", "Key found, height", "size", "", 0.5, 500),
)
_TAPER = (("advance", "Advance from hand-tight", "size", "", 0, 500),)
_SCREWS = (("screw_torque", "Torque of its screws", "screw-torque", "", 0, 1e5),)
# What else is asked of each kind; set screws have a step of their own.
FACTS: dict[str, tuple[tuple[str, str, str, str, float, float], ...]] = {
    "clearance": (),
    "clamp": _SCREWS,
    "tapered-bush": _SCREWS,
    "shrink-disc": _SCREWS,
    "tapered-bore": (*_TAPER, ("contact", "Contact seen in the bore", "share", "Such as 80 %.", 0, 1)),
    "heated": (
        ("clearance_wanted", "Clearance wanted while it slides on", "gap", "Empty: as the interference.", 0, 10),
        ("shaft_temperature", "Temperature of the shaft", "temperature", "", -80, 400),
        ("hub_temperature", "Temperature of the hub as it went on", "temperature", "", -80, 600),
    ),
    "hydraulic": (
        *_TAPER,
        ("expansion_pressure", "Oil pressure that widened the hub", "pressure", "", 0, 1_000),
        ("push_pressure", "Oil pressure that pushed it up", "pressure", "", 0, 1_000),
    ),
}
ON_A_TAPER = ("tapered-bore", "hydraulic")
ONLY_SOME = {row[0]: (row[1], row[2]) for rows in FACTS.values() for row in rows} | {
    "taper": ("Taper, 1 in", "count"),
    "wrench": ("Wrench", "instrument"),
    "bore": ("Bore as measured", "size"),
    "shaft": ("Shaft as measured", "size"),
    "bore_gauge": ("Measured with, bore", "instrument"),
    "shaft_gauge": ("Measured with, shaft", "instrument"),
}


@dataclass
class Hub:
    """One side as understood; `measured` are its figures by column. [mm], [degC], [MPa], [N*m], shares"""

    side: str
    kind: str
    cleaned: bool | None = None
    nominal_mm: float | None = None
    measured: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Cautioned:
    """The caution that stands above the form where a hub is heated."""

    caution: str
    above: str = "inspections/fragments/hot_hub.html"
    below: str = ""

    def answer(self, system: str) -> dict[str, Any]:
        return {"cautions": [self.caution]}


def _kind(version: SheetVersion, typed: Typed, side: str) -> str:
    return typed.get(f"{side}.kind", "").strip() or mounting_kind_of(version, side)


def _fields(visit: Visit, typed: Typed) -> list[FormField]:
    version, system, rows = visit.sheet_version, visit.site.units, []
    bore = f" The data sheet's bore is {units.written(version.bore_mm, 'size', system)}." if version.bore_mm else ""
    fit = f" The data sheet asks for {version.fit_hole}/{version.fit_shaft}." if version.fit_hole else ""
    key = f"The data sheet names {version.get_key_standard_display()}." if version.key_standard else ""
    for side, words in SIDES:
        stated = mounting_kind_of(version, side)
        said = f"Empty: as on the data sheet, {dict(KINDS)[stated]}." if stated else ""
        kind, group = _kind(version, typed, side), words.capitalize()
        row = _row_of(side, group)
        rows += [
            row("cleaned", "Shaft and bore cleaned", "choice", choices=YES_NO),
            row(
                "kind",
                "How the hub is held",
                "choice",
                choices=KINDS,
                hint=f"{said} Save, and its fields follow.".strip(),
            ),
            row(
                "nominal",
                "Nominal size of bore and shaft",
                "size",
                hint=f"Only where it differs.{bore}" if bore else "By it the fit and the key are judged.",
            ),
        ]
        if kind != TAPERED:
            for name, label, unit, hint, _low, _high in PAIR:
                rows.append(row(name, label, unit, hint=f"{hint}{fit}".strip()))
                rows.append(row(f"{name}_gauge", f"Measured with, {name}", "instrument"))
        rows += [row(name, label, unit, hint=key) for name, label, unit, _hint, _low, _high in KEY]
        rows += [row(name, label, unit, hint=hint) for name, label, unit, hint, _low, _high in FACTS.get(kind, ())]
        if kind in ON_A_TAPER:
            rows.append(row("taper", "Taper, 1 in", "count", hint="16 for 1:16, which is 3/4 inch to the foot."))
        if FACTS.get(kind) == _SCREWS:
            rows.append(row("wrench", "Wrench", "instrument"))
        # What was entered for another kind stays to be seen, so that it can be emptied.
        shown = {one.name for one in rows}
        rows += [
            row(name, label, unit, hint="Entered for another kind.")
            for name, (label, unit) in ONLY_SOME.items()
            if typed.get(f"{side}.{name}", "").strip() and f"{side}.{name}" not in shown
        ]
    return rows


def _row_of(side: str, group: str) -> Any:
    def row(name: str, label: str, kind: str, **more: Any) -> FormField:
        return FormField(f"{side}.{name}", label, kind, group=group, **more)

    return row


def _read(typed: Typed, place: Place) -> Read:
    reading = Reading(typed, place)
    hubs = [_hub(reading, place, side, words) for side, words in SIDES if _anything(typed, side)]
    return reading.done(hubs)


def _anything(typed: Typed, side: str) -> bool:
    return any(name.startswith(f"{side}.") and text.strip() for name, text in typed.items())


def _hub(reading: Reading, place: Place, side: str, words: str) -> Hub:
    version = place.version
    chosen = reading.choice(f"{side}.kind", KINDS)
    stated = mounting_kind_of(version, side)
    kind = chosen or stated
    if chosen and stated and chosen != stated:
        reading.warn(
            f"The hub on the {words} is held by: {dict(KINDS)[chosen]}; the data sheet says: {dict(KINDS)[stated]}."
        )
    cleaned = reading.choice(f"{side}.cleaned", YES_NO)
    if cleaned == "no":
        reading.warn(f"Shaft and bore on the {words} are not cleaned: what is measured on dirt is not the fit.")
    nominal = reading.quantity(f"{side}.nominal", "size", 1, 2_000)
    if nominal is None and not reading.given(f"{side}.nominal"):
        nominal = version.bore_mm
    hub = Hub(side, kind, {"yes": True, "no": False}.get(cleaned), nominal)
    _left_over(reading, side, kind)
    _pair(reading, place, hub, words)
    _key(reading, place, hub, words)
    _of_its_kind(reading, place, hub, words)
    if not place.amending:  # by then the half has what this visit measured
        half = next((one for one in place.hubs if one.side == side), None)
        for told in apart_told(half, hub.kind, hub.measured, place.system):
            reading.warn(f"{words.capitalize()}: {told}")
    return hub


def _left_over(reading: Reading, side: str, kind: str) -> None:
    asked = {row[0] for row in FACTS.get(kind, ())}
    asked |= {"taper"} if kind in ON_A_TAPER else set()
    asked |= {"wrench"} if FACTS.get(kind) == _SCREWS else set()
    asked |= {"bore", "shaft", "bore_gauge", "shaft_gauge"} if kind != TAPERED else set()
    held = dict(KINDS).get(kind, "")
    for name in sorted(set(ONLY_SOME) - asked):
        if reading.given(f"{side}.{name}"):
            told = f"This does not belong to a hub held by: {held}." if held else "Say how the hub is held."
            reading.refuse(f"{side}.{name}", f"{told} Empty it, or choose another kind.")


def _pair(reading: Reading, place: Place, hub: Hub, words: str) -> None:
    at = hub.side
    if hub.kind == TAPERED:  # no one diameter to measure
        return
    sizes, spreads = {}, {}
    for name, _label, unit, _hint, low, high in PAIR:
        sizes[name] = reading.quantity(f"{at}.{name}", unit, low, high)
        gauge = reading.instrument(f"{at}.{name}_gauge", GAUGES)
        spreads[name] = gauge.standard_u_mm if gauge is not None else None
        hub.measured |= {f"{name}_mm": sizes[name], f"{name}_instrument": gauge, f"{name}_u_mm": spreads[name]}
    if reading.given(f"{at}.bore") or reading.given(f"{at}.shaft"):
        reading.want(f"{at}.bore", "Measure the bore as well: a fit is the two together.")
        reading.want(f"{at}.shaft", "Measure the shaft as well: a fit is the two together.")
    if sizes["bore"] is None or sizes["shaft"] is None:
        return
    found = fit_found(place, hub.nominal_mm, sizes["bore"], sizes["shaft"], spreads["bore"], spreads["shaft"])
    reading.read.found.append(Found(f"Fit, {words}", found.sentence, found.verdict))
    hub.measured |= {
        "clearance_mm": found.clearance_mm,
        "fit_verdict": found.verdict,
        "probability": found.probability,
        "fit_hole": place.version.fit_hole,
        "fit_shaft": place.version.fit_shaft,
    }


def _key(reading: Reading, place: Place, hub: Hub, words: str) -> None:
    names = [f"{hub.side}.{row[0]}" for row in KEY]
    width, height = (reading.quantity(name, row[2], row[4], row[5]) for name, row in zip(names, KEY, strict=True))
    if any(reading.given(name) for name in names):
        reading.want(names[0], "The width of the key is missing.")
        reading.want(names[1], "The height of the key is missing.")
    if width is None or height is None:
        return
    verdict, sentence = key_found(place, hub.nominal_mm, width, height)
    reading.read.found.append(Found(f"Key, {words}", sentence, verdict))
    hub.measured |= {
        "key_width_mm": width,
        "key_height_mm": height,
        "key_standard": place.version.key_standard,
        "key_verdict": verdict,
    }


_COLUMNS = {
    "screw_torque": "screw_torque_nm", "advance": "advance_mm", "contact": "contact_share",
    "clearance_wanted": "clearance_wanted_mm", "shaft_temperature": "shaft_temperature_c",
    "hub_temperature": "hub_temperature_c", "expansion_pressure": "expansion_pressure_mpa",
    "push_pressure": "push_pressure_mpa",
}  # fmt: skip


def _of_its_kind(reading: Reading, place: Place, hub: Hub, words: str) -> None:
    at, facts = hub.side, hub.measured
    for name, _label, unit, _hint, low, high in FACTS.get(hub.kind, ()):
        facts[_COLUMNS[name]] = reading.quantity(f"{at}.{name}", unit, low, high)
    if FACTS.get(hub.kind) == _SCREWS:
        facts["wrench_instrument"] = reading.instrument(f"{at}.wrench", WRENCHES)
        if reading.given(f"{at}.screw_torque"):
            reading.want(f"{at}.wrench", "Name the wrench the torque was set with.")
        if facts["screw_torque_nm"] is not None:
            asked, source = screws_asked(place, hub.nominal_mm)
            facts["screw_verdict"] = _judged(
                reading, screws_found(place, asked, source, facts["screw_torque_nm"]), words
            )
    if hub.kind in ON_A_TAPER:
        facts["taper"] = reading.count(f"{at}.taper", 1, 200)
        if facts["taper"] is not None and facts["advance_mm"] is not None:
            told = advance_told(place, facts["advance_mm"], facts["taper"])
            reading.read.notes.append(f"{words.capitalize()}: {told}")
        _pushed_up(reading, place, hub, words)
    if hub.kind == HEATED:
        _heated(reading, place, hub, words)


def _pushed_up(reading: Reading, place: Place, hub: Hub, words: str) -> None:
    facts = hub.measured
    advance, pressure = facts["advance_mm"], facts.get("expansion_pressure_mpa")
    if advance is not None:
        said = advance_found(place, hub.nominal_mm, facts["taper"], advance)
        facts["advance_verdict"] = _judged(reading, said, words)
    if pressure is not None:
        said = pressure_found(place, hub.nominal_mm, facts["taper"], advance, pressure)
        facts["pressure_verdict"] = _judged(reading, said, words)
    half = next((one for one in place.hubs if one.side == hub.side), None)
    if told := before_told(half, place.system):
        reading.read.notes.append(f"{words.capitalize()}: {told}")


def _judged(reading: Reading, said: Said, words: str) -> str:
    reading.read.found.append(Found(f"{said.subject}, {words}", said.sentence, said.verdict))
    return said.verdict


def _heated(reading: Reading, place: Place, hub: Hub, words: str) -> None:
    facts = hub.measured
    told, needed = heating_told(
        place,
        specified_of(place, hub.nominal_mm),
        facts.get("clearance_mm"),
        hub.nominal_mm,
        facts["clearance_wanted_mm"],
        facts["shaft_temperature_c"],
    )
    reading.read.notes.append(f"{words.capitalize()}: {told}")
    hot = facts["hub_temperature_c"]
    if needed is not None and hot is not None and hot < needed:
        at = units.written(hot, "temperature", place.system)
        reading.warn(f"The hub on the {words} went on at {at}, colder than advised: see that it sits where it belongs.")


def _facts(values: list[Hub], place: Place) -> list[Any]:
    return [
        Mounting(
            visit=place.visit,
            side=hub.side,
            kind=hub.kind,
            cleaned=hub.cleaned,
            nominal_mm=hub.nominal_mm,
            **hub.measured,
        )
        for hub in values
    ]


def _told(visit: Visit, typed: Typed) -> Cautioned | None:
    hot = any(_kind(visit.sheet_version, typed, side) == HEATED for side, _words in SIDES)
    return Cautioned(HOT) if hot else None


def _knows_more(name: str, visit: Visit) -> bool:
    """Fields of a kind that was chosen before: what stands in them is refused beside the kind, not as strange."""
    side, _dot, rest = name.partition(".")
    return side in dict(SIDES) and rest in ONLY_SOME


MOUNTING = Step(
    "mounting", "Mounting of the hubs", _fields, _read, _facts, Mounting, tells=_told, knows_more=_knows_more
)
