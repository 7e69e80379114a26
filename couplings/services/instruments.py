"""The register of instruments: what measured, how well, and until when its calibration holds."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

from couplings import rules
from couplings.models import Calibration, Instrument
from couplings.services.checking import refuse, saved
from plant import access
from plant.models import Site
from plant.recording import bump, changed, current
from plant.services.rows import errors_of, refuse_known_uuid, set_fields
from plant.sitetime import today_at

FIELDS = (
    "name", "serial", "standard_u_mm", "standard_u_share", "calibrated_on", "calibration_days", "operations",
    "operations_limit", "retired_on",
)  # fmt: skip
CERTIFIED = ("standard_u_mm", "standard_u_share", "due_on", "operations", "note")
TORQUE = frozenset({Instrument.Kind.TORQUE_SET, Instrument.Kind.TORQUE_READ})


def register_instrument(
    *, site: Site, kind: str, name: str, serial: str, uuid: UUID | None = None, **fields: Any
) -> Instrument:
    """Register an instrument of the site. `fields`: uncertainty, calibration date and interval."""
    access.require(current().by, "register.write", site)
    refuse_known_uuid(Instrument, uuid)
    instrument = Instrument(site=site, kind=kind, name=name.strip(), serial=serial.strip())
    set_fields(instrument, fields, FIELDS)
    if uuid is not None:
        instrument.uuid = uuid
    refuse(_errors(instrument) | _serial_taken(instrument))
    saved(instrument, lambda: _serial_taken(instrument))
    changed(instrument)
    return instrument


def change_instrument(*, instrument: Instrument, expected: int | None = None, **fields: Any) -> Instrument:
    """Change an instrument's entry: a new calibration, an uncertainty from its certificate, its retirement."""
    access.require(current().by, "register.write", instrument.site)
    bump(instrument, expected)
    set_fields(instrument, fields, FIELDS)
    instrument.name, instrument.serial = instrument.name.strip(), instrument.serial.strip()
    refuse(_errors(instrument) | _serial_taken(instrument))
    return saved(instrument, lambda: _serial_taken(instrument))


def calibrate_instrument(
    *,
    instrument: Instrument,
    on: date,
    laboratory: str,
    certificate: str,
    result: str,
    expected: int | None = None,
    **certified: Any,
) -> Calibration:
    """Enter a certificate: when, by whom, what was found, and until when it holds.

    `certified` is what `CERTIFIED` lists. The latest one sets the register's date, interval and uncertainty; found not
    to be used, the instrument is retired from choice that day. Older certificates are kept beside it.
    """
    unit = current()
    access.require(unit.by, "register.write", instrument.site)
    bump(instrument, expected)
    row = Calibration(
        instrument=instrument, on=on, laboratory=laboratory.strip(), certificate=certificate.strip(), result=result,
        by=unit.by, at=unit.at,
    )  # fmt: skip
    set_fields(row, certified, CERTIFIED)
    errors = errors_of(row) | rules.calibration_errors(
        on=on, due_on=row.due_on, today=today_at(instrument.site, unit.at), result=result
    )
    errors |= _wrong_form(instrument.kind, row)
    if instrument.calibrations.filter(certificate=row.certificate).exists():
        errors["certificate"] = "This certificate is entered already."
    if instrument.retired_on is not None and on > instrument.retired_on:
        errors["on"] = f"This instrument was retired on {instrument.retired_on}."
    last = instrument.calibrations.order_by("-on", "-pk").first()
    counted = last.operations if last is not None and on >= last.on else None
    if counted is not None and row.operations is not None and row.operations < counted:
        errors["operations"] = f"{counted} were counted before: the count is from new and never falls."
    refuse(errors)
    row.save()
    if last is None or on >= last.on:
        _take_over(instrument, row)
        refuse(_errors(instrument))
        instrument.save()
    return row


def _take_over(instrument: Instrument, row: Calibration) -> None:
    instrument.calibrated_on = row.on
    instrument.calibration_days = (row.due_on - row.on).days if row.due_on is not None else instrument.calibration_days
    for name in ("standard_u_mm", "standard_u_share", "operations"):
        if getattr(row, name) is not None:
            setattr(instrument, name, getattr(row, name))
    if row.result == Calibration.Result.REFUSED:
        instrument.retired_on = row.on


def _errors(instrument: Instrument) -> dict[str, str]:
    errors = errors_of(instrument)
    today = today_at(instrument.site, current().at)
    for field in ("calibrated_on", "retired_on"):
        day = getattr(instrument, field)
        if day is not None and day > today:
            errors[field] = f"{day} is still to come."
    if instrument.operations_limit == 0:
        errors["operations_limit"] = "A calibration that holds no operation is none: leave it empty."
    return errors | _wrong_form(instrument.kind, instrument)


def _wrong_form(kind: str, row: Instrument | Calibration) -> dict[str, str]:
    errors = {}
    is_torque = kind in TORQUE
    if is_torque and row.standard_u_mm is not None:
        errors["standard_u_mm"] = "The uncertainty of a torque tool is a share of what it reads, not a length."
    if not is_torque and row.standard_u_share is not None:
        errors["standard_u_share"] = "Only a torque tool's uncertainty is a share of what it reads."
    for name in ("operations", "operations_limit"):
        if not is_torque and getattr(row, name, None) is not None:
            errors[name] = "Operations are counted of torque tools only."
    return errors


def _serial_taken(instrument: Instrument) -> dict[str, str]:
    others = Instrument.objects.filter(
        site_id=instrument.site_id, kind=instrument.kind, serial=instrument.serial
    ).exclude(pk=instrument.pk)
    return {"serial": "Another instrument of this kind has this serial number here."} if others.exists() else {}
