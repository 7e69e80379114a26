"""Hub halves go with the machine on whose shaft they sit: what its exchange says of them happens in the same unit.

A half that stayed on a machine is closed here and opened again where the machine comes with it. A half that stayed at
the place sits on the next machine's shaft from then on, mounted anew. Where nobody said, it is taken to have stayed.
What was entered by hand after the day of an exchange is left as it is.
"""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db.models import Q

from couplings.models import Fit, HubHalf
from couplings.services.hubs import OF_THE_HALF, close_hubs
from plant.models import MachineUnit, UnitStay
from plant.recording import bump, current, follow, told
from plant.sitetime import today_at


def carry_hubs(units: list[Any]) -> None:
    """Bring the hub halves beside these machines up to what is known of where the machines stand."""
    stays = list(
        UnitStay.objects.filter(Q(until_at__isnull=True) | Q(left_with_hub=True), unit__in=[one.pk for one in units])
        .select_related("unit", "site")
        .order_by("pk")
    )
    beside = _fits_beside({stay.machine_id for stay in stays}) if stays else []
    for leaves in (True, False):
        for stay in stays:
            for fit, side in beside:
                if _machine_id(fit, side) == stay.machine_id and leaves == (stay.until_at is not None):
                    (_leave if leaves else _stand)(fit, side, stay)


def _fits_beside(machines: set[int]) -> list[tuple[Fit, str]]:
    """Fits in place beside these machine positions, each with the side on which such a machine stands."""
    fits = Fit.objects.filter(
        Q(coupling__driver_machine__in=machines) | Q(coupling__driven_machine__in=machines), removed_on__isnull=True
    ).select_related("coupling", "site")
    return [(fit, side) for fit in fits.order_by("pk") for side in HubHalf.Side.values
            if _machine_id(fit, side) in machines]  # fmt: skip


def _machine_id(fit: Fit, side: str) -> int:
    return fit.coupling.driver_machine_id if side == HubHalf.Side.DRIVER else fit.coupling.driven_machine_id


def _leave(fit: Fit, side: str, stay: UnitStay) -> None:
    """The machine left with its half on: the half leaves the fit with it."""
    assert stay.until_at is not None
    on, half = today_at(stay.site, stay.until_at), _in_place(fit, side)
    theirs = half is not None and (
        half.unit_id == stay.unit_id or (half.unit_id is None and stay.left_told_at == current().at)
    )
    if half is None or not theirs or half.fitted_on > on:
        return
    _raise(fit)
    half.unit, half.went_with_unit = stay.unit, True
    close_hubs([half], on, f"went with {stay.unit}", stay.went_to)
    _tell(fit, half, on)


def _stand(fit: Fit, side: str, stay: UnitStay) -> None:
    """The machine stands there: the half in place sits on its shaft, or the one that it brought."""
    half = _in_place(fit, side)
    on = today_at(stay.site, stay.from_at) if stay.from_at is not None else None
    if half is not None and half.unit_id == stay.unit_id:
        return
    if on is None or on < fit.fitted_on or (half is not None and half.fitted_on > on):
        # It stood there before what is in place came: that was put on its shaft.
        if half is not None and half.unit_id is None:
            _raise(fit)
            half.unit = stay.unit
            half.save()
        return
    if stay.came_with_hub:
        if half is None and HubHalf.objects.filter(fit=fit, side=side, fitted_on__gte=on).exists():
            return
        _replace(fit, side, half, on, stay, _brought(stay.unit, side), f"{stay.unit} came with a half of its own")
    elif half is not None and half.unit_id is None:
        _raise(fit)
        half.unit = stay.unit
        half.save()
    elif half is not None:
        _replace(fit, side, half, on, stay, half, f"put on {stay.unit}, which took the place of {half.unit}")


def _replace(
    fit: Fit, side: str, half: HubHalf | None, on: date, stay: UnitStay, same: HubHalf | None, why: str
) -> None:
    """Close the half in place, and open one with what is known of `same`; nothing is known where that is None."""
    _raise(fit)
    if half is not None:
        close_hubs([half], on, why[:200], fit.coupling.tag if same is half else "")
    facts = {name: getattr(same, name) for name in OF_THE_HALF} if same is not None else {}
    if facts.get("serial") and _elsewhere(fit, facts["serial"]):
        # Somebody entered it at another place meanwhile: what is known there counts.
        facts = {}
    came_with = stay.unit.serial if stay.came_with_hub else ""
    new = HubHalf.objects.create(fit=fit, side=side, fitted_on=on, unit=stay.unit, came_with=came_with, **facts)
    _tell(fit, new, on)


def _brought(unit: MachineUnit, side: str) -> HubHalf | None:
    """The half with which this machine left its last place, on this side of it where it had two."""
    gone = list(HubHalf.objects.filter(unit=unit, went_with_unit=True).order_by("-removed_on", "-pk")[:2])
    last = [half for half in gone if half.removed_on == gone[0].removed_on]
    return next((half for half in last if half.side == side), last[0] if len(last) == 1 else None)


def _elsewhere(fit: Fit, serial: str) -> bool:
    return HubHalf.objects.filter(fit__site_id=fit.site_id, serial=serial, removed_on__isnull=True).exists()


def _raise(fit: Fit) -> None:
    """Read again under its lock, with the place kept at hand: a machine may stand between two of them."""
    place = fit.coupling
    bump(fit)
    fit.coupling = place


def _in_place(fit: Fit, side: str) -> HubHalf | None:
    return HubHalf.objects.filter(fit=fit, side=side, removed_on__isnull=True).select_related("unit").first()


def _tell(fit: Fit, half: HubHalf, on: date) -> None:
    what = {"fit": str(fit.uuid), "hub": half.serial, "side": half.side, "on": on.isoformat()}
    told("fit.moved", fit.coupling, what | {"unit": str(half.unit.uuid) if half.unit is not None else None})


follow(MachineUnit, carry_hubs)
