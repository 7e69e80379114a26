"""The machines of a train and their feet: rows below the train, replaced as one list."""

from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from django.db import transaction
from django.db.models import ProtectedError

from plant.models import FootPlane, Machine, Train, UnitStay
from plant.recording import bump
from plant.refusals import Refused
from plant.scope import out_of_scope, turns_a_corner
from plant.selectors.links import links_of
from plant.services.machine_places import matched, parted, save_in_place
from plant.services.rows import errors_of
from plant.services.shafts import neighbour_errors, shaft_errors

MOST_MACHINES = 6
MOST_FEET = 4
FIELDS = (
    "position", "name", "role", "mounting", "movable", "shaft_length_mm", "rpm", "lowest_rpm", "power_kw",
    "driven_rpm", "driven_lowest_rpm", "driven_power_kw", "support_material",
)  # fmt: skip
_STARTERS = {field.name: field.get_default() for field in Machine._meta.fields if field.name in FIELDS}


def set_machines(train: Train, given: Sequence[Mapping[str, Any]]) -> None:
    """Make the train's machines those given, the driver end being 1; all or nothing is written.

    Each is known by its uuid where the list carries any, by its position where it carries none: couplings, units and
    records go by the row. What joins machines is told when one of them changes.
    """
    standing = list(Machine.objects.filter(train=train).prefetch_related("foot_planes"))
    before = {machine.pk: (machine.position, _row(machine)) for machine in standing}
    links = links_of(train) if standing else []
    found, gone, errors = matched(train, given, standing, links)
    if len(given) > MOST_MACHINES:
        errors["machines"] = f"A train has at most {MOST_MACHINES} machines."
    positions = Counter(row.get("position", number) for number, row in enumerate(given, start=1))
    changed: list[Machine] = []
    line: list[tuple[str, Machine]] = []
    feet_of: list[tuple[Machine, list[FootPlane]]] = []
    for index, (row, machine) in enumerate(zip(given, found, strict=True)):
        under = f"machines.{index}"
        position = row.get("position", index + 1)
        for name in FIELDS:
            setattr(machine, name, row.get(name, _STARTERS[name]))
        machine.position = position
        if machine.pk is None or (position, _row(machine)) != before[machine.pk]:
            changed.append(machine)
        line.append((under, machine))
        errors |= _own_errors(machine, under, last=position in (1, len(given)))
        if not 1 <= position <= len(given):
            errors[f"{under}.position"] = "Positions run from 1, the driver end, without gaps."
        elif positions[position] > 1:
            errors[f"{under}.position"] = f"Position {position} is given twice."
        feet = [FootPlane(**foot) for foot in row.get("feet", ())]
        errors |= _feet_errors(machine, feet, f"{under}.feet")
        if machine.pk is None or sorted(map(_foot, machine.foot_planes.all())) != sorted(map(_foot, feet)):
            feet_of.append((machine, feet))
    if not errors:
        errors = parted(found, links) | _line_errors(line)
    if errors:
        raise Refused(errors)
    touched = {machine.pk for machine in changed}
    _take_away(gone)
    save_in_place(changed, {pk: position for pk, (position, _) in before.items()})
    FootPlane.objects.filter(machine__in=[machine for machine, _ in feet_of]).delete()
    for machine, feet in feet_of:
        for foot in feet:
            foot.machine = machine
    FootPlane.objects.bulk_create([foot for _, feet in feet_of for foot in feet])
    for link in links:
        if touched & {link.driver_id, link.driven_id}:
            bump(link.root)


def _own_errors(machine: Machine, under: str, *, last: bool) -> dict[str, str]:
    """`last`: it stands at an end of the train."""
    errors = errors_of(machine)
    if not errors:
        errors = shaft_errors(machine)
    words = out_of_scope(machine.name) or ("" if last else turns_a_corner(machine.name))
    if words:
        errors["name"] = words
    return {f"{under}.{name}": message for name, message in errors.items()}


def _line_errors(line: list[tuple[str, Machine]]) -> dict[str, str]:
    errors: dict[str, str] = {}
    line = sorted(line, key=lambda row: row[1].position)
    for (_, before), (under, after) in pairwise(line):
        errors |= {f"{under}.{name}": message for name, message in neighbour_errors(before, after).items()}
    return errors


def _row(machine: Machine) -> list[Any]:
    return [getattr(machine, name) for name in FIELDS]


def _foot(foot: FootPlane) -> tuple[Any, ...]:
    return foot.name, foot.distance_mm, foot.support_height_mm or 0.0


def _feet_errors(machine: Machine, feet: list[FootPlane], under: str) -> dict[str, str]:
    errors: dict[str, str] = {}
    if feet and machine.mounting != Machine.Mounting.FEET:
        errors[under] = "Only a horizontal machine on feet has foot planes."
    elif len(feet) == 1 or len(feet) > MOST_FEET:
        errors[under] = f"A machine stands on two to {MOST_FEET} foot planes; leave them out while they are not known."
    names, distances = Counter(foot.name for foot in feet), Counter(foot.distance_mm for foot in feet)
    for index, foot in enumerate(feet):
        place = f"{under}.{index}"
        errors |= errors_of(foot, place)
        if names[foot.name] > 1:
            errors[f"{place}.name"] = f"“{foot.name}” is given twice."
        if distances[foot.distance_mm] > 1:
            errors[f"{place}.distance_mm"] = "Two foot planes at one distance are one."
    return errors


def _take_away(machines: list[Machine]) -> None:
    for machine in machines:
        try:
            with transaction.atomic():
                machine.delete()
        except ProtectedError as held:
            where = f"position {machine.position} ({machine.name})"
            message = f"A coupling stands on {where}: retire it first."
            if any(isinstance(row, UnitStay) for row in held.protected_objects):
                message = f"Units are recorded as having stood in {where}, which keeps it: their history goes by it."
            raise Refused(
                {"machines": message},
                code="in-use",
            ) from None
