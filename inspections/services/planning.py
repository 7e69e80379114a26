"""What differs between the checks a coupling has open and those it should have; nothing is written here."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from inspections.forecasting.duedates import Due
from inspections.models import Check, CheckKind, Flag, Policy
from inspections.selectors.dates import Facts
from inspections.selectors.drift_flags import jumped, moving_fast, out_before_next

# Three times as long as hours are called estimated without a word to anybody. Common practice.
HOURS_TOO_LONG_DAYS = 180


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


def flags_wanted(facts: Facts, today: date) -> dict[str, dict[str, Any] | None]:
    """What the dates themselves say somebody must deal with: the evidence by kind of flag, None where nothing does."""
    wanted: dict[str, dict[str, Any] | None] = dict.fromkeys(
        (
            Flag.Kind.OVERDUE, Flag.Kind.ELEMENT_AGE, Flag.Kind.HOURS, Flag.Kind.NO_SURVEY, Flag.Kind.JUMP,
            Flag.Kind.FAST, Flag.Kind.FORECAST_OUT,
        )
    )  # fmt: skip
    # What it did asks for a cause also while the train stands.
    if facts.coupling.retired_on is None:
        wanted[Flag.Kind.JUMP] = jumped(facts)
    if facts.comes_due:
        wanted[Flag.Kind.FAST] = moving_fast(facts)
        wanted[Flag.Kind.FORECAST_OUT] = out_before_next(facts, today)
        wanted[Flag.Kind.OVERDUE] = _overdue(facts, today)
        wanted[Flag.Kind.ELEMENT_AGE] = _element_over_age(facts, today)
        wanted[Flag.Kind.HOURS] = _hours_unread(facts, today)
        wanted[Flag.Kind.NO_SURVEY] = _survey_missing(facts)
    return wanted


def flags_move(facts: Facts, today: date) -> bool:
    """Whether one of these flags is not what it should be."""
    for kind, evidence in flags_wanted(facts, today).items():
        flag = facts.open_flags.get(kind)
        if (flag is None) != (evidence is None) or (flag is not None and flag.evidence != evidence):
            return True
    return False


def why_gone(facts: Facts, kind: str) -> str:
    """Why such a flag stands no more, as the cause with which it is cleared."""
    if facts.coupling.retired_on is not None:
        return "the coupling was retired"
    if not facts.comes_due and kind != Flag.Kind.JUMP:
        return f"the train is {facts.coupling.train.get_service_display()}"
    return {
        Flag.Kind.OVERDUE.value: "the check was done or has another date",
        Flag.Kind.ELEMENT_AGE.value: "another element is in, or its policy says another age",
        Flag.Kind.HOURS.value: "the meter was read, or no policy goes by run hours",
        Flag.Kind.NO_SURVEY.value: "the alignment was measured",
        Flag.Kind.JUMP.value: "its history explains the movement now, or the leg does not count any more",
        Flag.Kind.FAST.value: "its pace is slower by what was measured since",
        Flag.Kind.FORECAST_OUT.value: "it was measured again, or the next look comes early enough",
    }[kind]


def _overdue(facts: Facts, today: date) -> dict[str, Any] | None:
    late = [check for kind, check in sorted(facts.open_checks.items()) if check.closes_on < today]
    lines = [{"check": str(one.uuid), "kind": one.kind, "due_on": one.due_on.isoformat()} for one in late]
    return {"checks": lines} if lines else None


def _element_over_age(facts: Facts, today: date) -> dict[str, Any] | None:
    """Whatever date somebody deferred its check to: the element is as old as it is."""
    due = facts.asked(CheckKind.ELEMENT, today)
    if due is None or facts.element_on is None or today <= due.due_on:
        return None
    return {
        "part_number": facts.element_part,
        "element_on": facts.element_on.isoformat(),
        "due_on": due.due_on.isoformat(),
    }


def _hours_unread(facts: Facts, today: date) -> dict[str, Any] | None:
    last_on = facts.running.last_on
    always = any(policy.every_hours is not None for policy in facts.policies.values())
    if last_on is None:
        return {"last_reading_on": None} if always else None
    if (today - last_on).days < HOURS_TOO_LONG_DAYS:
        return None
    return {"last_reading_on": last_on.isoformat()}


def _survey_missing(facts: Facts) -> dict[str, Any] | None:
    """A coupling was installed and its alignment was measured neither then nor since."""
    installed_on = facts.installed_on
    if CheckKind.ALIGNMENT not in facts.policies or installed_on is None:
        return None
    if any(on >= installed_on for on in facts.done_on[CheckKind.ALIGNMENT]):
        return None
    return {"installed_on": installed_on.isoformat()}
