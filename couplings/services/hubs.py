"""The hub halves in a fit: which, how held, which key, and another one that came with a machine."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from couplings.models import Fit, HubHalf
from couplings.selectors.hubs import unit_on_shaft
from couplings.services.checking import refuse
from plant import access
from plant.recording import bump, current, told
from plant.services.rows import errors_of, set_fields
from plant.sitetime import today_at

FIELDS = (
    "serial", "came_with", "orientation", "bore_mm", "key_width_mm", "key_height_mm", "key_length_mm",
    "key_convention", "mounting_kind", "advance_mm", "pressure_mpa",
)  # fmt: skip
# What belongs to the half itself and goes along when it moves; the rest is how it was mounted there.
OF_THE_HALF = ("serial", "bore_mm", "key_width_mm", "key_height_mm", "key_length_mm", "key_convention", "mounting_kind")
TAPERED = ("tapered-bush", "tapered-bore", "hydraulic")


def swap_hub(
    *,
    fit: Fit,
    side: str,
    on: date,
    removal_reason: str = "",
    went_to: str = "",
    expected: int | None = None,
    **facts: Any,
) -> HubHalf:
    """Another hub half on one side, alone or with a machine that brought it: the one in place is closed that day.

    The fit goes on, for element and other half stay; alignment is measured anew, as after any work on a hub.
    """
    unit = current()
    if not (access.may(unit.by, "register.write", fit.site) or access.may(unit.by, "visit.fill", fit.site)):
        access.require(unit.by, "fit.write", fit.site)
    bump(fit, expected)
    errors: dict[str, str] = {}
    present = fit.hubs.filter(side=side, removed_on__isnull=True).first()
    if fit.removed_on is not None:
        errors[""] = f"This fit was removed on {fit.removed_on}."
    if side not in HubHalf.Side.values:
        errors["side"] = "Say which side: driver or driven."
    since = present.fitted_on if present is not None else fit.fitted_on
    if on > today_at(fit.site, unit.at):
        errors["on"] = f"{on} is still to come: a change is recorded once it has happened."
    elif on < since:
        errors["on"] = f"What is there was fitted on {since}, later than this."
    if present is not None and not removal_reason.strip():
        errors["removal_reason"] = "Say why the half in place came off, such as: went with the motor."
    half = HubHalf(fit=fit, side=side, fitted_on=on)
    set_fields(half, facts, FIELDS)
    errors |= _half_errors(fit, half)
    half.unit = unit_on_shaft(fit, side, on) if not errors else None
    if present is not None:
        present.removed_on, present.removal_reason, present.went_to = on, removal_reason.strip(), went_to.strip()
        texts = errors_of(present)
        errors |= {name: texts[name] for name in ("removal_reason", "went_to") if name in texts}
    elif went_to:
        errors["went_to"] = "No hub half is on record on this side that could have gone anywhere."
    refuse(errors)
    if present is not None:
        present.save()
    half.save()
    told("fit.moved", fit.coupling, {"fit": str(fit.uuid), "hub": half.serial, "side": side, "on": on.isoformat()})
    return half


def hub_errors(fit: Fit, rows: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """What is wrong with rows of halves, by path."""
    errors: dict[str, str] = {}
    present = {half.side: half for half in fit.hubs.filter(removed_on__isnull=True)} if fit.pk else {}
    seen: set[str] = set()
    for no, row in enumerate(rows):
        side = row.get("side", "")
        if side not in HubHalf.Side.values:
            errors[f"hubs.{no}.side"] = "Say which side: driver or driven."
            continue
        if side in seen:
            errors[f"hubs.{no}.side"] = "This side is there twice."
        seen.add(side)
        if fit.removed_on is not None:
            continue
        half = _copy(present.get(side)) or HubHalf(side=side, fitted_on=fit.fitted_on)
        set_fields(half, _facts(row), FIELDS)
        errors |= {f"hubs.{no}.{name}": text for name, text in _half_errors(fit, half).items()}
    if rows and fit.removed_on is not None:
        errors["hubs"] = f"This fit was removed on {fit.removed_on}: its hub halves went elsewhere."
    serials = [str(row.get("serial", "")).strip() for row in rows]
    if len(serials) == 2 and serials[0] and serials[0] == serials[1]:
        errors["hubs.1.serial"] = "Both halves cannot have the same serial number."
    return errors


def put_hubs(fit: Fit, rows: Sequence[Mapping[str, Any]]) -> None:
    """The halves of a new fit, from what `hub_errors` found nothing against."""
    for row in rows:
        half = HubHalf(fit=fit, side=row["side"], fitted_on=fit.fitted_on)
        set_fields(half, _facts(row), FIELDS)
        half.serial = half.serial.strip()
        half.unit = unit_on_shaft(fit, half.side, fit.fitted_on)
        half.save()


def write_hubs(fit: Fit, rows: Sequence[Mapping[str, Any]]) -> None:
    """Mend the halves in place; a side that had none on record gets one, from the fit's first day."""
    present = {half.side: half for half in fit.hubs.filter(removed_on__isnull=True)}
    for row in rows:
        half = present.get(row["side"]) or HubHalf(fit=fit, side=row["side"], fitted_on=fit.fitted_on)
        set_fields(half, _facts(row), FIELDS)
        half.serial = half.serial.strip()
        if half.pk is None:
            half.unit = unit_on_shaft(fit, half.side, fit.fitted_on)
        half.save()


def close_hubs(halves: Iterable[HubHalf], on: date, reason: str, went_to: str) -> None:
    for half in halves:
        if half.removed_on is None:
            half.removed_on, half.removal_reason, half.went_to = on, reason, went_to
            half.save()


def _facts(row: Mapping[str, Any]) -> dict[str, Any]:
    return {name: row[name] for name in FIELDS if name in row}


def _copy(half: HubHalf | None) -> HubHalf | None:
    if half is None:
        return None
    return HubHalf(**{column.attname: getattr(half, column.attname) for column in half._meta.concrete_fields})


def _half_errors(fit: Fit, half: HubHalf) -> dict[str, str]:
    half.serial = half.serial.strip()
    errors = errors_of(half)
    if (half.key_width_mm is None) != (half.key_height_mm is None):
        missing = "key_width_mm" if half.key_width_mm is None else "key_height_mm"
        errors.setdefault(missing, "A key has a width and a height: give both, or neither.")
    if half.mounting_kind and half.mounting_kind not in TAPERED and half.advance_mm is not None:
        errors["advance_mm"] = f"A hub held by: {half.get_mounting_kind_display()} has no advance on a taper."
    if half.mounting_kind and half.mounting_kind != "hydraulic" and half.pressure_mpa is not None:
        errors["pressure_mpa"] = "Only a hub mounted hydraulically has an oil pressure."
    if not half.serial:
        return errors
    other = (
        HubHalf.objects.filter(fit__site_id=fit.site_id, serial=half.serial, removed_on__isnull=True)
        .exclude(pk=half.pk)
        .exclude(fit_id=fit.pk, side=half.side)
        .select_related("fit__coupling")
        .first()
    )
    if other is not None:
        errors["serial"] = (
            f"A hub half with this number is recorded at {other.fit.coupling.tag}: remove it there first."
        )
    return errors


__all__ = ["FIELDS", "OF_THE_HALF", "close_hubs", "hub_errors", "put_hubs", "swap_hub", "write_hubs"]
