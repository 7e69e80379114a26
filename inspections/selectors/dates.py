"""What the due dates of couplings are computed from: policies, what visits did, fits, meters, the checks there are."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db.models import BooleanField, Exists, ExpressionWrapper, OuterRef, Q

from couplings.models import Coupling, Fit, SheetJoint, SheetVersion
from inspections.forecasting.duedates import FIRST_DAYS, FIRST_HOURS, Due, History, Interval, Rule, next_due
from inspections.forecasting.running import Running, readings
from inspections.models import Check, CheckKind, Flag, Policy, RunOut, SignedRecord, Survey, Torque, Visit
from plant.models import MeterReading, Train
from plant.sitetime import today_at, zone_of

__all__ = ["Facts", "facts_of", "today_at"]

FIRST = (FIRST_DAYS, FIRST_HOURS)


@dataclass
class Facts:
    """Everything the checks of one coupling are planned from."""

    coupling: Any
    policies: dict[str, Policy] = field(default_factory=dict)
    installed_on: date | None = None
    fitted_on: date | None = None
    rechecks: bool = False
    done_on: dict[str, list[date]] = field(default_factory=lambda: defaultdict(list))
    first_done_for: set[tuple[str, str]] = field(default_factory=set)
    running: Running = field(default_factory=Running)
    open_checks: dict[str, Check] = field(default_factory=dict)
    overdue_flag: Flag | None = None

    @property
    def comes_due(self) -> bool:
        """Trains out of service or uncoupled don't come due; back in service they do."""
        return self.coupling.retired_on is None and self.coupling.train.service == Train.Service.IN

    def wanted(self, kind: str, today: date) -> Due | None:
        """The check of this kind that the coupling should have open now."""
        policy = self.policies.get(kind)
        if policy is None or self.coupling.retired_on is not None:
            return None
        if kind == CheckKind.TORQUE and not self.rechecks:
            return None  # its data sheet has no fastener that may be checked again
        installed_on = self.installed_on
        history = History(
            done_on=tuple(sorted(self.done_on[kind])),
            installed_on=installed_on,
            fitted_on=self.fitted_on,
            first_done=installed_on is not None and (kind, installed_on.isoformat()) in self.first_done_for,
        )
        return next_due(rule_of(policy), history, self.running, today)


def rule_of(policy: Policy) -> Rule:
    """The numbers of a policy, for computing with."""
    return Rule(
        every=Interval(months=policy.every_months) if policy.every_months else None,
        mode=policy.mode,
        window_share=policy.window_share,
        first_days=policy.first_days,
        first_hours=policy.first_hours,
    )


def _swept(record: SignedRecord) -> bool:
    """A rigid coupling's alignment is checked by its run-out."""
    return RunOut.objects.filter(record=record).exists()


def kinds_done_by(record: SignedRecord) -> set[str]:
    """The kinds of check that one signed text did: alignment by an as-left survey, torque by fasteners checked."""
    kinds = set()
    left = Survey.objects.filter(record=record, as_left=True).exists()
    if left or (record.visit.sheet_version.sheet.family.kind == "rigid" and _swept(record)):
        kinds.add(CheckKind.ALIGNMENT.value)
    if Torque.objects.filter(record=record).exists():
        kinds.add(CheckKind.TORQUE.value)
    return kinds


def facts_of(couplings: Iterable[Coupling]) -> dict[int, Facts]:
    """The facts of some couplings of one site, by coupling id, in a number of queries that does not grow with them.

    The couplings come with their train.
    """
    facts = {coupling.pk: Facts(coupling) for coupling in couplings}
    if not facts:
        return facts
    _read_policies(facts)
    # The text that now feeds the dates says what a visit did: the signature, or its latest amendment.
    left = Exists(Survey.objects.filter(record=OuterRef("record"), as_left=True))
    swept = Exists(RunOut.objects.filter(record=OuterRef("record")))
    rigid = Q(sheet_version__sheet__family__kind="rigid")
    aligns = ExpressionWrapper(Q(left) | (rigid & Q(swept)), output_field=BooleanField())
    torques = Exists(Torque.objects.filter(record=OuterRef("record")))
    signed = Visit.objects.filter(coupling_id__in=facts, state=Visit.State.SIGNED)
    for coupling_id, kind, on, aligned, torqued in signed.values_list("coupling_id", "kind", "on", aligns, torques):
        here = facts[coupling_id]
        if aligned:
            here.done_on[CheckKind.ALIGNMENT.value].append(on)
        if torqued:
            here.done_on[CheckKind.TORQUE.value].append(on)
        if kind == Visit.Kind.INSTALLATION and (here.installed_on is None or on > here.installed_on):
            here.installed_on = on
    allowed = SheetJoint.objects.filter(version=OuterRef("sheet_version"), recheck=SheetVersion.Recheck.ALLOWED)
    fits = Fit.objects.filter(coupling_id__in=facts, removed_on__isnull=True).annotate(rechecks=Exists(allowed))
    for coupling_id, fitted_on, rechecks in fits.values_list("coupling_id", "fitted_on", "rechecks"):
        facts[coupling_id].fitted_on, facts[coupling_id].rechecks = fitted_on, rechecks
    kept = Q(settled_on__isnull=True) | Q(outcome=Check.Outcome.DONE, winner__in=FIRST)
    for check in Check.objects.filter(kept, coupling_id__in=facts):
        here = facts[check.coupling_id]
        if check.settled_on is None:
            check.coupling = here.coupling
            here.open_checks[check.kind] = check
        else:
            here.first_done_for.add((check.kind, check.numbers.get("installed_on", "")))
    flags = Flag.objects.filter(coupling_id__in=facts, kind=Flag.Kind.OVERDUE, cleared_at__isnull=True)
    for flag in flags:
        flag.coupling = facts[flag.coupling_id].coupling
        facts[flag.coupling_id].overdue_flag = flag
    _read_meters(facts)
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


def _read_meters(facts: Mapping[int, Facts]) -> None:
    """Hours matter only while a first running period is open, which few trains have at a time."""
    waiting: dict[int, list[Facts]] = defaultdict(list)
    for here in facts.values():
        if here.installed_on is None:
            continue
        open_kinds = [
            kind
            for kind, policy in here.policies.items()
            if policy.first_hours is not None and (kind, here.installed_on.isoformat()) not in here.first_done_for
        ]
        if open_kinds:
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


def _day_of(local: datetime) -> float:
    return local.toordinal() + (local.hour * 3600 + local.minute * 60 + local.second) / 86400
