"""Lubricant of gear, grid and chain couplings: by name, quantity, interval and the state of the old grease."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from couplings.engineering.ageing import years_later

HOURS_PER_MONTH = 730.0  # 8760 / 12, running without a stop
_MONTHS_AT_MOST = 600.0


class LubricationError(ValueError):
    """A quantity or interval that cannot be used; `field` names it."""

    def __init__(self, field: str, message: str) -> None:
        self.field, self.message = field, message
        super().__init__(f"{field}: {message}")


@dataclass(frozen=True)
class Lubricant:
    """What the data sheet asks for, by its name. [g] of one fill, [month] and running [hour] between fills"""

    name: str
    quantity_g: float | None = None
    every_months: float | None = None
    every_hours: float | None = None


@dataclass(frozen=True)
class GreaseState:
    """A state of the old grease as it is found, with its wear grade 0 to 4."""

    code: str
    title: str
    grade: int
    source: str = "common practice"


@dataclass(frozen=True)
class IntervalRow:
    """Usual months between fills of a sort of grease. [month]"""

    grease: str
    low_months: float
    high_months: float
    source: str
    mark: str


@dataclass(frozen=True)
class LubricationDue:
    """When the next fill is due, by which of the intervals, and what is overdue. [hour]

    `due_on` is None where no interval of months is known; `hours_left` is negative when overdue.
    """

    due_on: date | None
    hours_left: float | None
    verdict: str
    reason: str


# AGMA 9001-B97 names the greases CG-1 to CG-3; its intervals are not public.
INTERVALS: tuple[IntervalRow, ...] = (
    IntervalRow("coupling_grease", 6, 12, "common practice", "common practice"),
    IntervalRow("long_term_grease", 24, 36, "from memory: greases of the sort AGMA 9001-B97 calls CG-3", "memory"),
)
GREASE_STATES: tuple[GreaseState, ...] = (
    GreaseState("as-filled", "Smooth and evenly coloured, as it was filled", 0),
    GreaseState("darkened", "Darker, still smooth and in place", 1),
    GreaseState("separated", "Oil and soap have parted, or hard cake outside and oil inside", 2),
    GreaseState("water", "Milky or with drops: water has come in", 3),
    GreaseState("metal", "Glitters or feels gritty: metal in the grease", 3),
    GreaseState("dry", "Dry or gone where teeth, grid or rollers meet", 3),
    GreaseState("burnt", "Burnt, with parts blued", 4),
)


def interval_months(grease: str, rows: Sequence[IntervalRow] = INTERVALS) -> tuple[float, float]:
    """Usual months between fills; the data sheet's own interval goes before it.

    Parameters
    ----------
    grease : str
        'coupling_grease' or 'long_term_grease' in the starter.
    rows : sequence of IntervalRow
        Starter or the site's own. [month]

    Returns
    -------
    (low, high)
        [month]

    Raises
    ------
    LubricationError
        A sort without a row.

    References
    ----------
    Common practice, and from memory for long-term greases; see the row.
    """
    for row in rows:
        if row.grease == grease:
            return row.low_months, row.high_months
    raise LubricationError("grease", f"Choose one of: {', '.join(row.grease for row in rows)}.")


def months_of_running(hours: float) -> float:
    """Running hours as months of running without a stop.

    Parameters
    ----------
    hours : float
        [hour]

    Returns
    -------
    float
        730 hours to the month. [month]

    Raises
    ------
    LubricationError
        Hours that are not finite or are negative.

    References
    ----------
    8760 hours a year, twelve months.
    """
    if not math.isfinite(hours) or hours < 0:
        raise LubricationError("hours", "Hours must be finite and not negative.")
    return hours / HOURS_PER_MONTH


def grease_state(code: str, rows: Sequence[GreaseState] = GREASE_STATES) -> GreaseState:
    """The row of a grease state.

    Parameters
    ----------
    code : str
        One of the table's.
    rows : sequence of GreaseState
        Starter or the site's own.

    Returns
    -------
    GreaseState
        With its grade.

    Raises
    ------
    LubricationError
        A code without a row.

    References
    ----------
    Common practice.
    """
    for row in rows:
        if row.code == code:
            return row
    raise LubricationError("grease_state", f"Choose one of: {', '.join(row.code for row in rows)}.")


def lubrication_due(
    lubricant: Lubricant, filled_on: date, on: date, hours_since: float | None = None
) -> LubricationDue:
    """Whether the next fill is due, by the calendar or by running hours, whichever comes first.

    Parameters
    ----------
    lubricant : Lubricant
        With its intervals. [month], [hour]
    filled_on, on : date
        Last fill, and the day asked about.
    hours_since : float, optional
        Run since the last fill. [hour]

    Returns
    -------
    LubricationDue
        Not known where no interval is given, or where hours are asked for and none are read. [hour]

    Raises
    ------
    LubricationError
        An interval or hours that are not finite or above zero, a day before the fill.

    References
    ----------
    Common practice.
    """
    if on < filled_on:
        raise LubricationError("filled_on", "The last fill lies after the day asked about.")
    months, hours = lubricant.every_months, lubricant.every_hours
    for field, interval in (("every_months", months), ("every_hours", hours)):
        if interval is not None and (not math.isfinite(interval) or interval <= 0):
            raise LubricationError(field, "An interval must be a finite number above zero.")
    if months is not None and months > _MONTHS_AT_MOST:
        raise LubricationError("every_months", "An interval of more than fifty years cannot be meant.")
    if hours_since is not None and (not math.isfinite(hours_since) or hours_since < 0):
        raise LubricationError("hours_since", "Hours must be finite and not negative.")
    due_on = years_later(filled_on, months / 12) if months is not None else None
    hours_left = hours - hours_since if hours is not None and hours_since is not None else None
    if (due_on is not None and on > due_on) or (hours_left is not None and hours_left < 0):
        by = "calendar" if due_on is not None and on > due_on else "running hours"
        return LubricationDue(due_on, hours_left, "out of tolerance", f"Overdue by {by}.")
    if hours is not None and hours_since is None:
        return LubricationDue(due_on, None, "not known", "The running hours since the last fill are missing.")
    if due_on is None and hours_left is None:
        return LubricationDue(None, None, "not known", "No interval is given: take the data sheet's.")
    return LubricationDue(due_on, hours_left, "in tolerance", "Within its interval.")
