"""Months, windows and policy modes: when an interval that was counted so often ends, and what is inside its window.

All month arithmetic of the program is here, so that both databases give the same day.
"""

from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta
from math import floor

FIXED, FLOATING, WINDOW = "fixed", "floating", "window"


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
    every_hours : float or None
        Of running since it was last done; always from the day it was done, as all dates by condition are. [h]
    """

    every: Interval | None = None
    mode: str = WINDOW
    window_share: float = 0.1
    first_days: int | None = None
    first_hours: float | None = None
    every_hours: float | None = None

    def __post_init__(self) -> None:
        if self.mode not in (FIXED, FLOATING, WINDOW):
            raise ValueError(f"{self.mode} is not a policy mode.")
        if not 0 <= self.window_share <= 0.5:
            raise ValueError("A window is at most half an interval to each side.")


@dataclass(frozen=True)
class Slot:
    """A due date with its window, both ends included."""

    opens_on: date
    due_on: date
    closes_on: date


def around(due_on: date, length_days: int, share: float) -> Slot:
    """The window of a due date: a share of the interval before and after, in whole days.

    Parameters
    ----------
    due_on : date
    length_days : int
        Of the interval that ends there. [day]
    share : float
        Of the interval, to each side. [1]

    Returns
    -------
    Slot
        Rounded down to whole days on both sides.

    References
    ----------
    DA Pam 750-8 as explained in PS Magazine TB 43-PS-636 p. 31: 10 % of 180 days, due 17 April 2006, is 30 March to
    5 May 2006.
    """
    margin = timedelta(days=floor(length_days * share + 1e-9))
    return Slot(due_on - margin, due_on, due_on + margin)


def slot(interval: Interval, anchor: date, count: int, share: float) -> Slot:
    """The due date `count` intervals after the anchor, with the window of the interval that ends there.

    Parameters
    ----------
    interval : Interval
    anchor : date
        Where the counting began.
    count : int
        Intervals since then, 1 or more.
    share : float
        Of the interval, to each side. [1]

    Returns
    -------
    Slot

    References
    ----------
    Common practice: counted from the anchor, so that month ends do not creep. The window: see `around`.
    """
    due_on = interval.after(anchor, count)
    return around(due_on, (due_on - interval.after(anchor, count - 1)).days, share)


def state_of(today: date, opens_on: date, closes_on: date) -> str:
    """Not due, due (the window is open) or overdue (after its last day). Never stored: it changes by itself.

    Parameters
    ----------
    today : date
        The site's own day.
    opens_on, closes_on : date
        The window, both ends included.

    Returns
    -------
    str
        "not due", "due" or "overdue".

    References
    ----------
    Common practice.
    """
    if today < opens_on:
        return "not due"
    return "overdue" if today > closes_on else "due"


def next_count(rule: Rule, anchor: date, count: int, done_on: date) -> tuple[date, int]:
    """Where the count stands after the check was done: its anchor, and how many intervals on the next one is due.

    Parameters
    ----------
    rule : Rule
        With a regular interval.
    anchor : date
        Where the counting began.
    count : int
        Of intervals, at the check that was done.
    done_on : date

    Returns
    -------
    (date, int)
        The anchor from now on, and the intervals from it to the next due date.

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
