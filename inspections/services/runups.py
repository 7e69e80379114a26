"""The run-up of a machine accepted after its visit was signed, by somebody else, as the next link of the chain."""

from __future__ import annotations

from collections.abc import Mapping

from inspections import rules
from inspections.models import RunUp, SignedRecord, Visit
from inspections.services import records, surveys
from inspections.services.drafts import check_names, check_texts
from inspections.services.running_flags import flag_running
from inspections.services.signing import locked, refuse_columns, to_read
from inspections.steps import Place
from inspections.steps.rows import Plan
from inspections.steps.runup import RUN_UP
from plant import access
from plant.recording import bump, changed, current
from plant.refusals import Refused


def accept_run_up(*, visit: Visit, fields: Mapping[str, str], expected: int | None = None) -> SignedRecord:
    """Sign the run-up of a mechanically complete machine: accepted, accepted with remarks, or not accepted.

    Raises
    ------
    Refused
        The visit is not signed or left no machine to run up, whoever signed it accepts it himself, it is accepted
        already, or by field what cannot be taken or is missing.
    """
    unit = current()
    access.require(unit.by, "visit.accept", visit.site_id)
    bump(visit, expected)
    coupling = locked(visit.coupling_id)
    fresh = to_read(visit.pk)
    accepted = RunUp.objects.filter(visit=fresh).exclude(outcome=RunUp.Outcome.REFUSED).exists()
    sentence = rules.run_up_refusal(
        kind=fresh.kind,
        signed=fresh.state == Visit.State.SIGNED,
        own=unit.by is not None and unit.by.pk in (fresh.signed_by_id, fresh.taken_by_id),
        accepted=accepted,
    )
    if sentence:
        raise Refused({"": sentence})
    assert fresh.record is not None
    check_texts(fields)
    check_names(RUN_UP, fresh, fields, fields)
    typed = {name: text for name, text in fields.items() if text.strip()}
    read = RUN_UP.read(typed, Place(fresh, unit.at))
    if errors := read.errors | read.missing:
        raise Refused({f"fields.{name}": said for name, said in errors.items()})
    plan = Plan([], {"run-up": [read.values]})
    refuse_columns(plan)
    record = records.append(
        coupling=coupling,
        visit=fresh,
        plan=plan,
        steps=[{"step": "run-up", "number": 0, "typed": typed}],
        left_so_reason=fresh.left_so_reason,
        nothing_moved=fresh.nothing_moved,
        accepts=fresh.record,
    )
    surveys.store(plan=plan, record=record)
    changed(visit)
    flag_running(coupling=coupling)
    return record
