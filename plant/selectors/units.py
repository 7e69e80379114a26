"""Which unit stood where and when: history follows the serial number, a position tells who stood in it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet

from plant.models import Machine, MachineUnit, Person, UnitStay

__all__ = [
    "UnitChange", "standing_units", "stays_at", "stays_of", "unit_at", "unit_changes", "units_matching",
    "units_visible_to",
]  # fmt: skip


@dataclass(frozen=True)
class UnitChange:
    """At one moment one unit left a position, another came to it, or both: shafts there stand anew from then on."""

    machine_id: int
    at: datetime
    taken_out: UnitStay | None = None
    installed: UnitStay | None = None


def units_visible_to(person: Person) -> QuerySet[MachineUnit]:
    return MachineUnit.objects.visible_to(person).select_related("site")


def units_matching(person: Person, text: str) -> QuerySet[MachineUnit]:
    """Units whose serial number, kind or plate contains the text; all of them where nothing is typed."""
    text = text.strip()
    rows = units_visible_to(person)
    if text:
        rows = rows.filter(Q(serial__icontains=text) | Q(kind__icontains=text) | Q(plate__icontains=text))
    return rows.order_by("kind", "serial", "pk")


def stays_of(unit: MachineUnit) -> QuerySet[UnitStay]:
    """Everywhere this unit stood, the present place first; rows print their train without further queries."""
    return _printed(UnitStay.objects.filter(unit=unit))


def stays_at(machine: Machine) -> QuerySet[UnitStay]:
    """Every unit that stood in this position, the present one first."""
    return _printed(UnitStay.objects.filter(machine=machine))


def unit_at(machine: Machine, instant: datetime | None = None) -> MachineUnit | None:
    """The unit in a position at an instant (now); None where none is recorded."""
    rows = UnitStay.objects.filter(machine=machine)
    if instant is None:
        rows = rows.filter(until_at__isnull=True)
    else:
        began = Q(from_at__isnull=True) | Q(from_at__lte=instant)
        rows = rows.filter(began, Q(until_at__isnull=True) | Q(until_at__gt=instant))
    found = rows.select_related("unit").first()
    return found.unit if found is not None else None


def standing_units(machines: Iterable[Machine]) -> dict[int, UnitStay]:
    """The open stay of each of these positions that has one, by machine id, in one query."""
    rows = UnitStay.objects.filter(machine__in=[one.pk for one in machines], until_at__isnull=True)
    return {stay.machine_id: stay for stay in rows.select_related("unit")}


def unit_changes(machines: Iterable[Machine], since: datetime, until: datetime) -> list[UnitChange]:
    """Exchanges at these positions after `since`, up to and including `until`, in order of time, in one query.

    A unit that stood there since before the record began has not come, so it is no change until it leaves.
    """
    began = Q(from_at__gt=since, from_at__lte=until)
    ended = Q(until_at__gt=since, until_at__lte=until)
    stays = UnitStay.objects.filter(began | ended, machine__in=[one.pk for one in machines]).select_related("unit")
    out: dict[tuple[datetime, int], UnitStay] = {}
    came: dict[tuple[datetime, int], UnitStay] = {}
    for stay in stays:
        if stay.from_at is not None and since < stay.from_at <= until:
            came[stay.from_at, stay.machine_id] = stay
        if stay.until_at is not None and since < stay.until_at <= until:
            out[stay.until_at, stay.machine_id] = stay
    return [
        UnitChange(machine_id, at, out.get((at, machine_id)), came.get((at, machine_id)))
        for at, machine_id in sorted({*out, *came})
    ]


def _printed(rows: QuerySet[UnitStay]) -> QuerySet[UnitStay]:
    printed = rows.select_related("unit", "machine__train__site", "installed_by", "taken_out_by")
    return printed.reverse()
