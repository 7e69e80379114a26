"""Couplings as places: registered, changed, retired, and the cold position wanted at each."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any
from uuid import UUID

from couplings import rules
from couplings.models import Coupling, Grade, TargetPart
from couplings.selectors.shafts import shafts_joined, speed_disagreements
from couplings.services.checking import refuse, saved
from plant import access
from plant.models import Machine, Train
from plant.recording import bump, changed, current
from plant.refusals import Refused
from plant.scope import out_of_scope
from plant.services.references import set_references
from plant.services.rows import errors_of, refuse_known_uuid, set_fields
from plant.sitetime import today_at

GRADE_FIELDS = ("grade", "grade_reason")
FIELDS = ("tag", "name", "rpm", "lowest_rpm", "power_kw", *GRADE_FIELDS)
TARGET_FIELDS = ("offset_v_mm", "offset_h_mm", "slope_v_mrad", "slope_h_mrad")


def register_coupling(
    *,
    train: Train,
    driver_machine: Machine,
    driven_machine: Machine,
    tag: str,
    rpm: float | None = None,
    lowest_rpm: float | None = None,
    power_kw: float | None = None,
    name: str = "",
    grade: Grade | None = None,
    grade_reason: str = "",
    external_ref: Mapping[str, str | None] | None = None,
    uuid: UUID | None = None,
) -> Coupling:
    """Register the place between two neighbouring machines of a train.

    `rpm` is the highest speed of its shafts. Speeds and power that are not given are those of the two shafts it joins.
    """
    unit = current()
    access.require(unit.by, "register.write", train.site)
    refuse_known_uuid(Coupling, uuid)
    joined = shafts_joined(driver_machine, driven_machine)
    rpm = rpm if rpm is not None else joined.rpm
    power_kw = power_kw if power_kw is not None else joined.power_kw
    if lowest_rpm is None and rpm is not None and joined.lowest_rpm is not None and joined.lowest_rpm < rpm:
        lowest_rpm = joined.lowest_rpm
    if rpm is None:
        raise Refused({"rpm": "Give its speed: the register has none for the two shafts it joins."})
    coupling = Coupling(
        site=train.site, train=train, driver_machine=driver_machine, driven_machine=driven_machine, tag=tag.strip(),
        name=name, rpm=rpm, lowest_rpm=lowest_rpm, power_kw=power_kw, grade=grade, grade_reason=grade_reason,
    )  # fmt: skip
    if uuid is not None:
        coupling.uuid = uuid
    if grade is not None:
        access.require(unit.by, "policy.write", train.site)
    placed = rules.place_errors(train.pk, driver_machine, driven_machine)
    refuse(_errors(coupling) | placed | _taken(coupling) or speed_disagreements(coupling))
    saved(coupling, lambda: _taken(coupling))
    set_references(root=coupling, refs=external_ref)
    changed(coupling)
    return coupling


def change_coupling(
    *,
    coupling: Coupling,
    expected: int | None = None,
    external_ref: Mapping[str, str | None] | None = None,
    **fields: Any,
) -> Coupling:
    """Change what a coupling is called and turns at, or the grade it is held to; its place never moves."""
    unit = current()
    if set(fields) - set(GRADE_FIELDS) or not fields or external_ref is not None:
        access.require(unit.by, "register.write", coupling.site)
    if set(fields) & set(GRADE_FIELDS):
        access.require(unit.by, "policy.write", coupling.site)
    bump(coupling, expected)
    set_fields(coupling, fields, FIELDS)
    coupling.tag = coupling.tag.strip()
    # A disagreement that stood before is said on the coupling; it does not stand in the way of another change.
    apart = speed_disagreements(coupling) if set(fields) & {"rpm", "lowest_rpm"} else {}
    refuse(apart | _errors(coupling) | _taken(coupling))
    set_references(root=coupling, refs=external_ref)
    return saved(coupling, lambda: _taken(coupling))


def retire_coupling(
    *, coupling: Coupling, on: date, successor: Coupling | None = None, expected: int | None = None
) -> Coupling:
    """Take a coupling out of the register; its record stays, and the successor says where it goes on.

    A successor at the same place can be registered only afterwards: retire again with the same day to name it.
    """
    unit = current()
    access.require(unit.by, "register.write", coupling.site)
    bump(coupling, expected)
    errors: dict[str, str] = {}
    if coupling.retired_on is not None and (coupling.successor_id or successor is None or on != coupling.retired_on):
        errors["on"] = f"This coupling was retired on {coupling.retired_on} already."
    elif on > today_at(coupling.site, unit.at):
        errors["on"] = f"{on} is still to come: a coupling is retired once it is gone."
    last = coupling.fits.order_by("-fitted_on").first()
    if last is not None and last.removed_on is None:
        errors[""] = f"What was fitted on {last.fitted_on} is still recorded as being here: remove that fit first."
    elif last is not None and last.removed_on is not None and on < last.removed_on:
        errors["on"] = f"A fit was here until {last.removed_on}."
    if successor is not None and (message := _successor_error(coupling, successor)):
        errors["successor"] = message
    refuse(errors)
    coupling.retired_on, coupling.successor = on, successor
    coupling.save()
    return coupling


def set_target(
    *, coupling: Coupling, kind: str = "given", note: str = "", expected: int | None = None, **figures: float
) -> TargetPart:
    """Set one part of the cold position wanted, in the record's frame; the target is the sum of its parts.

    Figures are offset_v_mm, offset_h_mm (at the coupling's centre), slope_v_mrad, slope_h_mrad: driver-side shaft
    relative to the driven-side shaft, seen from the driver end, up and right positive. What is not given is 0.
    """
    unit = current()
    access.require(unit.by, "target.write", coupling.site)
    bump(coupling, expected)
    part = TargetPart.objects.filter(coupling=coupling, kind=kind).first() or TargetPart(coupling=coupling, kind=kind)
    set_fields(part, dict.fromkeys(TARGET_FIELDS, 0.0) | figures, TARGET_FIELDS)
    part.note, part.by, part.on = note, unit.by, today_at(coupling.site, unit.at)
    refuse(errors_of(part))
    part.save()
    return part


def remove_target(*, coupling: Coupling, kind: str, expected: int | None = None) -> None:
    """Take one part out of the target."""
    unit = current()
    access.require(unit.by, "target.write", coupling.site)
    bump(coupling, expected)
    part = TargetPart.objects.filter(coupling=coupling, kind=kind).first()
    if part is None:
        raise Refused({"kind": "The target has no such part."})
    part.delete()


def _errors(coupling: Coupling) -> dict[str, str]:
    errors = errors_of(coupling) | rules.speed_errors(coupling.rpm, coupling.lowest_rpm)
    if words := out_of_scope(coupling.name):
        errors["name"] = words
    if coupling.grade is not None and coupling.grade.site_id != coupling.site_id:
        errors["grade"] = "This grade belongs to another site."
    elif coupling.grade is not None and not coupling.grade_reason.strip():
        errors["grade_reason"] = "Say why this coupling is not held to the grade of its train's criticality."
    elif coupling.grade is None and coupling.grade_reason:
        errors["grade_reason"] = (
            "A reason goes with a grade chosen for this coupling: choose the grade, or leave it out."
        )
    return errors


def _taken(coupling: Coupling) -> dict[str, str]:
    others = Coupling.objects.exclude(pk=coupling.pk)
    errors: dict[str, str] = {}
    if others.filter(site_id=coupling.site_id, tag=coupling.tag).exists():
        errors["tag"] = "Another coupling of this site has this tag."
    here = others.filter(
        driver_machine_id=coupling.driver_machine_id,
        driven_machine_id=coupling.driven_machine_id,
        retired_on__isnull=True,
    ).first()
    if coupling.retired_on is None and here is not None:
        errors["driven_machine"] = f"Coupling {here.tag} is registered between these machines: retire it first."
    return errors


def _successor_error(coupling: Coupling, successor: Coupling) -> str:
    if successor.pk == coupling.pk:
        return "A coupling cannot succeed itself."
    if successor.train_id != coupling.train_id:
        return "The successor stands in another train."
    seen: Coupling | None = successor
    while seen is not None:
        if seen.pk == coupling.pk:
            return f"{successor.tag} was itself succeeded by {coupling.tag}: that would go round in a circle."
        seen = seen.successor
    return ""
