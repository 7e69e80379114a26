"""Fasteners, joint by joint of the data sheet: a torque set for the whole pattern, or read at each position."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from couplings.models import SheetJoint
from inspections import rules
from inspections.models import Torque, Visit
from inspections.steps.registry import Place, Read, Step, Typed
from inspections.steps.typed import Reading, ended
from plant import units
from plant.calculations import FormField

TOOL_FOR = {"set": ("torque-set",), "read": ("torque-read",)}


@dataclass(frozen=True)
class Tightened:
    joint: SheetJoint
    how: str
    pattern_nm: float | None
    positions: dict[int, float]
    instrument: Any


def _fields(visit: Visit, typed: Typed) -> list[FormField]:
    rows = []
    for place, joint in enumerate(visit.sheet_version.joints.all()):
        at, group = f"joint{place}", f"{joint.name}, {joint.positions} {joint.thread}".strip()
        asked = units.written(joint.torque_nm, "torque", visit.site.units)
        refused = rules.recheck_refusal(visit.kind, joint.recheck, joint.recheck_reason)
        rows += [
            FormField(
                f"{at}.how",
                "How the torque is known",
                "choice",
                required=not refused,
                group=group,
                choices=tuple(Torque.How.choices),
                hint=refused or f"On the data sheet: {asked}, {joint.get_order_display()}.",
            ),
            FormField(f"{at}.torque", "Torque the wrench was set to", "torque", group=group),
            FormField(f"{at}.instrument", "Wrench", "instrument", group=group),
            *(
                FormField(f"{at}.position{number}", f"Position {number}", "torque", group=group)
                for number in range(1, joint.positions + 1)
            ),
        ]
    return rows


def _read(typed: Typed, place: Place) -> Read:
    reading = Reading(typed, place)
    found = []
    for number, joint in enumerate(place.joints):
        at = f"joint{number}"
        any_typed = any(value.strip() for name, value in typed.items() if name.startswith(f"{at}."))
        if sentence := rules.recheck_refusal(place.visit.kind, joint.recheck, joint.recheck_reason):
            if any_typed:
                reading.refuse(f"{at}.how", f"{joint.name}: {sentence}")
            continue
        found.append(_joint(reading, joint, at))
    return reading.done([joint for joint in found if joint is not None])


def _joint(reading: Reading, joint: SheetJoint, at: str) -> Tightened | None:
    how = reading.choice(f"{at}.how", Torque.How.choices)
    pattern = reading.quantity(f"{at}.torque", "torque", 0, 1e6)
    tool = reading.instrument(f"{at}.instrument", TOOL_FOR.get(how, ()))
    positions: dict[int, float] = {}
    for number in range(1, joint.positions + 1):
        value = reading.quantity(f"{at}.position{number}", "torque", 0, 1e6)
        if value is not None:
            positions[number] = value
    reading.want(
        f"{at}.how", f"{joint.name}: say whether the torque was set on a click wrench or read position by one."
    )
    reading.want(f"{at}.instrument", f"{joint.name}: name the wrench.")
    if how == "set":
        reading.want(f"{at}.torque", f"{joint.name}: the torque the wrench was set to is missing.")
    elif how == "read":
        if pattern is not None:
            reading.refuse(
                f"{at}.torque", "A torque that was read belongs to a position: enter it there, and only there."
            )
        if not positions:
            reading.read.missing.setdefault(f"{at}.position1", f"{joint.name}: no position is read yet.")
        elif unread := [n for n in range(1, joint.positions + 1) if n not in positions]:
            reading.warn(f"{joint.name}: not read at {_listed(unread)} of {joint.positions}.")
    _compare(reading, joint, how, pattern, positions)
    return Tightened(joint, how, pattern, positions, tool)


def _compare(reading: Reading, joint: SheetJoint, how: str, pattern: float | None, positions: dict[int, float]) -> None:
    """Say what differs from the data sheet; rounding of a converted figure (1 %) is not a difference."""
    system = reading.place.system
    asked = units.written(joint.torque_nm, "torque", system)
    if how == "set" and pattern is not None and abs(pattern / joint.torque_nm - 1) > 0.01:
        reading.warn(f"{joint.name}: set to {units.written(pattern, 'torque', system)}; the data sheet asks {asked}.")
    low = [number for number, value in positions.items() if value < joint.torque_nm * 0.99]
    if low:
        reading.warn(f"{joint.name}: below the data sheet's {asked} at {_listed(low)}.")


def _listed(positions: list[int]) -> str:
    return f"position{'s' if len(positions) > 1 else ''} {', '.join(str(number) for number in positions)}"


def _facts(values: list[Tightened], place: Place) -> list[Any]:
    rows = []
    for found in values:
        stale = ended(found.instrument, place.visit.on)
        at: dict[int | None, float] = {position: value for position, value in found.positions.items()}
        if found.how == "set" and found.pattern_nm is not None:
            at[None] = found.pattern_nm
        rows += [
            Torque(
                visit=place.visit,
                joint=found.joint.name,
                how=found.how,
                position=position,
                torque_nm=torque_nm,
                instrument=found.instrument,
                out_of_calibration=stale,
            )
            for position, torque_nm in at.items()
        ]
    return rows


def _applies(visit: Visit) -> bool:
    """Whether the data sheet has a joint that this kind of visit may touch."""
    return any(
        not rules.recheck_refusal(visit.kind, joint.recheck, joint.recheck_reason)
        for joint in visit.sheet_version.joints.all()
    )


FASTENERS = Step("fasteners", "Fasteners", _fields, _read, _facts, Torque, applies=_applies)
