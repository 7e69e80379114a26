"""When the next check of one kind at one coupling is due, which trigger says so, and what else would have said.

All month arithmetic of the program is here, so that both databases give the same day.
"""

from calendar import monthrange
from dataclasses import dataclass, field
from datetime import date, timedelta
from math import floor
from typing import Any

from inspections.forecasting.running import Running, estimated, rate, reaches_on

FIXED, FLOATING, WINDOW = "fixed", "floating", "window"
FIRST_DAYS, FIRST_HOURS, POLICY = "first-days", "first-hours", "policy"


@dataclass(frozen=True)
class Interval:
    """A whole number of months or of days, never both."""

    months: int = 0
    days: int = 0

    def __post_init__(self) -> None:
        if (self.months > 0) == (self.days > 0) or self.months < 0 or self.days < 0:
            raise ValueError("An interval is a positive number of months or of days.")

    def after(self, anchor: date, count: int = 1) -> date:
        """The anchor's day `count` intervals on; a day the month does not have becomes its last.

        Always counted from the anchor in one step, so that the 31st comes back after a short month.
        """
        if self.days:
            return anchor + timedelta(days=self.days * count)
        month = anchor.year * 12 + anchor.month - 1 + self.months * count
        year, month = divmod(month, 12)
        return date(year, month + 1, min(anchor.day, monthrange(year, month + 1)[1]))


@dataclass(frozen=True)
class Rule:
    """What a policy asks for one kind of check.

    Parameters
    ----------
    every : Interval or None
        The regular interval.
    mode : str
        "fixed": the calendar stands; "floating": counts from the day it was done; "window": fixed in window, done
        inside the window counts from the due date, outside from the day it was done.
    window_share : float
        Of the interval, before and after the due date.
    first_days : int or None
        After an installation. [day]
    first_hours : float or None
        Of running after an installation; whichever comes first. [h]
    """

    every: Interval | None = None
    mode: str = WINDOW
    window_share: float = 0.1
    first_days: int | None = None
    first_hours: float | None = None

    def __post_init__(self) -> None:
        if self.mode not in (FIXED, FLOATING, WINDOW):
            raise ValueError(f"{self.mode} is not a policy mode.")
        if not 0 <= self.window_share <= 0.5:
            raise ValueError("A window is at most half an interval to each side.")


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
        Whether the first-running check of that installation has been settled; it then stays so, whatever later meter
        readings say.
    """

    done_on: tuple[date, ...] = ()
    installed_on: date | None = None
    fitted_on: date | None = None
    first_done: bool = False


@dataclass(frozen=True)
class Slot:
    """A due date with its window, both ends included."""

    opens_on: date
    due_on: date
    closes_on: date


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


def around(due_on: date, length_days: int, share: float) -> Slot:
    """The window of a due date: a share of the interval before and after, in whole days.

    References
    ----------
    DA Pam 750-8 as explained in PS Magazine TB 43-PS-636 p. 31: 10 % of 180 days, due 17 April 2006, is 30 March to
    5 May 2006.
    """
    margin = timedelta(days=floor(length_days * share + 1e-9))
    return Slot(due_on - margin, due_on, due_on + margin)


def slot(interval: Interval, anchor: date, count: int, share: float) -> Slot:
    """The due date `count` intervals after the anchor, with the window of the interval that ends there."""
    due_on = interval.after(anchor, count)
    return around(due_on, (due_on - interval.after(anchor, count - 1)).days, share)


def state_of(today: date, opens_on: date, closes_on: date) -> str:
    """Not due, due (the window is open) or overdue (after its last day). Never stored: it changes by itself."""
    if today < opens_on:
        return "not due"
    return "overdue" if today > closes_on else "due"


def next_count(rule: Rule, anchor: date, count: int, done_on: date) -> tuple[date, int]:
    """Where the count stands after the check was done: its anchor, and how many intervals on the next one is due.

    Notes
    -----
    Fixed: the calendar stands. A slot is served once its window is open; done before that, it stays due, and slots
    that have passed are skipped, so that nothing is ever scheduled into the past.

    References
    ----------
    Fixed in window: DA Pam 750-8 (done inside the window is recorded on the scheduled date, outside on the actual
    date). Fixed and floating: common practice.
    """
    assert rule.every is not None
    if rule.mode == FLOATING:
        return done_on, 1
    here = slot(rule.every, anchor, count, rule.window_share)
    if rule.mode == FIXED:
        while slot(rule.every, anchor, count, rule.window_share).opens_on <= done_on:
            count += 1
        return anchor, count
    if here.opens_on <= done_on <= here.closes_on:
        return anchor, count + 1
    return done_on, 1


def next_due(rule: Rule, history: History, running: Running, today: date) -> Due | None:
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

    Returns
    -------
    Due or None
        None when no trigger asks for the check.
    """
    found = [*_first_running(rule, history, running, today), *_regular(rule, history)]
    if not found:
        return None
    found.sort(key=lambda one: one.due_on)
    won = found[0]
    if len(found) == 1:
        return won
    second = found[1]
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
    """Once after an installation: so many days or run hours, whichever comes first.

    A visit before its window opens does not settle it: the machine has not done its first running yet.
    """
    installed_on = history.installed_on
    if installed_on is None or history.first_done or (rule.first_days is None and rule.first_hours is None):
        return []
    numbers: dict[str, Any] = {"installed_on": installed_on.isoformat()}
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
            if estimated(running, today):
                last_on = running.last_on
                numbers |= {"hours_estimated": True, "last_reading_on": last_on.isoformat() if last_on else None}
            ends.append((hours_on, FIRST_HOURS))
    dues = []
    for due_on, code in sorted(ends):
        window = around(due_on, (due_on - installed_on).days, rule.window_share)
        dues.append(Due(window.opens_on, due_on, window.closes_on, code, numbers))
    if dues and any(done_on > installed_on and done_on >= dues[0].opens_on for done_on in history.done_on):
        return []
    return dues


def _regular(rule: Rule, history: History) -> list[Due]:
    """The policy's interval, counted through everything that was done."""
    if rule.every is None:
        return []
    done = sorted(set(history.done_on))
    begin = done[0] if done else history.fitted_on
    if begin is None:
        return []
    anchor, count = begin, 1
    for done_on in done[1:]:
        if rule.mode != FIXED and done_on == history.installed_on:
            anchor, count = done_on, 1
        else:
            anchor, count = next_count(rule, anchor, count, done_on)
    here = slot(rule.every, anchor, count, rule.window_share)
    numbers: dict[str, Any] = {
        "every_months": rule.every.months or None,
        "every_days": rule.every.days or None,
        "mode": rule.mode,
        "counts_from": rule.every.after(anchor, count - 1).isoformat(),
    }
    if done:
        numbers["last_done_on"] = done[-1].isoformat()
    else:
        numbers["fitted_on"] = begin.isoformat()
    return [Due(here.opens_on, here.due_on, here.closes_on, POLICY, numbers)]
