"""Placement of the hubs, and the set screws that hold them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from couplings.engineering.placement import hub_face_gap_mm
from inspections import rules
from inspections.models import Placement, SetScrew, Visit
from inspections.steps.axial import Axial, axial_fields, read_axial
from inspections.steps.holding import holding_told
from inspections.steps.registry import Place, Read, Step, Typed
from inspections.steps.typed import Reading
from plant import units
from plant.calculations import FormField

SIDES = (("driver", "driver side"), ("driven", "driven side"))
ORIENTATIONS = (("in", "flange towards the other hub"), ("reversed", "flange away from the other hub"))
TORQUE_TOOLS = ("torque-set", "torque-read")


@dataclass(frozen=True)
class Placed:
    dbse_mm: float
    engagement_mm: dict[str, float | None]
    share: dict[str, float | None]
    orientation: dict[str, str] = field(default_factory=dict)
    hub_face_gap_mm: float | None = None
    axial: Axial = field(default_factory=Axial)


def _placement_fields(visit: Visit, typed: Typed) -> list[FormField]:
    bore = visit.sheet_version.hub_length_mm
    nominal = units.written(visit.sheet_version.dbse_mm, "size", visit.site.units)
    return [
        FormField(
            "dbse",
            "Distance between shaft ends",
            "size",
            required=True,
            hint=f"With the rotor where it belongs. On the data sheet: {nominal}.",
        ),
        *(
            FormField(
                f"{side}_engagement",
                f"Engagement, {words}",
                "size",
                required=bore is not None,
                hint="How much of the hub's bore sits on the shaft."
                + (f" The bore is {units.written(bore, 'size', visit.site.units)} long." if bore is not None else ""),
            )
            for side, words in SIDES
        ),
        *(
            FormField(f"{side}_orientation", f"Hub's orientation, {words}", "choice", choices=ORIENTATIONS)
            for side, words in SIDES
        ),
        *axial_fields(visit),
    ]


def _placement(typed: Typed, place: Place) -> Read:
    reading, version = Reading(typed, place), place.version
    dbse = reading.quantity("dbse", "size", 0, 20_000)
    reading.want("dbse", "The distance between shaft ends is not measured yet.")
    if dbse is not None and version.dbse_mm is not None and version.dbse_tolerance_mm is not None:
        off = dbse - version.dbse_mm
        if abs(off) > version.dbse_tolerance_mm + 1e-9:
            written = [units.written(number, "size", place.system) for number in (dbse, version.dbse_mm)]
            allowed = units.written(version.dbse_tolerance_mm, "size", place.system)
            reading.warn(
                f"The distance between shaft ends is {written[0]}; the data sheet asks {written[1]} ± {allowed}."
            )
    engagement: dict[str, float | None] = {}
    share: dict[str, float | None] = {}
    for side, words in SIDES:
        name = f"{side}_engagement"
        value = reading.quantity(name, "size", 0, 5_000)
        if value is not None:
            reading.refuse(name, rules.engagement_refusal(value, version.hub_length_mm))
        elif version.hub_length_mm is not None:
            reading.want(name, f"The engagement on the {words} is not measured yet.")
        engagement[side] = value
        share[side] = None
        if value is not None and version.hub_length_mm is not None and name not in reading.read.errors:
            share[side] = rules.engagement_share(value, version.hub_length_mm)
            if share[side] < place.site.engagement_share - 1e-9:
                reading.warn(
                    f"On the {words} {share[side]:.0%} of the bore sits on the shaft; "
                    f"this site asks at least {place.site.engagement_share:.0%}."
                )
    orientation = {side: reading.choice(f"{side}_orientation", ORIENTATIONS) for side, _words in SIDES}
    gap = _face_gap(reading, dbse, engagement)
    overhangs = dbse - gap if gap is not None and dbse is not None else None
    axial = read_axial(reading, dbse, overhangs)
    if dbse is None or axial is None:
        return reading.done(None)
    return reading.done(Placed(dbse, engagement, share, orientation, gap, axial))


def _face_gap(reading: Reading, dbse_mm: float | None, engagement_mm: dict[str, float | None]) -> float | None:
    """Gap between the hubs' faces: each overhang is the bore less what sits on the shaft. [mm]

    A hub whose bore sits on the shaft wholly has its face flush with the shaft's end, or the shaft stands proud: the
    gap is then at least this.
    """
    bore, place = reading.place.version.hub_length_mm, reading.place
    known = [value for value in engagement_mm.values() if value is not None]
    if dbse_mm is None or bore is None or len(known) < len(SIDES) or reading.read.errors:
        return None
    one, other = (max(0.0, bore - value) for value in known)
    gap = hub_face_gap_mm(dbse_mm, one, other)
    least = "at least " if min(one, other) < 1e-9 else ""
    size = units.written(gap, "size", place.system)
    if gap <= 0:
        reading.warn(f"By these figures the hubs' faces touch or overlap ({size}): measure again.")
        return None
    reading.read.notes.append(
        f"Gap between the hubs' faces: {least}{size}, the distance between shaft ends less both overhangs."
    )
    return None if least else gap


def _placement_facts(values: Placed, place: Place) -> list[Any]:
    return [
        Placement(
            visit=place.visit,
            dbse_mm=values.dbse_mm,
            driver_engagement_mm=values.engagement_mm["driver"],
            driven_engagement_mm=values.engagement_mm["driven"],
            driver_share=values.share["driver"],
            driven_share=values.share["driven"],
            driver_orientation=values.orientation.get("driver", ""),
            driven_orientation=values.orientation.get("driven", ""),
            hub_face_gap_mm=values.hub_face_gap_mm,
            gaps=[{"at": at, "typed": typed, "mm": mm} for at, typed, mm in values.axial.gaps] or None,
            gap_between=values.axial.between,
            rotor_from_place_mm=values.axial.rotor_from_place_mm,
            rotor_float_mm=values.axial.float_mm,
            axial_growth_mm=values.axial.growth_mm,
            gap_in_place_mm=values.axial.in_place_mm if values.axial.told else None,
            gap_hot_mm=values.axial.hot_mm,
        )
    ]


@dataclass(frozen=True)
class Screws:
    side: str
    count: int
    torque_nm: float | None
    instrument: Any


def _screw_fields(visit: Visit, typed: Typed) -> list[FormField]:
    version = visit.sheet_version
    asked = units.written(version.set_screw_torque_nm, "screw-torque", visit.site.units)
    rows = []
    for side, words in SIDES:
        rows += [
            FormField(
                f"{side}_count",
                f"Set screws, {words}",
                "count",
                hint=f"The data sheet has {version.set_screw_count} {version.set_screw_size} in each hub.",
            ),
            FormField(f"{side}_torque", f"Torque, {words}", "screw-torque", hint=f"On the data sheet: {asked}."),
            FormField(f"{side}_instrument", f"Wrench, {words}", "instrument"),
        ]
    return rows


def _screws(typed: Typed, place: Place) -> Read:
    reading, version = Reading(typed, place), place.version
    found = []
    for side, words in SIDES:
        count = reading.count(f"{side}_count", 0, 16)
        torque = reading.quantity(f"{side}_torque", "screw-torque", 0, 1e5)
        tool = reading.instrument(f"{side}_instrument", TORQUE_TOOLS)
        reading.want(f"{side}_count", f"How many set screws were tightened on the {words}?")
        if torque is not None:
            reading.want(f"{side}_instrument", "Name the wrench the torque was set with.")
            if version.set_screw_torque_nm and abs(torque / version.set_screw_torque_nm - 1) > 0.01:
                asked = units.written(version.set_screw_torque_nm, "screw-torque", place.system)
                set_to = units.written(torque, "screw-torque", place.system)
                reading.warn(f"Set screws on the {words} at {set_to}; the data sheet asks {asked}.")
        if count is not None:
            if count < version.set_screw_count:
                reading.warn(f"{count} set screws on the {words}; the data sheet has {version.set_screw_count}.")
            found.append(Screws(side, count, torque, tool))
    return reading.done(found)


def _screw_facts(values: list[Screws], place: Place) -> list[Any]:
    return [
        SetScrew(visit=place.visit, side=row.side, count=row.count, torque_nm=row.torque_nm, instrument=row.instrument)
        for row in values
    ]


PLACEMENT = Step("placement", "Placement of the hubs", _placement_fields, _placement, _placement_facts, Placement)
SET_SCREWS = Step(
    "set-screws",
    "Set screws",
    _screw_fields,
    _screws,
    _screw_facts,
    SetScrew,
    tells=holding_told,
    applies=lambda visit: visit.sheet_version.set_screw_count > 0,
)
