"""Lubricant: what the old one looks like, and what was filled in, by name and quantity."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from couplings.engineering.lubrication import GREASE_STATES, GreaseState, grease_state
from couplings.engineering.wear import FLAG_FROM
from inspections.models import Lubrication, Visit
from inspections.steps.registry import Place, Read, Step, Typed
from inspections.steps.typed import Reading
from plant import units
from plant.calculations import FormField

STATES = tuple((row.code, row.title) for row in GREASE_STATES)
# Consistency grades of greases from thin to stiff: from memory of ISO 6743-9 and ISO 2137.
CONSISTENCIES = (
    ("000", "000, flows like thick oil"),
    ("00", "00, half fluid"),
    ("0", "0, very soft"),
    ("1", "1, soft"),
    ("2", "2, as butter"),
    ("3", "3, firm"),
    ("4", "4, very firm"),
    ("5", "5, hard"),
    ("6", "6, very hard, in blocks"),
)
ADDS = frozenset({Lubrication.Act.ADDED, Lubrication.Act.RENEWED})


@dataclass(frozen=True)
class Greased:
    act: str
    name: str
    quantity_g: float | None
    consistency: str
    every_months: int | None
    state: GreaseState | None


def _fields(visit: Visit, typed: Typed) -> list[FormField]:
    version, system = visit.sheet_version, visit.site.units
    named = f" The data sheet names {version.lubricant}." if version.lubricant else ""
    asked = units.written(version.lubricant_g, "mass", system) if version.lubricant_g else ""
    every = f"The data sheet asks for {version.lubricant_months}." if version.lubricant_months else ""
    return [
        FormField("act", "What was done", "choice", True, choices=tuple(Lubrication.Act.choices)),
        FormField("state", "The old one as it was found", "choice", choices=STATES),
        FormField("name", "Lubricant", "text", hint=f"By its name, as on the cartridge.{named}"),
        FormField("quantity", "Quantity", "mass", hint=f"The data sheet asks for {asked}." if asked else ""),
        FormField(
            "consistency", "Consistency grade", "choice", choices=CONSISTENCIES, hint="As on the cartridge; not of oil."
        ),
        FormField("every_months", "Months until the next fill", "count", hint=every),
    ]


def _read(typed: Typed, place: Place) -> Read:
    reading, version = Reading(typed, place), place.version
    act = reading.choice("act", Lubrication.Act.choices)
    code = reading.choice("state", STATES)
    state = grease_state(code) if code else None
    name = reading.text("name", 80)
    quantity = reading.quantity("quantity", "mass", 0.1, 1e6)
    consistency = reading.choice("consistency", CONSISTENCIES)
    months = reading.count("every_months", 1, 600)
    reading.want("act", "Say whether lubricant was renewed, topped up, or only looked at.")
    if act in ADDS:
        reading.want("name", "Name the lubricant that was filled in.")
        if quantity is None and "quantity" not in reading.read.errors:
            reading.warn("The quantity filled in is not written down.")
        _compare(reading, name, quantity, act)
    elif act == Lubrication.Act.LOOKED:
        reading.want("state", "Say what the lubricant looks like.")
        for field in ("name", "quantity", "consistency"):
            if reading.given(field):
                reading.refuse(field, "None was added, so leave this empty; or say that it was topped up or renewed.")
    if version.lubricant_months and months and months > version.lubricant_months:
        reading.warn(f"Next fill in {months} months; the data sheet asks for {version.lubricant_months}.")
    if state is not None and state.grade >= FLAG_FROM:
        left = "" if act == Lubrication.Act.RENEWED else " Renew it, and grade it under Wear, where it raises a flag."
        reading.warn(f"{state.title}: grade {state.grade}.{left}")
    return reading.done(Greased(act, name, quantity, consistency, months, state))


def _compare(reading: Reading, name: str, quantity: float | None, act: str) -> None:
    """Say what differs from the data sheet; a tenth of the quantity is not a difference."""
    version, system = reading.place.version, reading.place.system
    if version.lubricant and name and name.casefold() != version.lubricant.casefold():
        reading.warn(
            f"{name}; the data sheet names {version.lubricant}. Greases of different thickeners do not mix: clean the "
            "old one out."
        )
    asked = version.lubricant_g
    if act == Lubrication.Act.RENEWED and asked and quantity is not None and abs(quantity / asked - 1) > 0.1:
        said = [units.written(one, "mass", system) for one in (quantity, asked)]
        reading.warn(f"{said[0]} filled in; the data sheet asks for {said[1]}.")


def _facts(values: Greased, place: Place) -> list[Any]:
    return [
        Lubrication(
            visit=place.visit,
            act=values.act,
            name=values.name,
            quantity_g=values.quantity_g,
            consistency=values.consistency,
            every_months=values.every_months,
            state=values.state.code if values.state is not None else "",
            state_grade=values.state.grade if values.state is not None else None,
        )
    ]


def _applies(visit: Visit) -> bool:
    version = visit.sheet_version
    return bool(version.sheet.family.lubricated or version.lubricant)


LUBRICANT = Step("lubricant", "Lubricant", _fields, _read, _facts, Lubrication, applies=_applies)
