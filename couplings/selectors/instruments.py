"""Instruments of a site and until when their calibration holds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import QuerySet

from couplings.models import Calibration, Instrument
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
    if instrument.operations is None or instrument.operations_limit is None:
        return None
    last = next(iter(instrument.calibrations.all()), None)
    if last is None or last.operations is None:
        return None
    return instrument.operations_limit - (instrument.operations - last.operations)


def calibration_verdict(instrument: Instrument, on: date) -> str:
    """In calibration, out of calibration, or not known, on a day; by operations too, where they are counted."""
    left = operations_left(instrument)
    holds = in_calibration(instrument, on)
    if holds is False or (left is not None and left < 0):
        return OUT_OF_CALIBRATION
    return NOT_KNOWN if holds is None else IN_CALIBRATION


# A torque tool is asked for when a tenth of its operations is left. Common practice.
FEW_LEFT = 0.1


@dataclass(frozen=True)
class CalibrationDue:
    """An instrument that has to go to the laboratory: its calibration ends by its date, or its operations run out."""

    instrument: Instrument
    ends_on: date | None
    operations_left: int | None

    def over(self, today: date) -> bool:
        """Whether it may not measure any more on this day."""
        by_date = self.ends_on is not None and self.ends_on < today
        return by_date or (self.operations_left is not None and self.operations_left < 0)


def calibrations_due(rows: QuerySet[Instrument], until: date) -> list[CalibrationDue]:
    """Of these instruments those in use whose calibration ends by a day, the soonest first; two queries.

    One whose calibration was never entered is not asked for: nothing is known to end.
    """
    found = []
    for one in rows.filter(retired_on__isnull=True).select_related("site").prefetch_related("calibrations"):
        ends_on, left = calibration_ends_on(one), operations_left(one)
        few = left is not None and left <= FEW_LEFT * (one.operations_limit or 0)
        if few or (ends_on is not None and ends_on <= until):
            found.append(CalibrationDue(one, ends_on, left))
    return sorted(found, key=lambda due: (due.ends_on or until, due.instrument.pk))


def calibration_then(instrument: Instrument, certificates: Iterable[Calibration], on: date) -> str:
    """In calibration, out of calibration, or not known, on a day that may lie before later certificates.

    By the certificate in force that day; where none is entered, by the register's own date.
    """
    row = max((one for one in certificates if one.on <= on), key=lambda one: (one.on, one.pk), default=None)
    if row is None or row.on == instrument.calibrated_on:
        if instrument.calibrated_on is None or on < instrument.calibrated_on:
            return NOT_KNOWN
        if row is not None and row.result == Calibration.Result.REFUSED:
            return OUT_OF_CALIBRATION
        return calibration_verdict(instrument, on)
    if row.result == Calibration.Result.REFUSED:
        return OUT_OF_CALIBRATION
    days = instrument.calibration_days
    until = row.due_on or (row.on + timedelta(days=days) if days is not None else None)
    if until is None:
        return NOT_KNOWN
    return IN_CALIBRATION if on <= until else OUT_OF_CALIBRATION


def calibrated_then(instrument: Instrument, certificates: Iterable[Calibration], on: date) -> date | None:
    """The day of the calibration in force on a day that may lie before later certificates; None where none is known."""
    days = [one.on for one in certificates if one.on <= on and one.result != Calibration.Result.REFUSED]
    if instrument.calibrated_on is not None and instrument.calibrated_on <= on:
        days.append(instrument.calibrated_on)
    return max(days, default=None)


def next_calibration(certificates: Iterable[Calibration], on: date) -> Calibration | None:
    """The first certificate after a day: what it found counts for what was measured since the one before it."""
    return min((one for one in certificates if one.on > on), key=lambda one: (one.on, one.pk), default=None)


def over_operations(instrument: Instrument, on: date) -> bool:
    """Whether a torque tool has done more than its calibration holds for, on a day since that calibration.

    The count is as last known: the days since the calibration are marked alike.
    """
    left = operations_left(instrument)
    return left is not None and left < 0 and next(iter(instrument.calibrations.all())).on <= on
