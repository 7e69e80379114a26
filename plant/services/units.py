"""Units by serial number: registered, installed in machine positions, taken out, exchanged.

Every change bumps the unit and the train it concerns, the train first, so that readers of either are told and what
depends on the machines follows in the same unit of work.
"""

import uuid as uuids
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from plant import access
from plant.models import Machine, MachineUnit, Site, Train, UnitStay
from plant.recording import bump, changed, current
from plant.refusals import Refused
from plant.services.references import set_references
from plant.services.rows import errors_of, refuse_known_uuid, set_fields, taken
from plant.services.service import SLACK
from plant.sitetime import said_at

FIELDS = ("kind", "serial", "plate", "note")
STAY_FIELDS = ("from_at", "until_at", "came_with_hub", "left_with_hub", "reason", "went_to")
FUTURE = "This lies in the future: it is recorded once it has happened."


def register_unit(
    *,
    site: Site,
    kind: str,
    serial: str,
    plate: str = "",
    note: str = "",
    external_ref: Mapping[str, str | None] | None = None,
    uuid: uuids.UUID | None = None,
) -> MachineUnit:
    """A machine as a thing with a serial number; it stands nowhere yet."""
    _require(site.pk)
    refuse_known_uuid(MachineUnit, uuid)
    unit = MachineUnit(site=site, kind=kind, serial=serial, plate=plate, note=note)
    if uuid is not None:
        unit.uuid = uuid
    _check(unit)
    unit.save()
    set_references(root=unit, refs=external_ref)
    changed(unit)
    return unit


def change_unit(
    *,
    unit: MachineUnit,
    expected: int | None = None,
    external_ref: Mapping[str, str | None] | None = None,
    **fields: Any,
) -> MachineUnit:
    """Correct what a unit is, its serial number, what its plate says."""
    _require(unit.site_id)
    bump(unit, expected)
    set_fields(unit, fields, FIELDS)
    _check(unit)
    unit.save()
    set_references(root=unit, refs=external_ref)
    return unit


def install_unit(
    *,
    unit: MachineUnit,
    machine: Machine,
    at: datetime | None,
    came_with_hub: bool | None = None,
    expected: int | None = None,
) -> UnitStay:
    """Put a unit into an empty machine position at a moment; None: it stood there before the record began."""
    _bump(unit, machine.train, expected=expected)
    stay = UnitStay(
        site_id=unit.site_id, unit=unit, machine=machine, from_at=at, came_with_hub=came_with_hub,
        came_told_at=current().at, installed_by=current().by,
    )  # fmt: skip
    _refuse(_errors(stay), "from_at")
    stay.save()
    return stay


def take_out_unit(
    *,
    unit: MachineUnit,
    at: datetime,
    reason: str,
    went_to: str = "",
    left_with_hub: bool | None = None,
    expected: int | None = None,
) -> UnitStay:
    """Take a unit out of its position: why, where it went, whether its hub half stayed on it."""
    stay = _open(UnitStay.objects.filter(unit=unit))
    _bump(unit, *([stay.machine.train] if stay is not None else []), expected=expected)
    if stay is None:
        raise Refused(f"{unit} stands in no machine position.", code="stands-nowhere")
    stay.refresh_from_db()
    _refuse(_close(stay, at, reason, went_to, left_with_hub), "until_at")
    stay.save()
    return stay


def swap_unit(
    *,
    machine: Machine,
    unit: MachineUnit,
    at: datetime,
    reason: str,
    went_to: str = "",
    left_with_hub: bool | None = None,
    came_with_hub: bool | None = None,
    expected: int | None = None,
) -> tuple[UnitStay, UnitStay]:
    """Exchange the unit in a position for another at one moment: (the stay that ended, the one that began).

    `reason`, `went_to` and `left_with_hub` speak of the old unit, `came_with_hub` of the new one. `expected` is the
    version of the new unit.
    """
    old = _open(UnitStay.objects.filter(machine=machine))
    _bump(*([old.unit] if old is not None else []), unit, machine.train, expected=expected, of=unit)
    if old is None:
        raise Refused(f"No unit is recorded in {machine}: install this one instead.", code="nothing-stands-there")
    old.refresh_from_db()
    errors = {"unit": f"{unit} stands there already."} if old.unit_id == unit.pk else {}
    _refuse(errors | _close(old, at, reason, went_to, left_with_hub), "until_at")
    old.save()
    stay = UnitStay(
        site_id=unit.site_id, unit=unit, machine=machine, from_at=at, came_with_hub=came_with_hub,
        came_told_at=current().at, installed_by=current().by,
    )  # fmt: skip
    _refuse(_errors(stay), "from_at")
    stay.save()
    return old, stay


def correct_stay(*, stay: UnitStay, expected: int | None = None, **fields: Any) -> UnitStay:
    """Correct the times and facts of a stay; who stood where is corrected by removing it and recording another."""
    _bump(stay.unit, stay.machine.train, expected=expected)
    stay.refresh_from_db()
    was_open = stay.until_at is None
    set_fields(stay, fields, STAY_FIELDS)
    if stay.until_at is None and not was_open:
        # It never left after all.
        stay.reason, stay.went_to, stay.left_with_hub, stay.left_told_at, stay.taken_out_by = "", "", None, None, None
    errors = _errors(stay)
    if was_open and (stay.until_at is not None or stay.reason or stay.went_to or stay.left_with_hub is not None):
        errors[""] = "It still stands there: take it out first."
    elif stay.until_at is not None and not stay.reason.strip():
        errors["reason"] = "Say why it was taken out."
    _refuse(errors)
    stay.save()
    return stay


def remove_stay(*, stay: UnitStay, expected: int | None = None) -> None:
    """Take back a stay that never was. The history keeps it."""
    _bump(stay.unit, stay.machine.train, expected=expected)
    stay.delete()


def require(unit: MachineUnit) -> None:
    """Refuse unless the person may exchange machines at this unit's site."""
    _require(unit.site_id)


def _require(site_id: int) -> None:
    """Whoever fills visits exchanges machines there; whoever keeps the register may enter it from papers."""
    by = current().by
    if not access.may(by, "register.write", site_id):
        access.require(by, "visit.fill", site_id)


def _bump(*roots: Train | MachineUnit, expected: int | None, of: MachineUnit | None = None) -> None:
    """Lock and raise trains, then units, in order of their numbers; `expected` is of `of`, else of the only unit."""
    units = {root.pk: root for root in roots if isinstance(root, MachineUnit)}
    trains = {root.pk: root for root in roots if isinstance(root, Train)}
    for root in roots:
        _require(root.site_id)
    for _, train in sorted(trains.items()):
        bump(train)
    checked = of.pk if of is not None else next(iter(units))
    for pk, unit in sorted(units.items()):
        bump(unit, expected if pk == checked else None)


def _open(stays: Any) -> UnitStay | None:
    return stays.filter(until_at__isnull=True).select_related("unit", "machine__train__site").first()


def _close(stay: UnitStay, at: datetime, reason: str, went_to: str, left_with_hub: bool | None) -> dict[str, str]:
    if stay.until_at is not None:
        return {"": f"Somebody took {stay.unit} out just now: look at it first."}
    stay.until_at, stay.reason, stay.went_to, stay.left_with_hub = at, reason.strip(), went_to.strip(), left_with_hub
    stay.left_told_at, stay.taken_out_by = current().at, current().by
    errors = _errors(stay)
    if not stay.reason:
        errors.setdefault("reason", "Say why it was taken out.")
    return errors


def _errors(stay: UnitStay) -> dict[str, str]:
    """What stands against a stay as it would be: times in order and past, one unit per position, one per unit."""
    now, site = current().at + SLACK, stay.machine.train.site
    errors = errors_of(stay)
    if stay.machine.train.site_id != stay.unit.site_id:
        errors["machine"] = f"{stay.unit} belongs to another site."
        return errors
    for name, at in (("from_at", stay.from_at), ("until_at", stay.until_at)):
        if at is not None and at > now:
            errors[name] = FUTURE
    if errors.keys() & {"from_at", "until_at"}:
        return errors
    if stay.from_at is not None and stay.until_at is not None and stay.until_at < stay.from_at:
        errors["until_at"] = f"It came there at {said_at(site, stay.from_at)}: it cannot have left before."
        return errors
    others = UnitStay.objects.exclude(pk=stay.pk).select_related("unit", "machine__train")
    for other in others.filter(unit_id=stay.unit_id):
        if _overlap(stay, other):
            errors["unit"] = f"{stay.unit} stands at {other.machine}{_times(other, site)}."
    for other in others.filter(machine_id=stay.machine_id):
        if _overlap(stay, other):
            errors["machine"] = f"{other.unit} stands there{_times(other, site)}."
    return errors


def _overlap(one: UnitStay, other: UnitStay) -> bool:
    """Stays may touch: one ends at the moment the other begins."""
    before = one.until_at is not None and (other.from_at is not None and one.until_at <= other.from_at)
    after = other.until_at is not None and (one.from_at is not None and other.until_at <= one.from_at)
    return not (before or after)


def _times(stay: UnitStay, site: Site) -> str:
    began = f" since {said_at(site, stay.from_at)}" if stay.from_at is not None else ""
    return began + (f" until {said_at(site, stay.until_at)}" if stay.until_at is not None else "")


def _refuse(errors: dict[str, str], at: str = "") -> None:
    """With `at` the column that was given as the one moment, which the caller calls `at`."""
    if errors:
        raise Refused({"at" if at and field == at else field: message for field, message in errors.items()})


def _check(unit: MachineUnit) -> None:
    unit.kind, unit.serial = unit.kind.strip(), unit.serial.strip()
    errors = errors_of(unit)
    if not errors.keys() & {"kind", "serial"} and taken(unit, "site", "kind", "serial"):
        errors["serial"] = f"There is a {unit.kind} with the serial number “{unit.serial}” at this site already."
    if errors:
        raise Refused(errors)
