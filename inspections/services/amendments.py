"""Amendments: whole steps of a signed visit replaced, as the next link of the chain."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from couplings.models import Element
from inspections.models import ElementFact, SignedRecord, Visit
from inspections.selectors.summary import Key, Summary, Wanting, judge_surveys
from inspections.selectors.visits import followed_place
from inspections.services import checks, records, surveys
from inspections.services.carrying import CARRIED, carry_to_fit
from inspections.services.drafts import check_names, check_texts
from inspections.services.signing import (
    locked,
    plan_facts,
    plan_surveys,
    reason_for,
    refuse_columns,
    to_read,
)
from inspections.steps import STEPS, Place, Read
from inspections.steps.alignment import Surveyed
from inspections.steps.placement import Placed
from inspections.steps.rows import Plan, planned_of
from plant import access
from plant.recording import bump, current, told
from plant.refusals import Refused

NOT_AMENDED = frozenset({"isolation", "signature"})
Typed = dict[str, str]


def amend_visit(
    *,
    visit: Visit,
    steps: Mapping[str, Mapping[str, str]],
    reason: str,
    left_so_reason: str = "",
    expected: int | None = None,
) -> SignedRecord:
    """Replace whole steps of a signed visit by a new link of the chain; the old text stands beside it.

    Parameters
    ----------
    steps : mapping of step to its fields
        "placement", or with a number "alignment.2". Each is the whole step as it should have been typed; an empty one
        takes the step back.
    reason : str
        Why it is amended.

    Raises
    ------
    Refused
        Nothing to replace, no reason, errors in the steps by their path ("steps.placement.dbse").
    """
    unit = current()
    access.require(unit.by, "visit.amend", visit.site_id)
    bump(visit, expected)
    if visit.state != Visit.State.SIGNED:
        raise Refused({"": f"This visit is {visit.get_state_display()}: only a signed visit is amended."})
    coupling = locked(visit.coupling_id)
    fresh = to_read(visit.pk)
    assert fresh.record is not None
    replaced = _replaced(fresh, steps, reason)
    was = planned_of(fresh.record)
    typed = _typed_before(fresh.record)
    plan, new_reason = _weighed(fresh, was, typed, replaced, left_so_reason)
    refuse_columns(plan)
    _correct_element(fresh, was, plan, ("element", 0) in replaced)
    typed = {key: fields for key, fields in (typed | replaced).items() if fields}
    nothing_moved = typed.get(("as-left", 0), {}).get("same_as", "").strip() == "as-found"
    record = records.append(
        coupling=coupling,
        visit=fresh,
        plan=plan,
        steps=[{"step": step, "number": number, "typed": fields} for (step, number), fields in sorted(typed.items())],
        left_so_reason=new_reason,
        nothing_moved=nothing_moved,
        amends=fresh.record,
        reason=reason.strip(),
    )
    surveys.store(plan=plan, record=record)
    visit.record, visit.left_so_reason, visit.nothing_moved = record, new_reason, nothing_moved
    visit.save()
    if carried := CARRIED & {step for step, _number in replaced}:
        carry_to_fit(visit=fresh, plan=plan, steps=carried)
    told("visit.amended", coupling, _payload(visit, record, plan, replaced))
    checks.after_visit(visit=visit, record=record)
    return record


def _replaced(visit: Visit, steps: Mapping[str, Mapping[str, str]], reason: str) -> dict[Key, Typed]:
    errors: dict[str, str] = {}
    if not reason.strip():
        errors["reason"] = "Say why the record is amended: it stands beside the old text."
    elif len(reason) > 2000:
        errors["reason"] = "At most 2000 characters."
    if not steps:
        errors["steps"] = "Nothing is replaced: give at least one step."
    found: dict[Key, Typed] = {}
    for name, fields in steps.items():
        key, _, number = name.partition(".")
        row = STEPS.get(key)
        if row is None or key in NOT_AMENDED or not row.asked(visit):
            errors[f"steps.{name[:60]}"] = "There is no such step to amend in this visit."
        elif row.numbered != (number.isdigit() and 1 <= int(number[:3]) <= 30) or (number and not row.numbered):
            errors[f"steps.{name[:60]}"] = "Rounds are named alignment.1 and so on, every other step without a number."
        else:
            found[(key, int(number) if number else 0)] = dict(fields)
    if errors:
        raise Refused(errors)
    for (key, round_number), fields in found.items():
        path = "steps." + (f"{key}.{round_number}" if round_number else key)
        check_texts(fields, path)
        check_names(STEPS[key], visit, fields, fields, path)
    return {key: {n: t for n, t in fields.items() if t.strip()} for key, fields in found.items()}


def _weighed(
    visit: Visit, was: Plan, typed: Mapping[Key, Typed], replaced: Mapping[Key, Typed], left_so_reason: str
) -> tuple[Plan, str]:
    """The rows of the new text: replaced steps read and judged, all others cloned as they are."""
    reads = {key: _read(visit, key, fields) for key, fields in replaced.items() if fields}
    errors = {
        "steps." + Wanting(step, number, name, "").field: sentence
        for (step, number), read in reads.items()
        for name, sentence in (read.errors | read.missing).items()
    }
    if errors:
        raise Refused(errors)
    as_left = _as_left(reads, typed, replaced)
    kept = [one for one in was.surveys if (one.step, one.round) not in replaced]
    present = {(one.step, one.round) for one in kept} | {
        key for key, read in reads.items() if isinstance(read.values, Surveyed) and read.values.solution is not None
    }
    if as_left is not None and as_left not in present:
        raise Refused({"steps.as-left.same_as": "The survey that is to be as-left is not there: choose another."})
    to_judge = dict(reads)
    for one in kept:
        # A survey that gains or loses the role of as-left is judged by another rule, so from its readings again.
        if one.survey.as_left != ((one.step, one.round) == as_left):
            read = _read(visit, (one.step, one.round), typed[(one.step, one.round)])
            if read.values is None:
                path = f"steps.{one.step}.{one.round}" if one.round else f"steps.{one.step}"
                raise Refused(
                    {path: "This survey changes its role, and its readings cannot be read again: amend it too."}
                )
            to_judge[(one.step, one.round)] = read
    kept = [one for one in kept if (one.step, one.round) not in to_judge]
    if ("placement", 0) not in replaced and (placed := next(iter(was.facts.get("placement", [])), None)):
        to_judge[("placement", 0)] = Read(values=Placed(placed.dbse_mm, {}, {}))
    summary = Summary(reads=to_judge)
    judge_surveys(summary, visit, to_judge, as_left)
    reason = reason_for(summary, left_so_reason or visit.left_so_reason)
    if as_left is not None and as_left not in summary.judged:
        reason = visit.left_so_reason
    facts = {
        step: surveys.cloned_facts(facts=rows) for step, rows in was.facts.items() if (step, 0) not in replaced
    } | plan_facts(visit=visit, summary=summary, only=set(replaced))
    plan = Plan(
        [surveys.cloned(planned=one) for one in kept] + plan_surveys(visit=visit, summary=summary),
        facts,
    )
    _keep_numbers(was, plan)
    return plan, reason


def _read(visit: Visit, key: Key, fields: Mapping[str, str]) -> Read:
    return STEPS[key[0]].read(fields, Place(visit, current().at, amending=True))


def _as_left(reads: Mapping[Key, Read], typed: Mapping[Key, Typed], replaced: Mapping[Key, Typed]) -> Key | None:
    if ("as-left", 0) in replaced:
        read = reads.get(("as-left", 0))
        if read is None or not isinstance(read.values, Surveyed):
            return None
        return followed_place(read.values) or ("as-left", 0)
    before = typed.get(("as-left", 0))
    if before is None or before.get("not_measured", "").strip():
        return None
    return followed_place(Surveyed(same_as=before.get("same_as", "").strip())) or ("as-left", 0)


def _keep_numbers(was: Plan, plan: Plan) -> None:
    """A replaced survey keeps its number; one that was not there before gets the next."""
    for planned in plan.surveys:
        before = was.survey_of(planned.step, planned.round)
        if before is not None:
            planned.survey.number = before.survey.number
    surveys.number_surveys(surveys=plan.surveys)


def _typed_before(record: SignedRecord) -> dict[Key, Typed]:
    return {(one["step"], one["number"]): dict(one["typed"]) for one in json.loads(record.text)["steps"]}


def _correct_element(visit: Visit, was: Plan, plan: Plan, replaced: bool) -> None:
    """Carry corrected part number, batch and cure date to the element that this visit fitted."""
    if not replaced:
        return
    before = next(iter(was.facts.get("element", [])), None)
    after = next(iter(plan.facts.get("element", [])), None)
    if _fitted(before) != _fitted(after):
        sentence = "Whether an element was fitted moves parts in the register: write it down as a visit of its own."
        raise Refused({"steps.element.act": sentence})
    if before is None or after is None or not _fitted(before):
        return
    element = Element.objects.filter(
        fit_id=visit.fit_id, fitted_on=visit.on, part_number=before.part_number, batch=before.batch
    ).first()
    if element is None:
        return
    bump(element)
    element.part_number, element.batch, element.cured_on = after.part_number, after.batch, after.cured_on
    element.save()


def _fitted(fact: Any) -> bool:
    return fact is not None and fact.act == ElementFact.Act.FITTED


def _payload(visit: Visit, record: SignedRecord, plan: Plan, replaced: Mapping[Key, Typed]) -> dict[str, Any]:
    left = plan.as_left
    return {
        "visit": str(visit.uuid),
        "on": visit.on.isoformat(),
        "record": record.number,
        "amends": record.amends.number if record.amends is not None else None,
        "digest": record.digest,
        "steps": sorted(f"{step}.{number}" if number else step for step, number in replaced),
        "verdict": left.result.verdict if left is not None else None,
    }
