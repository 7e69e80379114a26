"""What the exchange of a machine tells outside, for each coupling beside it."""

from typing import Any

from django.db.models import Q

from couplings.models import Coupling
from plant.models import UnitStay
from plant.recording import current, told


def tell_exchanges(units: list[Any]) -> None:
    """A machine was exchanged: told for every coupling at its position, once for what left and once for what came."""
    now = current().at
    stays = UnitStay.objects.filter(Q(came_told_at=now) | Q(left_told_at=now), unit__in=[one.pk for one in units])
    moves = []
    for stay in stays.select_related("unit").order_by("pk"):
        if stay.left_told_at == now and stay.until_at is not None:
            moves.append((stay.machine_id, stay.unit, {"taken_out_at": stay.until_at, "hub": stay.left_with_hub}))
        if stay.came_told_at == now:
            moves.append((stay.machine_id, stay.unit, {"installed_at": stay.from_at, "hub": stay.came_with_hub}))
    if not moves:
        return
    at = [machine_id for machine_id, _, _ in moves]
    couplings = list(
        Coupling.objects.filter(Q(driver_machine__in=at) | Q(driven_machine__in=at), retired_on__isnull=True).order_by(
            "pk"
        )
    )
    for machine_id, unit, what in moves:
        for coupling in couplings:
            if machine_id in (coupling.driver_machine_id, coupling.driven_machine_id):
                told("fit.moved", coupling, {"fit": None, "unit": str(unit.uuid), "serial": unit.serial} | _plain(what))


def _plain(what: dict[str, Any]) -> dict[str, Any]:
    return {name: value.isoformat() if hasattr(value, "isoformat") else value for name, value in what.items()}
