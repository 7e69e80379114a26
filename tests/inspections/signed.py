"""Signed visits for tests of what follows from them, written as rows: signing itself is tested where it lives."""

from datetime import UTC, datetime
from hashlib import sha256

from inspections.models import Lubrication, RunningLook, SignedRecord, Survey, SurveyResult, Torque, Visit, Wear
from inspections.services.checks import after_visit
from plant.recording import recording
from tests.factories import WorkOrderFactory


def noon(on):
    return datetime(on.year, on.month, on.day, 12, tzinfo=UTC)


def sign(
    fit, *, on, by, kind=Visit.Kind.PERIODIC, aligned=False, torqued=False, verdict="in tolerance", at=None, **more
):
    """A visit of that day, signed at noon or at the instant given, and its consequences."""
    at = at or noon(on)
    with recording(by=by, at=at):
        visit = Visit.objects.create(
            site=fit.coupling.site, coupling=fit.coupling, fit=fit, sheet_version=fit.sheet_version,
            work_order=WorkOrderFactory(train=fit.coupling.train), kind=kind, on=on, zone=fit.coupling.site.zone,
            state=Visit.State.SIGNED, taken_by=by, taken_at=at, entered_by=by, entered_at=at, signed_by=by,
            signed_at=at,
        )  # fmt: skip
        record = _record(visit, by, at, SignedRecord.Kind.VISIT, None)
        _facts(visit, record, aligned, torqued, verdict, **more)
        after_visit(visit=visit, record=record)
    return visit


def amend(visit, *, by, aligned=False, torqued=False, verdict="in tolerance", at=None, **more):
    """A next text for the same visit, which feeds the dates from now on."""
    with recording(by=by, at=at or visit.signed_at):
        record = _record(visit, by, visit.signed_at, SignedRecord.Kind.AMENDMENT, visit.record)
        _facts(visit, record, aligned, torqued, verdict, **more)
        after_visit(visit=visit, record=record)
    return record


def _record(visit, by, at, kind, amends):
    last = SignedRecord.objects.filter(coupling=visit.coupling).order_by("-number").first()
    number = last.number + 1 if last else 1
    record = SignedRecord.objects.create(
        site=visit.site, coupling=visit.coupling, number=number, kind=kind, visit=visit, amends=amends,
        text="{}", previous_digest=last.digest if last else "", signed_by=by, signed_at=at,
        digest=sha256(f"{visit.coupling_id} {number}".encode()).hexdigest(),
    )  # fmt: skip
    visit.record = record
    visit.save(update_fields=["record"])
    return record


def _facts(
    visit, record, aligned, torqued, verdict, *, found=False, worn=False, grade=1, loose=(), looked=False, greased=None
):
    if found:
        Survey.objects.create(
            site=visit.site, visit=visit, record=record, number=2, as_found=True, method="direct",
            stationary="driven", viewed_from="movable",
        )  # fmt: skip
    if worn:
        Wear.objects.create(
            visit=visit, record=record, code="cracks", title="Cracks", stated=grade, grade=grade, words="fine",
            verdict="in tolerance",
        )  # fmt: skip
    for joint in loose:
        Torque.objects.create(
            visit=visit, record=record, joint=joint, how="read", position=1, torque_nm=20, verdict="out of tolerance",
            reason="position 1 below",
        )  # fmt: skip
    if looked:
        RunningLook.objects.create(visit=visit, record=record, ordinary=True)
    if greased is not None:
        Lubrication.objects.create(visit=visit, record=record, act="renewed", every_months=greased or None)
    if aligned:
        survey = Survey.objects.create(
            site=visit.site, visit=visit, record=record, number=1, as_left=True, method="direct", stationary="driven",
            viewed_from="movable",
        )  # fmt: skip
        SurveyResult.objects.create(
            survey=survey, rule_version="1", offset_v_mm=0.1, offset_h_mm=0.1, slope_v_mrad=0.1, slope_h_mrad=0.1,
            covariance=[None] * 10, tolerance_used=1.42, probability=0.02, confidence=0.95, decision="guarded",
            verdict=verdict, sheet_verdict=verdict, grade_verdict="not known",
        )  # fmt: skip
    if torqued:
        Torque.objects.create(visit=visit, record=record, joint="hub bolts", how="set", torque_nm=45)
