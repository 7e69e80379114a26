"""What the due dates of couplings are computed from: policies, what visits did, fits, meters, the checks there are."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any

from inspections.forecasting.duedates import (
    FIRST,
    Drift,
    Due,
    History,
    Interval,
    Life,
    Rule,
    follow_up,
    next_due,
)
from inspections.forecasting.running import Running
from inspections.models import Check, CheckKind, DriftState, Flag, LifeFit, Policy
from inspections.selectors.drift_due import asked_by_drift
from inspections.selectors.life_due import asked_by_life
from plant.models import Site, Train

# The conditions whose finding asks somebody to come back on a date of its own.
FOLLOWED = (
    Flag.Kind.OUT,
    Flag.Kind.WORN,
    Flag.Kind.DO_NOT_RUN,
    Flag.Kind.LOOSE,
    Flag.Kind.LOST_TWICE,
    Flag.Kind.ODD_LOOK,
    Flag.Kind.BREAKDOWN,
    Flag.Kind.RUN_UP,
)
# Work on foundation and pipes says something about position and bolts; other kinds have no first running.
AFTER_OTHER_WORK = (CheckKind.ALIGNMENT, CheckKind.TORQUE)


@dataclass
class Facts:
    """Everything the checks of one coupling are planned from."""

    coupling: Any
    policies: dict[str, Policy] = field(default_factory=dict)
    installed_on: date | None = None
    disturbed: tuple[date, str] | None = None
    fitted_on: date | None = None
    rechecks: bool = False
    lubricated: bool = False
    lubricant_months: int | None = None
    element_on: date | None = None
    element_part: str = ""
    life: LifeFit | None = None
    done_on: dict[str, list[date]] = field(default_factory=lambda: defaultdict(list))
    first_done_for: set[tuple[str, str]] = field(default_factory=set)
    skipped: dict[str, Check] = field(default_factory=dict)
    running: Running = field(default_factory=Running)
    open_checks: dict[str, Check] = field(default_factory=dict)
    open_flags: dict[str, Flag] = field(default_factory=dict)
    drift: DriftState | None = None
    lost_on: date | None = None
    stops_on: date | None = None

    @property
    def comes_due(self) -> bool:
        """Trains out of service or uncoupled don't come due; back in service they do."""
        return self.coupling.retired_on is None and self.coupling.train.service == Train.Service.IN

    @property
    def overdue_flag(self) -> Flag | None:
        return self.open_flags.get(Flag.Kind.OVERDUE)

    def occasion(self, kind: str) -> tuple[date | None, str]:
        """What this kind of check waits for the first running of, and which work that was."""
        return self.history(kind).occasion

    def history(self, kind: str) -> History:
        """What is known of one kind of check here, for computing with."""
        policy, skipped = self.policies.get(kind), self.skipped.get(kind)
        heeds = policy is not None and policy.after_other_work and kind in AFTER_OTHER_WORK
        disturbed_on, disturbed_by = self.disturbed if heeds and self.disturbed else (None, "")
        known = History(
            done_on=tuple(sorted(self.done_on[kind])),
            installed_on=self.installed_on,
            fitted_on=self.fitted_on,
            disturbed_on=disturbed_on,
            disturbed_by=disturbed_by,
            skipped_until=planned_on(skipped) if skipped is not None and skipped.winner not in FIRST else None,
            skipped_on=skipped.settled_on if skipped is not None else None,
            element_on=self.element_on if kind == CheckKind.ELEMENT else None,
            lost_on=self.lost_on if kind == CheckKind.TORQUE else None,
        )
        occasion_on, _ = known.occasion
        done = occasion_on is not None and (kind, occasion_on.isoformat()) in self.first_done_for
        return replace(known, first_done=done)

    def asked(self, kind: str, today: date) -> Due | None:
        """The date our own triggers say, before anybody deferred it or another system gave its own."""
        policy = self.policies.get(kind)
        if policy is None or self.coupling.retired_on is not None:
            return None
        if kind == CheckKind.TORQUE and not self.rechecks:
            return None  # its data sheet has no fastener that may be checked again
        if kind == CheckKind.LUBRICANT and not self.lubricated:
            return None
        if kind == CheckKind.ELEMENT and self.element_on is None:
            return None
        rule = rule_of(policy)
        if kind == CheckKind.FOLLOW_UP:
            return follow_up(rule, self._found())
        if kind == CheckKind.LUBRICANT and self.lubricant_months is not None:
            rule = replace(rule, every=Interval(months=self.lubricant_months))
        return next_due(
            rule, self.history(kind), self.running, today, self._drift(kind, policy), self._life(kind, policy)
        )

    def _drift(self, kind: str, policy: Policy) -> Drift | None:
        """What the coupling's surveys ask of its alignment, where the policy goes by it."""
        if kind != CheckKind.ALIGNMENT or not policy.by_drift or self.drift is None:
            return None
        return asked_by_drift(self.drift, policy, self.coupling.train.criticality)

    def _life(self, kind: str, policy: Policy) -> Life | None:
        """What the lives of elements of its kind ask for, where the policy names a chance that is accepted."""
        if kind != CheckKind.ELEMENT or policy.risk is None or self.life is None or self.element_on is None:
            return None
        return asked_by_life(self.life, policy.risk, self.element_on, self.done_on[CheckKind.WEAR], self.running)

    def wanted(self, kind: str, today: date) -> Due | None:
        """The check of this kind that the coupling should have open now: deferred where somebody deferred it."""
        due, check = self.asked(kind, today), self.open_checks.get(kind)
        if due is None or check is None:
            return due
        if self.coupling.site.dates_owner == Site.DatesOwner.ORDERS and check.ordered_on is not None:
            return moved(due, check.ordered_on, "proposed_on")
        if check.deferred_until is not None and check.deferred_until > due.due_on:
            return moved(due, check.deferred_until, "deferred_from")
        return due

    def _found(self) -> list[dict[str, Any]]:
        """What flags ask to come back for, less what somebody said needs no coming back."""
        skipped = self.skipped.get(CheckKind.FOLLOW_UP)
        left_out = {one["flag"] for one in skipped.numbers.get("found", [])} if skipped is not None else set()
        return [
            {"flag": str(flag.uuid), "kind": kind, "on": flag.evidence["on"]}
            for kind, flag in sorted(self.open_flags.items())
            if kind in FOLLOWED and flag.evidence.get("on") and str(flag.uuid) not in left_out
        ]


def moved(due: Due, on: date, why: str) -> Due:
    """The same check on a date that somebody gave; what the triggers say stays in its numbers."""
    before = {
        why: due.due_on.isoformat(),
        "opened_on": due.opens_on.isoformat(),
        "would_close_on": due.closes_on.isoformat(),
    }
    return replace(due, opens_on=on, due_on=on, closes_on=on, numbers=due.numbers | before)


def planned_on(check: Check) -> date:
    """The date the triggers gave a check, whoever moved it since."""
    text = check.numbers.get("deferred_from") or check.numbers.get("proposed_on")
    return date.fromisoformat(text) if text else check.due_on


def opened_on(check: Check) -> date:
    """From when on a visit does this check, whoever moved it since."""
    text = check.numbers.get("opened_on")
    return min(check.opens_on, date.fromisoformat(text)) if text else check.opens_on


def latest_deferral(check: Check, policy: Policy | None) -> date:
    """The last day to which a check may be deferred by its policy."""
    return planned_on(check) + timedelta(days=policy.defer_days if policy is not None else 0)


def rule_of(policy: Policy) -> Rule:
    """The numbers of a policy, for computing with."""
    return Rule(
        every=Interval(months=policy.every_months) if policy.every_months else None,
        mode=policy.mode,
        window_share=policy.window_share,
        first_days=policy.first_days,
        first_hours=policy.first_hours,
        every_hours=policy.every_hours,
    )
