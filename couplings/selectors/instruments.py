"""Instruments of a site and until when their calibration holds."""

from __future__ import annotations

from datetime import date, timedelta

from django.db.models import QuerySet

from couplings.models import Instrument
from plant.models import Person, Site

IN_CALIBRATION, OUT_OF_CALIBRATION, NOT_KNOWN = "in calibration", "out of calibration", "not known"


def instruments_at(person: Person, site: Site, kind: str | None = None) -> QuerySet[Instrument]:
    """Instruments in use at a site, for a choice in a form."""
    found = Instrument.objects.visible_to(person).filter(site=site, retired_on__isnull=True)
    return found.filter(kind=kind) if kind else found


def calibration_ends_on(instrument: Instrument) -> date | None:
    """Last day of its calibration; None where date or interval was never entered."""
    if instrument.calibrated_on is None or instrument.calibration_days is None:
        return None
    return instrument.calibrated_on + timedelta(days=instrument.calibration_days)


def in_calibration(instrument: Instrument, on: date) -> bool | None:
    """Whether its calibration held on a day; None where that is not known."""
    ends_on = calibration_ends_on(instrument)
    return None if ends_on is None else on <= ends_on


def operations_left(instrument: Instrument) -> int | None:
    """How many operations its calibration still holds, of a torque tool whose count is kept; None where it is not."""
    last = next(iter(instrument.calibrations.all()), None)
    if instrument.operations is None or instrument.operations_limit is None or last is None or last.operations is None:
        return None
    return instrument.operations_limit - (instrument.operations - last.operations)


def calibration_verdict(instrument: Instrument, on: date) -> str:
    """In calibration, out of calibration, or not known, on a day; by operations too, where they are counted."""
    left = operations_left(instrument)
    holds = in_calibration(instrument, on)
    if holds is False or (left is not None and left < 0):
        return OUT_OF_CALIBRATION
    return NOT_KNOWN if holds is None else IN_CALIBRATION
