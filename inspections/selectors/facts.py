"""Reads the facts that due dates are computed from, for many couplings of one site at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any

from django.db.models import Exists, OuterRef, Q, Subquery

from couplings.models import Coupling, Element, Fit, SheetJoint, SheetVersion
from inspections.forecasting.duedates import FIRST
from inspections.forecasting.running import readings
from inspections.models import (
    Check,
    CheckKind,
    DriftState,
    Flag,
    Lubrication,
    OtherWork,
    Policy,
    SurveyResult,
    Torque,
    Visit,
)
from inspections.rules import TIGHTENS_ANEW
from inspections.selectors.dates import Facts
from inspections.selectors.life_due import life_fits_of
from inspections.selectors.stops import next_stops
from inspections.selectors.work_done import realigned, works_of
from plant.models import MeterReading
from plant.sitetime import zone_of


def facts_of(couplings: Iterable[Coupling], today: date) -> dict[int, Facts]:
    """The facts of some couplings of one site, by coupling id, in a number of queries that does not grow with them.

    The couplings come with their train and site; `today` is the day by which stops are over or to come.
    """
    facts = {coupling.pk: Facts(coupling) for coupling in couplings}
    if facts:
        _read_policies(facts)
        _read_visits(facts)
        _read_fits(facts)
        _read_checks(facts)
        _read_flags(facts)
        _read_meters(facts)
        _read_drift(facts, today)
        _read_losses(facts)
        _read_lives(facts)
    return facts


def _read_policies(facts: Mapping[int, Facts]) -> None:
    site_id = next(iter(facts.values())).coupling.site_id
    policies = {(one.check_kind, one.criticality): one for one in Policy.objects.filter(site_id=site_id)}
    for here in facts.values():
        for kind in CheckKind.values:
            # The policy of the train's own criticality, else the one for every criticality.
            policy = policies.get((kind, here.coupling.train.criticality)) or policies.get((kind, ""))
            if policy is not None:
                here.policies[kind] = policy


def _read_visits(facts: Mapping[int, Facts]) -> None:
    """The text that now feeds the dates says what a visit did: the signature, or its latest amendment."""
    works = works_of()
    filled = Lubrication.objects.filter(record=OuterRef("record")).values("every_months")[:1]
    signed = Visit.objects.filter(coupling_id__in=facts, state=Visit.State.SIGNED).order_by("on", "pk")
    rows = signed.values_list("coupling_id", "kind", "on", Subquery(filled), realigned(), *works.values())
    for coupling_id, visit_kind, on, every_months, moved, *did in rows:
        here = facts[coupling_id]
        for kind, done in zip(works, did, strict=True):
            if done:
                here.done_on[kind].append(on)
        if visit_kind == Visit.Kind.INSTALLATION:
            here.installed_on = on
        if moved:
            _disturb(here, on, "realigned")
        if every_months is not None:
            here.lubricant_months = every_months
    for work in OtherWork.objects.filter(coupling_id__in=facts).order_by("on", "pk"):
        _disturb(facts[work.coupling_id], work.on, work.kind)


def _disturb(here: Facts, on: Any, by: str) -> None:
    if here.disturbed is None or on > here.disturbed[0]:
        here.disturbed = (on, by)


def _read_fits(facts: Mapping[int, Facts]) -> None:
    allowed = SheetJoint.objects.filter(version=OuterRef("sheet_version"), recheck=SheetVersion.Recheck.ALLOWED)
    element = Element.objects.filter(fit=OuterRef("pk"), removed_on__isnull=True)
    rows = Fit.objects.filter(coupling_id__in=facts, removed_on__isnull=True).values_list(
        "coupling_id", "fitted_on", Exists(allowed), "sheet_version__sheet__family__lubricated",
        "sheet_version__lubricant_months", Subquery(element.values("fitted_on")[:1]),
        Subquery(element.values("part_number")[:1]),
    )  # fmt: skip
    for coupling_id, fitted_on, rechecks, lubricated, months, element_on, part in rows:
        here = facts[coupling_id]
        here.fitted_on, here.rechecks, here.lubricated = fitted_on, rechecks, lubricated
        here.element_on, here.element_part = element_on, part or ""
        # What was filled in last says how long it lasts, else the data sheet.
        here.lubricant_months = here.lubricant_months or months


def _read_checks(facts: Mapping[int, Facts]) -> None:
    """The open ones, and of the settled ones those that later dates heed."""
    heeded = Q(outcome=Check.Outcome.DONE, winner__in=FIRST) | Q(skipped=True)
    rows = Check.objects.filter(Q(settled_on__isnull=True) | heeded, coupling_id__in=facts)
    for check in rows.order_by("settled_on", "pk"):
        here = facts[check.coupling_id]
        if check.settled_on is None:
            check.coupling = here.coupling
            here.open_checks[check.kind] = check
            continue
        if check.skipped:
            here.skipped[check.kind] = check
        if check.winner in FIRST:
            here.first_done_for.add((check.kind, check.numbers.get("installed_on", "")))


def _read_flags(facts: Mapping[int, Facts]) -> None:
    for flag in Flag.objects.filter(coupling_id__in=facts, cleared_at__isnull=True):
        flag.coupling = facts[flag.coupling_id].coupling
        facts[flag.coupling_id].open_flags[flag.kind] = flag


def _read_drift(facts: Mapping[int, Facts], today: date) -> None:
    """Forecasts, without what only computing needs; and the next planned stop of the trains that have one."""
    rows = DriftState.objects.filter(coupling_id__in=facts).defer("kept", "belief", "limits")
    for state in rows:
        facts[state.coupling_id].drift = state
    forecast = [here for here in facts.values() if here.drift is not None and here.drift.curve]
    if forecast:
        stops = next_stops([here.coupling.train for here in forecast], today)
        for here in forecast:
            here.stops_on = stops.get(here.coupling.train_id)


def _read_lives(facts: Mapping[int, Facts]) -> None:
    """The law of each element's kind, where a policy for elements names a chance that is accepted."""
    wants = [
        here
        for here in facts.values()
        if here.element_part
        and (policy := here.policies.get(CheckKind.ELEMENT)) is not None
        and policy.risk is not None
    ]
    if wants:
        fits = life_fits_of(wants[0].coupling.site_id)
        for here in wants:
            here.life = fits.get(here.element_part)


def _read_losses(facts: Mapping[int, Facts]) -> None:
    """The last visit that read fasteners at what is fitted now, where it found that they had lost."""
    looked: dict[int, Any] = {}
    rows = Torque.objects.filter(
        visit__coupling_id__in=[pk for pk, here in facts.items() if here.rechecks],
        visit__fit__removed_on__isnull=True,
        visit__state=Visit.State.SIGNED,
        record__feeds__isnull=False,
    ).order_by("visit__on", "visit_id")
    columns = ("visit__coupling_id", "visit__on", "visit_id", "visit__kind", "verdict", "found")
    for coupling_id, on, visit_id, kind, verdict, found in rows.values_list(*columns):
        before = looked.get(coupling_id)
        # What was tightened anew begins again, whatever was found on the way.
        lost = kind not in TIGHTENS_ANEW and (verdict == SurveyResult.Verdict.OUT or bool(found))
        if before is not None and before[0] == visit_id:
            lost = lost or before[2]
        looked[coupling_id] = (visit_id, on, lost)
    for coupling_id, (_visit, on, lost) in looked.items():
        facts[coupling_id].lost_on = on if lost else None


def _read_meters(facts: Mapping[int, Facts]) -> None:
    """Only where a policy goes by run hours: always, or while a first running period is open."""
    waiting: dict[int, list[Facts]] = defaultdict(list)
    for here in facts.values():
        if any(policy.every_hours is not None for policy in here.policies.values()) or _waits_for_first(here):
            waiting[here.coupling.train_id].append(here)
    if not waiting:
        return
    zone = zone_of(next(iter(facts.values())).coupling.site)
    shown: dict[int, list[tuple[float, float]]] = defaultdict(list)
    rows = MeterReading.objects.counted().filter(meter__train_id__in=waiting)
    for train_id, at, hours, offset in rows.values_list("meter__train_id", "at", "hours", "offset_hours"):
        shown[train_id].append((_day_of(at.astimezone(zone)), hours + offset))
    for train_id, pairs in shown.items():
        running = readings(pairs)
        for here in waiting[train_id]:
            here.running = running


def _waits_for_first(here: Facts) -> bool:
    for kind, policy in here.policies.items():
        on = here.history(kind).occasion[0]
        if policy.first_hours is not None and on is not None and (kind, on.isoformat()) not in here.first_done_for:
            return True
    return False


def _day_of(local: datetime) -> float:
    return local.toordinal() + (local.hour * 3600 + local.minute * 60 + local.second) / 86400
