"""What differs between the checks a coupling has open and those it should have; nothing is written here."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from inspections.forecasting.duedates import Due
from inspections.models import Check, CheckKind, Flag, Policy
from inspections.selectors.dates import Facts


@dataclass
class Step:
    """What has to change about one kind of check of one coupling."""

    kind: str
    check: Check | None = None
    columns: dict[str, Any] = field(default_factory=dict)
    cancel: str = ""
    announce: bool = False
    announce_overdue: bool = False


def plan(facts: Facts, today: date) -> list[Step]:
    """The steps that bring the open checks of one coupling to what its facts ask for on this day."""
    steps = []
    for kind in CheckKind.values:
        check = facts.open_checks.get(kind)
        due = facts.wanted(kind, today)
        if due is None:
            if check is not None:
                steps.append(Step(kind, check, cancel=_why_not(facts, kind)))
            continue
        columns = _columns(due, facts.policies[kind])
        step = Step(kind, check, columns)
        if check is not None:
            step.columns = {name: value for name, value in columns.items() if getattr(check, name) != value}
        elif kind == CheckKind.FOLLOW_UP:
            columns["owner_id"] = _owner_of(facts, due)
        if facts.comes_due:
            # Once per due date: a check that moved to another date is announced for that one again.
            announced = check.announced_for if check is not None else None
            overdue = check.overdue_told_for if check is not None else None
            step.announce = due.opens_on <= today and announced != due.due_on
            step.announce_overdue = today > due.closes_on and overdue != due.due_on
        if step.columns or step.announce or step.announce_overdue:
            steps.append(step)
    return steps


def _columns(due: Due, policy: Policy) -> dict[str, Any]:
    return {
        "opens_on": due.opens_on,
        "due_on": due.due_on,
        "closes_on": due.closes_on,
        "winner": due.winner,
        "numbers": due.numbers,
        "runner_up": due.runner_up,
        "runner_up_on": due.runner_up_on,
        "needs_stop": policy.needs_stop,
        "crew_hours": policy.crew_hours,
        "crew_size": policy.crew_size,
    }


def _owner_of(facts: Facts, due: Due) -> int | None:
    """Who deals with what was found comes back for it too."""
    for one in due.numbers["found"]:
        flag = facts.open_flags[one["kind"]]
        if flag.owner_id is not None:
            return flag.owner_id
    return None


def _why_not(facts: Facts, kind: str) -> str:
    if facts.coupling.retired_on is not None:
        return "the coupling was retired"
    if kind == CheckKind.FOLLOW_UP and kind in facts.policies:
        return "what was found stands no more"
    return "no policy asks for it any more"


def overdue_lines(facts: Facts, today: date) -> list[dict[str, str]]:
    """The checks that are past their last day, as the overdue flag keeps them."""
    if not facts.comes_due:
        return []
    late = [check for kind, check in sorted(facts.open_checks.items()) if check.closes_on < today]
    return [{"check": str(one.uuid), "kind": one.kind, "due_on": one.due_on.isoformat()} for one in late]


def why_not_overdue(facts: Facts) -> str:
    """Why nothing is overdue any more, as the cause with which the flag is cleared."""
    if facts.coupling.retired_on is not None:
        return "the coupling was retired"
    if not facts.comes_due:
        return f"the train is {facts.coupling.train.get_service_display()}"
    return "the check was done or has another date"


def overdue_moves(facts: Facts, today: date) -> bool:
    """Whether the overdue flag is not what it should be."""
    late, flag = overdue_lines(facts, today), facts.open_flags.get(Flag.Kind.OVERDUE)
    return bool(late) != (flag is not None) or (flag is not None and flag.evidence != {"checks": late})
