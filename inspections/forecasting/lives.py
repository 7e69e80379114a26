"""Lives of elements as they are known: some to the day, some between two looks, some still running.

`high` is infinite for a life that has not ended in failure, `low` is 0 for one that was over at the first look. A life
whose record began late counts from its `entry`: had it failed before, nobody would know of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from inspections.forecasting.legs import Bools, Floats, ForecastError

EXACT, INTERVAL, LEFT, RIGHT = "exact", "interval", "left", "right"


@dataclass(frozen=True, eq=False)
class Lives:
    """n lives of one type on one clock, in any one unit of time.

    Attributes
    ----------
    low, high : ndarray, shape (n,)
        Known to be sound at `low`, known to have failed at `high`; equal for a failure seen when it happened. [time]
    count : ndarray, shape (n,)
        How many elements had this life. [1]
    entry : ndarray, shape (n,)
        Age when its record began; 0 where it was there from the first day. [time]
    """

    low: Floats
    high: Floats
    count: Floats
    entry: Floats

    def __len__(self) -> int:
        return len(self.low)

    @property
    def failed(self) -> Bools:
        return np.isfinite(self.high)

    @property
    def failures(self) -> float:
        """How many elements failed."""
        return float(self.count[self.failed].sum())

    @property
    def elements(self) -> float:
        return float(self.count.sum())

    @property
    def seen_at(self) -> Floats:
        """Age at which each life was last looked at: the failure when it was found, else the age now."""
        return np.where(self.failed, self.high, self.low)

    @property
    def observed(self) -> float:
        """Time all elements were watched together, failures counted until they were found. [time]"""
        return float((self.count * (self.seen_at - self.entry)).sum())

    @property
    def known_to_the_day(self) -> bool:
        """Whether no failure lies between two looks."""
        return bool((self.low == self.high)[self.failed].all())


def lives(low: ArrayLike, high: ArrayLike, count: ArrayLike | None = None, entry: ArrayLike | None = None) -> Lives:
    """Lives from plain columns.

    Parameters
    ----------
    low, high : array_like, shape (n,)
        As in `Lives`; nan or infinity in `high` means not failed. [time]
    count : array_like, optional
        Whole or not; 1 unless given. [1]
    entry : array_like, optional
        0 unless given. [time]

    Returns
    -------
    Lives

    Raises
    ------
    ForecastError
        By column: a negative or infinite age, a failure before the last sound look or at age 0, a count that is not
        above zero, an entry after the last look or beside a life that was over at the first look.

    References
    ----------
    W. Q. Meeker and L. A. Escobar, Statistical Methods for Reliability Data, 1998, ch. 2 (kinds of censoring) and 11
    (delayed entry), from memory.
    """
    bottom = np.atleast_1d(np.asarray(low, dtype=float))
    top = np.atleast_1d(np.asarray(high, dtype=float))
    n = len(bottom)
    top = np.where(np.isnan(top), np.inf, top)
    many = np.ones(n) if count is None else np.broadcast_to(np.asarray(count, dtype=float), (n,)).copy()
    start = np.zeros(n) if entry is None else np.broadcast_to(np.asarray(entry, dtype=float), (n,)).copy()
    if top.shape != bottom.shape:
        raise ForecastError("high", "There must be one upper age for each lower one.")
    if not (np.isfinite(bottom).all() and (bottom >= 0).all()):
        raise ForecastError("low", "An age is a number from zero up.")
    if not ((top >= bottom) & (top > 0)).all():
        raise ForecastError("high", "A failure lies after the last look that found the element sound, above age 0.")
    if not (np.isfinite(many).all() and (many > 0).all()):
        raise ForecastError("count", "A count is a number above zero.")
    if not (np.isfinite(start).all() and (start >= 0).all() and (start <= np.where(top == bottom, top, bottom)).all()):
        raise ForecastError("entry", "A record begins at an age from zero up, before the last sound look.")
    if (np.isfinite(top) & (top == bottom) & (start == top)).any():
        raise ForecastError("entry", "A record that begins at the failure itself tells nothing.")
    return Lives(bottom, top, many, start)


def joined(parts: Sequence[Lives]) -> Lives:
    """All lives of several types as one.

    Parameters
    ----------
    parts : sequence of Lives
        In one unit. [time]

    Returns
    -------
    Lives

    References
    ----------
    Common practice.
    """
    columns = ("low", "high", "count", "entry")
    return Lives(*(np.concatenate([getattr(one, name) for one in parts] or [np.zeros(0)]) for name in columns))


def kinds(given: Lives) -> list[str]:
    """How each life is known: exact, interval, left or right.

    Parameters
    ----------
    given : Lives
        [time]

    Returns
    -------
    list of str

    References
    ----------
    The usual four kinds of censoring.
    """
    found = []
    for low, high in zip(given.low, given.high, strict=True):
        found.append(RIGHT if np.isinf(high) else EXACT if low == high else LEFT if low == 0 else INTERVAL)
    return found
