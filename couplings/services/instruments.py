"""The register of instruments: what measured, how well, and until when its calibration holds."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from couplings.models import Instrument
from couplings.services.checking import refuse, saved
from plant import access
from plant.models import Site
from plant.recording import bump, changed, current
from plant.services.rows import errors_of, refuse_known_uuid, set_fields
from plant.sitetime import today_at

FIELDS = ("name", "serial", "standard_u_mm", "standard_u_share", "calibrated_on", "calibration_days", "retired_on")
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


def _errors(instrument: Instrument) -> dict[str, str]:
    errors = errors_of(instrument)
    today = today_at(instrument.site, current().at)
    for field in ("calibrated_on", "retired_on"):
        day = getattr(instrument, field)
        if day is not None and day > today:
            errors[field] = f"{day} is still to come."
    is_torque = instrument.kind in TORQUE
    if is_torque and instrument.standard_u_mm is not None:
        errors["standard_u_mm"] = "The uncertainty of a torque tool is a share of what it reads, not a length."
    if not is_torque and instrument.standard_u_share is not None:
        errors["standard_u_share"] = "Only a torque tool's uncertainty is a share of what it reads."
    return errors


def _serial_taken(instrument: Instrument) -> dict[str, str]:
    others = Instrument.objects.filter(
        site_id=instrument.site_id, kind=instrument.kind, serial=instrument.serial
    ).exclude(pk=instrument.pk)
    return {"serial": "Another instrument of this kind has this serial number here."} if others.exists() else {}
