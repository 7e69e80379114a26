"""Hub halves and the machines on whose shafts they sit."""

from __future__ import annotations

from datetime import date

from django.db.models import QuerySet

from couplings.models import Fit, HubHalf
from plant.models import MachineUnit, Person, UnitStay
from plant.sitetime import today_at


def unit_on_shaft(fit: Fit, side: str, on: date) -> MachineUnit | None:
    """The machine that stood on this side of a fit on a day, the later one where two did; None where none is known."""
    coupling, found = fit.coupling, None
    machine_id = coupling.driver_machine_id if side == HubHalf.Side.DRIVER else coupling.driven_machine_id
    stays = UnitStay.objects.filter(machine_id=machine_id).select_related("unit")
    for stay in sorted(stays, key=lambda one: (one.from_at is not None, one.from_at)):
        came = stay.from_at is None or today_at(fit.site, stay.from_at) <= on
        if came and (stay.until_at is None or today_at(fit.site, stay.until_at) >= on):
            found = stay.unit
    return found


def halves_of(unit: MachineUnit, person: Person) -> QuerySet[HubHalf]:
    """Hub halves that sat on this machine's shaft, the latest first, in fits that this person may see."""
    rows = HubHalf.objects.filter(unit=unit, fit__in=Fit.objects.visible_to(person))
    return rows.select_related("fit__coupling", "fit__sheet_version__sheet", "unit").order_by("-fitted_on", "-pk")


def halves_over_time(fit: Fit, person: Person) -> QuerySet[HubHalf]:
    """Where the halves of a fit were: every stretch in it, and by their serial numbers in other fits of the site."""
    serials = {half.serial for half in fit.hubs.all() if half.serial}
    rows = HubHalf.objects.filter(fit__in=Fit.objects.filter(site=fit.site).visible_to(person))
    rows = rows.filter(fit=fit) | rows.filter(serial__in=serials)
    joined = rows.select_related("fit__coupling", "fit__sheet_version__sheet", "unit")
    return joined.order_by("side", "serial", "fitted_on", "pk")
