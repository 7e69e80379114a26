"""Run hours on the calendar: how fast a machine has been running, and when it will have run so many hours more."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import floor, isfinite

RECENT_DAYS = 90
YEAR_DAYS = 365
HARDLY_RAN_DAYS = 10  # of running in the last 90; below it the year's rate counts too
SILENT_DAYS = 60  # without a reading; from here on hours are estimated
HORIZON_DAYS = 20 * 365  # a date further away says no more than "not by hours"


@dataclass(frozen=True)
class Running:
    """What the hour meter of one train has shown.

    Parameters
    ----------
    days : sequence of float
        When each reading was taken: the site's own day as a proleptic ordinal, with its fraction. Ascending. [day]
    hours : sequence of float
        What the meter showed, offsets of replaced meters added. A step backward counts as no running: the meter was
        replaced or misread, and usage is never negative. [h]
    """

    days: tuple[float, ...] = ()
    hours: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if len(self.days) != len(self.hours):
            raise ValueError("There must be one time for each meter reading.")
        if any(not isfinite(value) for value in (*self.days, *self.hours)):
            raise ValueError("A meter reading is not finite.")
        if any(later < earlier for earlier, later in zip(self.days, self.days[1:], strict=False)):
            raise ValueError("Meter readings must be in order of time.")

    @property
    def known(self) -> bool:
        """Whether two readings at different times say anything about the rate."""
        return len(self.days) > 1 and self.days[-1] > self.days[0]

    @property
    def last_on(self) -> date | None:
        return date.fromordinal(floor(self.days[-1])) if self.days else None

    def ran(self) -> list[float]:
        """Hours run since the first reading, at each reading. [h]"""
        total, sums = 0.0, []
        for index, shown in enumerate(self.hours):
            total += max(0.0, shown - self.hours[index - 1]) if index else 0.0
            sums.append(total)
        return sums


def rate(running: Running) -> float | None:
    """Run hours per day lately: the last 90 days, shrunk to the year's where the machine hardly ran.

    Returns
    -------
    float or None
        Never negative; None when fewer than two readings say nothing. [h/day]

    Notes
    -----
    Counted back from the last reading, so that silence since then is not taken for standstill. Below ten days of
    running (240 h) in 90 days, the weight of the 90 days falls in proportion.

    References
    ----------
    Common practice; the shrinkage is our own way of saying "hardly ran" without a step.
    """
    if not running.known:
        return None
    recent, ran_h = _mean_rate(running, RECENT_DAYS)
    year, _ = _mean_rate(running, YEAR_DAYS)
    weight = min(1.0, ran_h / (HARDLY_RAN_DAYS * 24))
    return min(24.0, weight * recent + (1 - weight) * year)


def days_until(left_h: float, rate_h_per_day: float | None) -> float | None:
    """Days until so many hours more have been run.

    Returns
    -------
    float or None
        0 when nothing is left; None when the machine stands, or would take longer than twenty years: standby gives no
        date rather than an infinite one. [day]
    """
    if left_h <= 0:
        return 0.0
    if not rate_h_per_day or rate_h_per_day <= 0:
        return None
    days = left_h / rate_h_per_day
    return days if days <= HORIZON_DAYS else None


def whichever_first(
    calendar_days: float, hour_limit_h: float, hours_since_h: float, rate_h_per_day: float | None
) -> tuple[float, str]:
    """The earlier of a number of days and a number of run hours.

    Returns
    -------
    tuple of float and str
        Days from now, and which of "calendar" and "hours" it was.

    References
    ----------
    Common practice: whichever comes first.
    """
    by_hours = days_until(hour_limit_h - hours_since_h, rate_h_per_day)
    if by_hours is not None and by_hours < calendar_days:
        return by_hours, "hours"
    return calendar_days, "calendar"


def reaches_on(running: Running, since: date, hours: float) -> date | None:
    """The day on which a machine has run so many hours since the end of a day.

    Parameters
    ----------
    running : Running
    since : date
        Hours count from the end of this day: the machine was being worked on.
    hours : float
        Run hours asked for. [h]

    Returns
    -------
    date or None
        From readings where they reach that far, else at the recent rate from the last of them; None when nothing is
        known of its running or it stands.
    """
    per_day = rate(running)
    if per_day is None:
        return None
    start = since.toordinal() + 1.0
    wanted = _ran_at(running, start, per_day) + hours
    sums = running.ran()
    for index in range(1, len(sums)):
        if sums[index] >= wanted and running.days[index] > start:
            before, after = sums[index - 1], sums[index]
            share = 1.0 if after == before else max(0.0, (wanted - before) / (after - before))
            crossed = running.days[index - 1] + share * (running.days[index] - running.days[index - 1])
            return date.fromordinal(max(since.toordinal(), floor(crossed)))
    base = max(running.days[-1], start)
    more = days_until(wanted - _ran_at(running, base, per_day), per_day)
    return None if more is None else date.fromordinal(floor(base + more))


def counted(running: Running, day: float) -> float | None:
    """Hours run since the first reading of the meter, at one moment.

    Parameters
    ----------
    running : Running
    day : float
        As in `Running`. [day]

    Returns
    -------
    float or None
        Between two readings in proportion; up to 60 days before the first and after the last at the recent rate; None
        beyond that, and where readings say no rate. [h]

    References
    ----------
    Common practice.
    """
    per_day = rate(running)
    if per_day is None or not running.days[0] - SILENT_DAYS <= day <= running.days[-1] + SILENT_DAYS:
        return None
    return _ran_at(running, day, per_day)


def estimated(running: Running, today: date) -> bool:
    """Whether hours are only estimated: no reading for 60 days."""
    return running.last_on is None or (today - running.last_on).days >= SILENT_DAYS


def _mean_rate(running: Running, days: float) -> tuple[float, float]:
    """Rate over the last so many days that readings cover, and the hours run in them."""
    end = running.days[-1]
    begin = max(running.days[0], end - days)
    ran = running.ran()[-1] - _ran_at(running, begin, 0.0)
    return ran / (end - begin), ran


def _ran_at(running: Running, day: float, per_day: float) -> float:
    """Hours run since the first reading at one moment; before and after the readings at the rate given."""
    days, sums = running.days, running.ran()
    if day <= days[0]:
        return (day - days[0]) * per_day
    if day >= days[-1]:
        return sums[-1] + (day - days[-1]) * per_day
    for index in range(1, len(days)):
        if day <= days[index]:
            span = days[index] - days[index - 1]
            share = 1.0 if span == 0 else (day - days[index - 1]) / span
            return sums[index - 1] + share * (sums[index] - sums[index - 1])
    raise AssertionError("a day between the first and the last reading lies between two of them")


def readings(pairs: Sequence[tuple[float, float]]) -> Running:
    """Readings in any order, as (day, hours) pairs."""
    ordered = sorted(pairs)
    return Running(tuple(day for day, _ in ordered), tuple(hours for _, hours in ordered))
