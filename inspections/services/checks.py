"""Checks: settled by the visit that did them, planned again by policy, and told outside when their time comes.

Trains out of service or uncoupled don't come due: their open check keeps its row and its date, the due list leaves it
out, nothing is announced and no flag is opened for it. Back in service it is what its dates say on that day.
Everything here gives the same answer for one coupling as for a whole site: both go through the same plan.
"""

from datetime import date
from typing import Any

from django.db.models import F, QuerySet

from couplings.models import Coupling
from inspections.forecasting.duedates import FIXED, POLICY
from inspections.models import Check, CheckKind, DriftState, Flag, SignedRecord, Visit
from inspections.selectors.dates import FIRST, Facts, opened_on
from inspections.selectors.facts import facts_of
from inspections.selectors.work_done import kinds_done_by
from inspections.services.drift import recompute_drift
from inspections.services.flags import flag_tolerance, open_flag, settle_flag
from inspections.services.planning import Step, flags_move, flags_wanted, plan, why_gone
from inspections.services.running_flags import flag_running
from inspections.services.visit_flags import flag_visits
from inspections.services.wear_flags import flag_wear
from plant.models import Site, Train
from plant.recording import changed, current, told
from plant.sitetime import today_at

# Which work answers which finding; a follow-up is done by any of it, whatever it then found.
ANSWERS = {
    Flag.Kind.OUT: {CheckKind.ALIGNMENT},
    Flag.Kind.WORN: {CheckKind.WEAR, CheckKind.ELEMENT},
    Flag.Kind.DO_NOT_RUN: {CheckKind.WEAR, CheckKind.ELEMENT},
    Flag.Kind.LOOSE: {CheckKind.TORQUE},
    Flag.Kind.LOST_TWICE: {CheckKind.TORQUE},
    Flag.Kind.ODD_LOOK: {CheckKind.LOOK, CheckKind.WEAR, CheckKind.ELEMENT},
    Flag.Kind.BREAKDOWN: {CheckKind.WEAR, CheckKind.ELEMENT, CheckKind.ALIGNMENT},
    Flag.Kind.RUN_UP: {CheckKind.WEAR, CheckKind.ELEMENT, CheckKind.ALIGNMENT, CheckKind.TORQUE},
}


def after_visit(*, visit: Visit, record: SignedRecord) -> None:
    """Draw the consequences of a signature or an amendment for the coupling's checks and flags.

    The visit is signed and `record` feeds it already. An alignment check is done by an as-left survey, a torque check
    by fasteners checked, whatever was found. An amendment that takes such work back opens the check again.
    """
    if visit.record_id != record.pk or visit.state != Visit.State.SIGNED:
        raise ValueError("Checks follow from a signed visit and the record that feeds it.")
    (coupling,) = _locked([visit.coupling_id])
    done = kinds_done_by(record)
    _take_back(visit, done)
    facts = facts_of([coupling], today_at(coupling.site, current().at))[coupling.pk]
    for kind in sorted(done | {CheckKind.FOLLOW_UP.value}):
        check = facts.open_checks.get(kind)
        if check is not None and _does(facts, check, visit, kind, done):
            _settle(check, visit)
    # What was found comes first: it may ask for a check of its own. So does what it says of the drift.
    recompute_drift(couplings=[coupling.pk])
    flag_tolerance(coupling=coupling)
    flag_wear(coupling=coupling)
    flag_visits(coupling=coupling)
    flag_running(coupling=coupling)
    _bring_up_to_date([coupling.pk])


def recompute_coupling(*, coupling: Coupling, today: date | None = None) -> None:
    """Bring the checks and the overdue flag of one coupling up to date after anything they depend on changed."""
    _bring_up_to_date([coupling.pk], today)


def recompute_train(*, train: Train) -> None:
    """The same for every coupling of a train: its meter was read, or its service or criticality changed."""
    recompute_couplings(couplings=Coupling.objects.filter(train=train))


def recompute_couplings(*, couplings: QuerySet[Coupling]) -> None:
    """The same for any couplings, of one site or several."""
    by_site: dict[int, list[int]] = {}
    for pk, site_id in couplings.order_by("site_id", "pk").values_list("pk", "site_id"):
        by_site.setdefault(site_id, []).append(pk)
    for ids in by_site.values():
        _bring_up_to_date(ids)


def recompute_site(*, site: Site, today: date, after: int = 0, at_most: int | None = None) -> int | None:
    """Bring the checks and overdue flags of a site up to date: the nightly run.

    Parameters
    ----------
    site, today : Site, date
        Today at the site.
    after, at_most : int
        A slice: couplings with an id above `after`, that many of them.

    Returns
    -------
    int or None
        The last coupling id of a full slice, to go on from; None when the site is through.

    Notes
    -----
    Facts are read for the whole slice at once; only the couplings for which something changes are locked, read again
    and written.
    """
    rows = Coupling.objects.filter(site=site, pk__gt=after).select_related("train", "site").order_by("pk")
    couplings = list(rows[:at_most] if at_most else rows)
    facts = facts_of(couplings, today)
    moved = [pk for pk, here in facts.items() if plan(here, today) or flags_move(here, today)]
    _bring_up_to_date(moved, today)
    return couplings[-1].pk if at_most and len(couplings) == at_most else None


def redraw_site(*, site: Site, today: date, after: int = 0, at_most: int = 200) -> int | None:
    """Draw the forecasts of a slice of a site again, and bring the checks of those that moved up to date.

    Returns
    -------
    int or None
        As `recompute_site`.
    """
    rows = Coupling.objects.filter(site=site, pk__gt=after).order_by("pk").values_list("pk", flat=True)
    ids = list(rows[:at_most])
    _bring_up_to_date(recompute_drift(couplings=ids, today=today), today)
    return ids[-1] if len(ids) == at_most else None


def cross_over(*, site: Site, today: date, at_most: int) -> bool:
    """The same for forecasts of which something changes with the day alone; whether there were any."""
    rows = DriftState.objects.filter(site=site, crosses_on__lte=today).order_by("pk")
    ids = list(rows.values_list("coupling_id", flat=True)[:at_most])
    _bring_up_to_date(recompute_drift(couplings=ids, today=today), today)
    return bool(ids)


def _locked(coupling_ids: list[int]) -> list[Coupling]:
    """The couplings with their trains, locked in one order: whoever else plans or signs there waits."""
    list(Coupling.objects.select_for_update().filter(pk__in=coupling_ids).order_by("pk").values_list("pk"))
    return list(Coupling.objects.filter(pk__in=coupling_ids).select_related("train", "site").order_by("pk"))


def _bring_up_to_date(coupling_ids: list[int], today: date | None = None) -> None:
    """Plan and write what differs, for couplings of one site; read in a number of queries that does not grow."""
    if not coupling_ids:
        return
    couplings = _locked(coupling_ids)
    day = today or today_at(couplings[0].site, current().at)
    facts = facts_of(couplings, day)
    for coupling in couplings:
        here = facts[coupling.pk]
        for step in plan(here, day):
            _take(here, step)
        if flags_move(here, day):
            _flag_dates(here, day)


def _write(check: Check, **columns: Any) -> None:
    """Change a check that was read under its coupling's lock: one statement, with its version."""
    Check.objects.filter(pk=check.pk).update(version=F("version") + 1, **columns)
    for name, value in columns.items():
        setattr(check, name, value)
    check.version += 1
    changed(check)


def _take(facts: Facts, step: Step) -> None:
    coupling, check = facts.coupling, step.check
    if step.cancel:
        assert check is not None
        _cancel(check, step.cancel)
        del facts.open_checks[step.kind]
        return
    before = check.due_on if check is not None else None
    columns = dict(step.columns)
    due_on = columns.get("due_on", before)
    if step.announce:
        columns["announced_for"] = due_on
    if step.announce_overdue:
        columns["overdue_told_for"] = due_on
    if check is None:
        check = Check.objects.create(site_id=coupling.site_id, coupling=coupling, kind=step.kind, **columns)
        changed(check)
        facts.open_checks[step.kind] = check
    else:
        _write(check, **columns)
    if before is not None and before != check.due_on:
        if check.deferred_until == check.due_on:
            tell_check(
                "check.deferred", check, was_due_on=before.isoformat(), reason=check.deferred_reason,
                risk=check.deferred_risk,
            )  # fmt: skip
        else:
            tell_check("check.rescheduled", check, was_due_on=before.isoformat())
    if step.announce:
        tell_check("check.due", check)
    if step.announce_overdue:
        tell_check("check.overdue", check)


def _does(facts: Facts, check: Check, visit: Visit, kind: str, done: set[str]) -> bool:
    """Whether this visit settles that check.

    Not one that is older than what the check counts from, and not before its window opens where that has a meaning of
    its own: the first running is not over yet, or the fixed calendar stands.
    """
    if kind == CheckKind.FOLLOW_UP:
        answered = {work for one in check.numbers["found"] for work in ANSWERS[one["kind"]]}
        return bool(answered & done) and visit.on >= check.opens_on
    others = [on for on in facts.done_on[kind] if on > visit.on]
    if others or check.numbers.get("last_done_on", "") >= visit.on.isoformat():
        return False
    if check.winner in FIRST or (check.winner == POLICY and check.numbers.get("mode") == FIXED):
        return visit.on >= opened_on(check)
    return True


def _settle(check: Check, visit: Visit) -> None:
    _write(check, settled_on=visit.on, settled_by=visit, outcome=Check.Outcome.DONE)
    tell_check("check.done", check, visit=str(visit.uuid), done_on=visit.on.isoformat())


def _cancel(check: Check, cause: str) -> None:
    today = today_at(check.coupling.site, current().at)
    _write(check, settled_on=today, settled_by=None, outcome=Check.Outcome.CANCELLED, cause=cause)
    tell_check("check.cancelled", check, cause=cause)


def _take_back(visit: Visit, done: set[str]) -> None:
    """Open again what this visit settled by work that an amendment took back."""
    after = {CheckKind.FOLLOW_UP.value} if done else set()
    settled = Check.objects.filter(settled_by=visit, outcome=Check.Outcome.DONE).exclude(kind__in=done | after)
    for check in settled.select_related("coupling__site"):
        later = Check.objects.filter(coupling=check.coupling, kind=check.kind, pk__gt=check.pk)
        standing = later.filter(settled_on__isnull=True).select_related("coupling__site").first()
        if later.filter(outcome=Check.Outcome.DONE).exists():
            # Somebody has done it since, so nothing is owed; this one just was not the visit that did it.
            _cancel(check, "an amendment took the work back; a later visit did it")
            continue
        if standing is not None:
            _cancel(standing, "an amendment took back the work it counted from")
        _write(check, settled_on=None, settled_by=None, outcome="", cause="")
        tell_check("check.rescheduled", check, cause="an amendment took the work back")


def _flag_dates(facts: Facts, today: date) -> None:
    """Open or clear the flags that the dates themselves ask for."""
    for kind, evidence in flags_wanted(facts, today).items():
        if evidence is not None:
            open_flag(coupling=facts.coupling, kind=kind, evidence=evidence)
        elif kind in facts.open_flags:
            settle_flag(flag=facts.open_flags[kind], cause=why_gone(facts, kind))


def tell_check(kind: str, check: Check, **more: Any) -> None:
    """Tell outside what happened to one check."""
    payload = {"check": str(check.uuid), "kind": check.kind, "due_on": check.due_on.isoformat()}
    told(kind, check.coupling, payload | more)
