"""Signing: the one act that turns a draft into a record."""

from __future__ import annotations

from typing import Any

from couplings.models import Coupling, Fit, RemovalReason, StockLot
from couplings.services.fits import fit_element
from inspections.models import Entry, SignedRecord, Visit, Witness
from inspections.selectors.hold_points import typed_version
from inspections.selectors.summary import Key, Summary, Wanting, summary_of
from inspections.services import checks, records, surveys
from inspections.services.carrying import carry_to_fit
from inspections.steps import STEPS, Place
from inspections.steps.rows import Plan, PlannedSurvey
from plant import access
from plant.models.bounds import bounds_of
from plant.recording import bump, current, told
from plant.refusals import Refused

_READ = (
    "site", "coupling__site", "coupling__train__area", "coupling__driver_machine", "coupling__driven_machine",
    "coupling__grade", "fit__site", "fit__sheet_version__sheet__family", "sheet_version__sheet__family",
    "work_order__isolated_by", "work_order__verified_by", "taken_by", "entered_by", "record",
)  # fmt: skip

__all__ = ["Summary", "Wanting", "sign_visit", "summary_of"]


def sign_visit(
    *, visit: Visit, left_so_reason: str = "", expected: int | None = None, typed_at: int | None = None
) -> SignedRecord:
    """Sign a visit as mechanically complete: all entries become rows under one chained record, or none does.

    Parameters
    ----------
    typed_at : int, optional
        What the steps stood at (`typed_version`) when whoever signs looked them over.

    Raises
    ------
    Refused
        A mate changed a step since; or with everything that is still wanting, each by its path ("as-left.set0.12");
        `left_so_reason` where as-left is out of tolerance (or its readings do not close) and no reason was given.
    """
    unit = current()
    access.require(unit.by, "visit.sign", visit.site_id)
    bump(visit, expected)
    if visit.state != Visit.State.DRAFT:
        raise Refused({"": f"This visit is {visit.get_state_display()}; a signed visit is corrected by an amendment."})
    coupling = locked(visit.coupling_id)
    fresh = to_read(visit.pk)
    if unit.by is not None and (seen := Witness.objects.filter(visit=fresh, by=unit.by).first()) is not None:
        raise Refused({"": f"You witnessed {seen.what} in this visit: somebody else has to sign it."})
    if typed_at is not None and typed_at != typed_version(fresh):
        raise Refused({"": _changed_since(fresh)}, code="changed-since")
    summary = summary_of(fresh)
    reason = reason_for(summary, left_so_reason or _typed_reason(summary))
    plan = _plan(fresh, summary)
    refuse_columns(plan)
    steps = [
        {"step": entry.step, "number": entry.number, "typed": entry.typed}
        for entry in fresh.entries.all()
        if any(text.strip() for text in entry.typed.values())
    ]
    record = records.append(
        coupling=coupling,
        visit=fresh,
        plan=plan,
        steps=steps,
        left_so_reason=reason,
        nothing_moved=summary.nothing_moved,
    )
    surveys.store(plan=plan, record=record)
    visit.state = Visit.State.SIGNED
    visit.signed_by, visit.signed_at = unit.by, unit.at
    visit.left_so_reason, visit.nothing_moved, visit.record = reason, summary.nothing_moved, record
    visit.save()
    carry_to_fit(visit=fresh, plan=plan)
    _fit_element(fresh, plan)
    told("visit.signed", coupling, _payload(visit, record, plan))
    checks.after_visit(visit=visit, record=record)
    return record


def _changed_since(visit: Visit) -> str:
    last = max(visit.entries.all(), key=lambda one: (one.at, one.version))
    title, by = STEPS[last.step].title, last.by or "somebody"
    return f"A step was changed since this page was shown ({title}, last by {by}): look it over again, then sign."


def locked(coupling_id: int) -> Coupling:
    """The coupling's row is what everybody waits for who adds to its chain."""
    Coupling.objects.select_for_update().get(pk=coupling_id)
    return Coupling.objects.select_related("site", "train__area", "driver_machine", "driven_machine", "grade").get(
        pk=coupling_id
    )


def to_read(visit_id: int) -> Visit:
    """The visit with everything that signing reads."""
    return (
        Visit.objects.select_related(*_READ)
        .prefetch_related(
            "entries__by",
            "work_order__crew",
            "sheet_version__joints",
            "sheet_version__limits",
            "coupling__target_parts",
            "coupling__driver_machine__foot_planes",
            "coupling__driven_machine__foot_planes",
        )
        .get(pk=visit_id)
    )


def reason_for(summary: Summary, given: str) -> str:
    """Refuse what cannot be signed; else the reason to keep, "" where none is needed."""
    errors = {one.field: one.sentence for one in summary.missing}
    given = given.strip()
    if summary.needs_reason and not given:
        errors["left_so_reason"] = summary.why_reason
    if len(given) > 1000:
        errors["left_so_reason"] = "At most 1000 characters."
    if errors:
        raise Refused(errors, code="not-ready")
    return given if summary.needs_reason else ""


def plan_surveys(*, visit: Visit, summary: Summary) -> list[PlannedSurvey]:
    """Rows of every survey that was judged."""
    return [
        surveys.plan_survey(
            visit=visit,
            judged=judged,
            by=summary.yardsticks[key],
            step=key[0],
            round_number=key[1],
            as_left=key == summary.as_left,
        )
        for key, judged in sorted(summary.judged.items())
    ]


def plan_facts(*, visit: Visit, summary: Summary, only: set[Key] | None = None) -> dict[str, list[Any]]:
    """Rows of every other step, by step."""
    entries: dict[Key, Entry] = {(entry.step, entry.number): entry for entry in visit.entries.all()}
    facts = {}
    for key, read in summary.reads.items():
        if read.values is None or (only is not None and key not in only):
            continue
        at = entries[key].at if key in entries else current().at
        if found := STEPS[key[0]].facts(read.values, Place(visit, at)):
            facts[key[0]] = found
    return facts


def refuse_columns(plan: Plan) -> None:
    """A figure outside its column's bounds is refused with its name, before anything is written."""
    errors: dict[str, str] = {}
    for row in plan.rows:
        for name, (low, high) in bounds_of(type(row)).items():
            value = getattr(row, name)
            # Written so that NaN, which compares with nothing, is outside.
            if value is not None and not low <= value <= high:
                what = str(row._meta.verbose_name)
                errors[f"{what.replace(' ', '_')}.{name}"] = (
                    f"The {what} would hold {value:g} as {name}; only {low:g} to {high:g} can be meant: "
                    "mend what was typed."
                )
    if errors:
        raise Refused(errors)


def _plan(visit: Visit, summary: Summary) -> Plan:
    plan = Plan(plan_surveys(visit=visit, summary=summary), plan_facts(visit=visit, summary=summary))
    surveys.number_surveys(surveys=plan.surveys)
    return plan


def _typed_reason(summary: Summary) -> str:
    read = summary.reads.get(("signature", 0))
    return read.values if read is not None and isinstance(read.values, str) else ""


def _fit_element(visit: Visit, plan: Plan) -> None:
    fact = next(iter(plan.facts.get("element", [])), None)
    if fact is None or fact.act != "fitted":
        return
    try:
        fit_element(
            fit=Fit.objects.select_related("site", "coupling", "sheet_version__sheet__family").get(pk=visit.fit_id),
            part_number=fact.part_number,
            fitted_on=visit.on,
            batch=fact.batch,
            cured_on=fact.cured_on,
            lot=StockLot.objects.filter(site_id=visit.site_id, uuid=fact.lot).first() if fact.lot else None,
            removal_code=RemovalReason.objects.filter(site_id=visit.site_id, code=fact.removal_code).first(),
            removal_reason=fact.removal_reason,
            removal_finding=fact.removal_finding,
            went=fact.went,
            went_to=fact.went_to,
        )
    except Refused as refused:
        raise Refused({f"element.{name}": sentence for name, sentence in refused.as_dict().items()}) from None


def _payload(visit: Visit, record: SignedRecord, plan: Plan) -> dict[str, Any]:
    left = plan.as_left
    return {
        "visit": str(visit.uuid),
        "kind": visit.kind,
        "on": visit.on.isoformat(),
        "record": record.number,
        "digest": record.digest,
        "verdict": left.result.verdict if left is not None else None,
        "nothing_moved": visit.nothing_moved,
    }
