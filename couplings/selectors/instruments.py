"""Instruments of a site and until when their calibration holds."""

from __future__ import annotations

from datetime import date, timedelta

from django.db.models import QuerySet

from couplings.models import Instrument
from plant.models import Person, Site


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
