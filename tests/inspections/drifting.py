"""Surveyed couplings for tests of legs and drift: rows as signing writes them, and a small fleet whose pace is known.

Constructed: limits 0.2 mm and 1 mrad as the data sheet of tests/factories.py, readings good to 0.01.
"""

from datetime import UTC, date, datetime, timedelta

import numpy as np

from inspections.models import SignedRecord, SoftFoot, StatedValues, Survey, SurveyResult, Visit
from inspections.services.checks import after_visit
from inspections.services.drift import recompute_drift
from inspections.services.group_fits import fit_groups
from plant.recording import recording
from tests.factories import FitFactory, TrainFactory, WorkOrderFactory
from tests.inspections.signed import _record

U = 0.01
ZERO = (0.0, 0.0, 0.0, 0.0)


def noon(on):
    return datetime(on.year, on.month, on.day, 12, tzinfo=UTC)


def surveyed(fit, on, by, *, found=None, left=None, same=False, kind=Visit.Kind.PERIODIC, **more):
    """A signed visit that found the shafts at one position and left them at another; `same`: nothing was moved."""
    with recording(by=by, at=noon(on)):
        order = None if kind == Visit.Kind.LEGACY else WorkOrderFactory(train=fit.coupling.train)
        visit = Visit.objects.create(
            site=fit.coupling.site, coupling=fit.coupling, fit=fit, sheet_version=fit.sheet_version, work_order=order,
            kind=kind, on=on, zone=fit.coupling.site.zone, state=Visit.State.SIGNED, taken_by=by, taken_at=noon(on),
            entered_by=by, entered_at=noon(on), signed_by=by, signed_at=noon(on), nothing_moved=same,
        )  # fmt: skip
        write(visit, by, found=found, left=left, same=same, **more)
    return visit


def write(visit, by, *, found=None, left=None, same=False, amends=None, **more):
    """The text that feeds the dates from now on, with its surveys, and what follows from it."""
    kind = SignedRecord.Kind.AMENDMENT if amends else SignedRecord.Kind.VISIT
    record = _record(visit, by, visit.signed_at, kind, amends)
    if found is not None:
        _survey(visit, record, 1, found, as_found=True, as_left=same, **more)
    if left is not None:
        _survey(visit, record, 2, left, as_left=True)
    if more.get("soft_foot"):
        SoftFoot.objects.create(
            visit=visit, record=record, side="driver", foot="inboard left", kind="rise", size_mm=0.02,
            verdict="in tolerance",
        )  # fmt: skip
    if (stated := more.get("stated")) is not None:
        StatedValues.objects.create(visit=visit, record=record, source="card 12", offset_mm=stated[0],
                                    slope_mrad=stated[1])  # fmt: skip
    after_visit(visit=visit, record=record)
    return record


def _survey(visit, record, number, position, *, as_found=False, as_left=False, taken=None, loosened=None, u=U, **more):
    survey = Survey.objects.create(
        site=visit.site, visit=visit, record=record, number=number, as_found=as_found, as_left=as_left,
        method="direct", stationary="driven", viewed_from="movable", taken_at=taken, loosened_at=loosened,
    )  # fmt: skip
    covariance = [u * u if place in (0, 4, 7, 9) else 0.0 for place in range(10)]
    return SurveyResult.objects.create(
        survey=survey, rule_version="alignment-2", covariance=covariance, confidence=0.95, decision="guarded",
        verdict="in tolerance", sheet_verdict="in tolerance", grade_verdict="not known", tolerance_used=0.1,
        **dict(zip(("offset_v_mm", "offset_h_mm", "slope_v_mrad", "slope_h_mrad"), position, strict=True)),
    )  # fmt: skip


def fleet(site, by, many, *, years=(0, 1, 2), start=date(2023, 10, 2), rate_sd=0.02, seed=5, at_most=0.14):
    """Fits of couplings at a site, surveyed and left so each year, each drifting at a pace of its own."""
    rng = np.random.default_rng(seed)
    fits = []
    for number in range(many):
        train = TrainFactory(site=site, tag=f"X-{number:02d}", area__name="Drift")
        fit = FitFactory(coupling__train=train, coupling__tag=f"X-{number:02d}", fitted_on=start)
        rate = rng.normal(size=4) * rate_sd * np.array([1, 1, 3, 3])
        stands = rng.normal(size=4) * 0.01
        for year in years:
            on = start + timedelta(days=round(365.25 * year))
            read = stands + rate * year + rng.normal(size=4) * U
            read = np.clip(read, -at_most, at_most)
            if year == 0:
                surveyed(fit, on, by, left=tuple(read), kind=Visit.Kind.INSTALLATION)
            else:
                surveyed(fit, on, by, found=tuple(read), same=True)
        fits.append(fit)
    return fits


def fitted(site, on):
    """Fit every group and forecast by it, as the weekly run does."""
    with recording(by=None, at=noon(on)):
        fit_groups(on=on)
        recompute_drift(couplings=type(site)._meta.apps.get_model("couplings", "Coupling").objects.filter(site=site))
