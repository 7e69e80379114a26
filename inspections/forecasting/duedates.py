"""When the next check of one kind at one coupling is due, which trigger says so, and what else would have said."""

from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from inspections.forecasting.intervals import (
    FIXED,
    FLOATING,
    WINDOW,
    Interval,
    Rule,
    Slot,
    around,
    next_count,
    slot,
    state_of,
)
from inspections.forecasting.running import Running, estimated, rate, reaches_on

__all__ = [
    "DRIFT", "ELEMENT_AGE", "ELEMENT_LIFE", "FINDING", "FIRST", "FIRST_DAYS", "FIRST_HOURS", "FIXED", "FLOATING",
    "LOST", "POLICY", "RUN_HOURS", "WINDOW", "Drift", "Due", "History", "Interval", "Life", "Rule", "Slot", "around",
    "follow_up", "next_count", "next_due", "slot", "state_of",
]  # fmt: skip

FIRST_DAYS, FIRST_HOURS, POLICY = "first-days", "first-hours", "policy"
ELEMENT_LIFE = "element-life"
RUN_HOURS, ELEMENT_AGE, FINDING, DRIFT, LOST = "run-hours", "element-age", "finding", "drift", "lost"
FIRST = (FIRST_DAYS, FIRST_HOURS)


@dataclass(frozen=True)
class History:
    """What is known of one kind of check at one coupling.

    Parameters
    ----------
    done_on : sequence of date
        Days on which signed visits did it, installations included.
    installed_on : date or None
        The last signed installation.
    fitted_on : date or None
        Since when the coupling is there; the count begins here where no visit did it yet.
    first_done : bool
        Whether the first-running check of the last occasion has been settled; it then stays so, whatever later meter
        readings say.
    disturbed_on : date or None
        The last work, other than an installation, after which a first running is waited for.
    disturbed_by : str
        What work that was: "realigned", "foundation", "pipe".
    skipped_until : date or None
        The due date of the latest check that somebody cancelled: regular dates up to it are left out.
    skipped_on : date or None
        The day on which that was; run hours count from it.
    element_on : date or None
        Since when the element in there runs; given only for a check that asks for its replacement.
    lost_on : date or None
        The last visit that checked fasteners, where it found that they had lost; None where they held.
    """

    done_on: tuple[date, ...] = ()
    installed_on: date | None = None
    fitted_on: date | None = None
    first_done: bool = False
    disturbed_on: date | None = None
    disturbed_by: str = ""
    skipped_until: date | None = None
    skipped_on: date | None = None
    element_on: date | None = None
    lost_on: date | None = None

    @property
    def begins_on(self) -> date | None:
        """The day from which it was last good: done here, else fitted."""
        return max(self.done_on) if self.done_on else self.fitted_on

    @property
    def occasion(self) -> tuple[date | None, str]:
        """The last work after which a first running is waited for, and what it was; "" is an installation."""
        if self.disturbed_on is not None and (self.installed_on is None or self.disturbed_on > self.installed_on):
            return self.disturbed_on, self.disturbed_by
        return self.installed_on, ""


@dataclass(frozen=True)
class Due:
    """The one due date, the trigger that set it and the one that would have come next, as code and numbers."""

    opens_on: date
    due_on: date
    closes_on: date
    winner: str
    numbers: dict[str, Any] = field(default_factory=dict)
    runner_up: str = ""
    runner_up_on: date | None = None


@dataclass(frozen=True)
class Drift:
    """What the forecast of one coupling asks for.

    Parameters
    ----------
    due_on, left_on : date
        When to look again, and when it was last left measured.
    by : str
        "risk": the last day within the accepted chance of being out of tolerance; "shortest": that is already past, so
        as early as the site allows; "longest": the chance stays below it, so as late as the site allows.
    grows : bool
        Whether its own legs let it wait longer than the policy's interval.
    numbers : dict
        What the sentence is made from.
    """

    due_on: date
    left_on: date
    by: str
    grows: bool = False
    numbers: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Life:
    """By when the chance that an element has failed reaches what is accepted, and the day it is counted from."""

    due_on: date
    from_on: date
    numbers: dict[str, Any] = field(default_factory=dict)


def next_due(
    rule: Rule,
    history: History,
    running: Running,
    today: date,
    drift: Drift | None = None,
    life: Life | None = None,
) -> Due | None:
    """The earliest of the triggers that a policy sets for one kind of check.

    Parameters
    ----------
    rule : Rule
    history : History
    running : Running
        The train's hour meter; empty where there is none.
    today : date
        The site's. It decides nothing but whether hours count as estimated, so that a night without news writes
        nothing.
    drift : Drift, optional
        What the coupling's surveys forecast.
    life : Life, optional
        What the lives of elements of its kind ask for.

    Returns
    -------
    Due or None
        None when no trigger asks for the check.
    """
    regular, by_drift = _regular(rule, history), _by_drift(rule, history, drift)
    found = [
        *_first_running(rule, history, running, today),
        *_lost(rule, history, running),
        *regular,
        *_run_hours(rule, history, running, today),
        *by_drift,
        *_by_life(rule, history, life),
    ]
    if not found:
        return None
    # Where its own legs bear out a longer interval, the policy's regular date does not stand before it.
    waits = drift is not None and drift.grows and bool(by_drift) and bool(regular)
    put_back = regular if waits and regular[0].due_on < by_drift[0].due_on else []
    asks = sorted((one for one in found if one not in put_back), key=lambda one: one.due_on)
    won = asks[0]
    others = [*put_back, *asks[1:]] if won in by_drift else [*asks[1:], *put_back]
    if not others:
        return won
    second = others[0]
    if won in by_drift:
        won.numbers["drift_waits"] = bool(put_back)
    return Due(
        won.opens_on,
        won.due_on,
        won.closes_on,
        won.winner,
        second.numbers | won.numbers,
        runner_up=second.winner,
        runner_up_on=second.due_on,
    )


def _first_running(rule: Rule, history: History, running: Running, today: date) -> list[Due]:
    """Once after an installation or other work: so many days or run hours, whichever comes first.

    A visit before its window opens does not settle it: the machine has not done its first running yet.
    """
    installed_on, occasion = history.occasion
    if installed_on is None or history.first_done or (rule.first_days is None and rule.first_hours is None):
        return []
    numbers: dict[str, Any] = {"installed_on": installed_on.isoformat()}
    if occasion:
        numbers["occasion"] = occasion
    ends: list[tuple[date, str]] = []
    if rule.first_days is not None:
        numbers["first_days"] = rule.first_days
        ends.append((installed_on + timedelta(days=rule.first_days), FIRST_DAYS))
    if rule.first_hours is not None:
        numbers["first_hours"] = rule.first_hours
        hours_on = reaches_on(running, installed_on, rule.first_hours)
        per_day = rate(running)
        if hours_on is not None and per_day is not None:
            numbers |= {"hours_per_day": round(per_day, 1)}
            numbers |= _if_estimated(running, today)
            ends.append((hours_on, FIRST_HOURS))
    dues = []
    for due_on, code in sorted(ends):
        window = around(due_on, (due_on - installed_on).days, rule.window_share)
        dues.append(Due(window.opens_on, due_on, window.closes_on, code, numbers))
    if dues and any(done_on > installed_on and done_on >= dues[0].opens_on for done_on in history.done_on):
        return []
    return dues


def _regular(rule: Rule, history: History) -> list[Due]:
    """The policy's interval, counted through everything that was done; for an element from the day it was fitted."""
    if rule.every is None:
        return []
    done = sorted(set(history.done_on))
    # The first date that people were shown counted from the fit, so the first time it was done is held against it.
    begin = history.element_on or min([*done[:1], *([history.fitted_on] if history.fitted_on else [])], default=None)
    if begin is None:
        return []
    anchor, count = begin, 1
    # How old an element may be is its condition, so it counts from the day it was fitted, whatever the mode.
    for done_on in [] if history.element_on else [on for on in done if on > begin]:
        if rule.mode != FIXED and done_on == history.installed_on:
            anchor, count = done_on, 1
        else:
            anchor, count = next_count(rule, anchor, count, done_on)
    skipped = history.skipped_until
    while skipped is not None and slot(rule.every, anchor, count, rule.window_share).due_on <= skipped:
        count += 1
    here = slot(rule.every, anchor, count, rule.window_share)
    numbers: dict[str, Any] = {
        "every_months": rule.every.months or None,
        "every_days": rule.every.days or None,
        "mode": FLOATING if history.element_on else rule.mode,
        "counts_from": rule.every.after(anchor, count - 1).isoformat(),
    }
    if skipped is not None and skipped == rule.every.after(anchor, count - 1):
        numbers["skipped_until"] = skipped.isoformat()
    if history.element_on:
        numbers["element_on"] = begin.isoformat()
    elif done:
        numbers["last_done_on"] = done[-1].isoformat()
    else:
        numbers["fitted_on"] = begin.isoformat()
    return [Due(here.opens_on, here.due_on, here.closes_on, ELEMENT_AGE if history.element_on else POLICY, numbers)]


def _run_hours(rule: Rule, history: History, running: Running, today: date) -> list[Due]:
    """Every so many run hours since it was last done. Standby and a meter that was never read give no date."""
    begin = history.element_on or history.begins_on
    if rule.every_hours is None or begin is None:
        return []
    if history.skipped_on is not None:
        begin = max(begin, history.skipped_on)
    due_on, per_day = reaches_on(running, begin, rule.every_hours), rate(running)
    if due_on is None or per_day is None:
        return []
    due_on = max(due_on, begin + timedelta(days=1))
    numbers = {
        "every_hours": rule.every_hours,
        "hours_from": begin.isoformat(),
        "run_hours_per_day": round(per_day, 1),
    } | _if_estimated(running, today)
    window = around(due_on, (due_on - begin).days, rule.window_share)
    return [Due(window.opens_on, due_on, window.closes_on, RUN_HOURS, numbers)]


def _by_drift(rule: Rule, history: History, drift: Drift | None) -> list[Due]:
    """By how fast the coupling drifts. It always counts from how it was last left, and has no days of grace.

    What somebody left out stays left out until the coupling is measured again.
    """
    if drift is None or (drift.by == "longest" and not drift.grows):
        return []
    skipped = history.skipped_until
    if skipped is not None and drift.due_on <= skipped and drift.left_on <= (history.skipped_on or skipped):
        return []
    due_on = max(drift.due_on, drift.left_on + timedelta(days=1))
    window = around(due_on, (due_on - drift.left_on).days, rule.window_share)
    return [Due(window.opens_on, due_on, due_on, DRIFT, dict(drift.numbers))]


def _by_life(rule: Rule, history: History, life: Life | None) -> list[Due]:
    """By how long elements of its kind live. What somebody left out stays left out until it is looked at again."""
    if life is None:
        return []
    skipped = history.skipped_until
    if skipped is not None and life.due_on <= skipped and life.from_on <= (history.skipped_on or skipped):
        return []
    due_on = max(life.due_on, life.from_on + timedelta(days=1))
    window = around(due_on, (due_on - life.from_on).days, rule.window_share)
    return [Due(window.opens_on, due_on, due_on, ELEMENT_LIFE, dict(life.numbers))]


def _lost(rule: Rule, history: History, running: Running) -> list[Due]:
    """Fasteners that had lost are checked once more after the same running as the first time, until they hold."""
    on = history.lost_on
    if on is None or (rule.first_days is None and rule.first_hours is None):
        return []
    numbers: dict[str, Any] = {"lost_on": on.isoformat()}
    days = on + timedelta(days=rule.first_days) if rule.first_days is not None else None
    hours_on = reaches_on(running, on, rule.first_hours) if rule.first_hours is not None else None
    per_day = rate(running)
    if hours_on is not None and per_day is not None and (days is None or hours_on < days):
        due_on = max(hours_on, on + timedelta(days=1))
        numbers |= {"lost_hours": rule.first_hours, "lost_hours_per_day": round(per_day, 1)}
    elif days is not None:
        due_on = days
        numbers["lost_days"] = rule.first_days
    else:
        return []
    window = around(due_on, (due_on - on).days, rule.window_share)
    return [Due(window.opens_on, due_on, window.closes_on, LOST, numbers)]


def _if_estimated(running: Running, today: date) -> dict[str, Any]:
    if not estimated(running, today):
        return {}
    return {"hours_estimated": True, "last_reading_on": running.last_on.isoformat() if running.last_on else None}


def follow_up(rule: Rule, found: list[dict[str, Any]]) -> Due | None:
    """The check that findings ask for: so many days after the oldest of them that still stands.

    Parameters
    ----------
    rule : Rule
        Its `first_days` are the days after the finding.
    found : list of dict
        Each with "flag", "kind" and "on", the day as text.

    Returns
    -------
    Due or None
        None where nothing was found, or the policy gives no days. Its window is open from the day of the finding.
    """
    if not found or rule.first_days is None:
        return None
    first_on = date.fromisoformat(min(one["on"] for one in found))
    due_on = first_on + timedelta(days=rule.first_days)
    return Due(first_on, due_on, due_on, FINDING, {"found": found, "first_days": rule.first_days})
