"""What follows from a belief for the calendar: the chance of being out by each day, the pace, the next check's date.

Times here are days since a coupling was last left; the clock of its group is brought to the calendar by how many of
its years pass in one of the calendar's.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from inspections.forecasting.envelope import Envelope, used
from inspections.forecasting.forecast import (
    BY_LONGEST,
    BY_RISK,
    BY_SHORTEST,
    UNKNOWN,
    straight_line,
    straight_rates,
    tolerance_used,
    within_risk,
)
from inspections.forecasting.legs import YEAR_DAYS, Floats, ForecastError, Legs
from inspections.forecasting.passage import Draws, exceedance
from inspections.forecasting.posterior import Belief

HORIZON_YEARS = 5.0
SLOWEST = 1e-3  # clock years in a calendar year of a train that stands still: it does not drift while it stands
SHORTEST_DAYS, YEAR_AT_MOST = 30, 3650
# Our own proposals: a pace worth saying, and how sure it has to be that there is one.
FAST_SHARE, FAST_CHANCE = 0.5, 0.05

__all__ = [
    "BY_LONGEST", "BY_RISK", "BY_SHORTEST", "FAST_CHANCE", "FAST_SHARE", "HORIZON_YEARS", "SHORTEST_DAYS", "UNKNOWN",
    "Outlook", "by_day", "longest_interval", "next_check", "outlook", "pace",
]  # fmt: skip


@dataclass(frozen=True, eq=False)
class Outlook:
    """Of n couplings.

    `days`, `chance` (n, steps + 1): since it was left [day], and of having been out of tolerance by then; `left`
    (n, 3): tolerance used as left, middle and 90 % interval; `straight` (n,): when a straight line reaches 70 % of the
    tolerance, inf beyond twenty years, nan where nothing is known [day].
    """

    days: Floats
    chance: Floats
    left: Floats
    straight: Floats


def outlook(
    belief: Belief, limits: Envelope, legs: Legs, leg_years: Floats, years_a_year: ArrayLike, shared: Draws
) -> Outlook:
    """The calendar of every coupling.

    Parameters
    ----------
    belief : Belief
        n couplings.
    limits : Envelope
        Of the same.
    legs : Legs
        All legs used, widened or not. [mm, mm, mrad, mrad]
    leg_years : ndarray
        Their lengths on the clock of each group. [year]
    years_a_year : array_like, shape (n,)
        Clock years that pass in a calendar year; 1 for the calendar itself.
    shared : Draws

    Returns
    -------
    Outlook

    Raises
    ------
    ForecastError
        A clock that runs backwards or is not known.

    References
    ----------
    As `passage.exceedance` and `forecast`.
    """
    n = len(belief)
    clock = np.array(np.broadcast_to(np.asarray(years_a_year, dtype=float), (n,)))
    if not (np.isfinite(clock) & (clock >= 0)).all():
        raise ForecastError("clock", "How fast the clock runs must be a finite number that is not below zero.")
    clock = np.maximum(clock, SLOWEST)
    times, chance = exceedance(belief, limits, HORIZON_YEARS * clock, shared)
    straight = straight_line(belief.position, straight_rates(legs, leg_years, n), limits)
    return Outlook(
        times / clock[:, None] * YEAR_DAYS,
        chance,
        tolerance_used(belief, limits, np.zeros(n), shared),
        straight / clock * YEAR_DAYS,
    )


def pace(belief: Belief, limits: Envelope, years_a_year: ArrayLike = 1.0) -> tuple[Floats, Floats]:
    """How much of the tolerance each mean rate uses in a calendar year, and the chance of such rates without drift.

    Parameters
    ----------
    belief : Belief
    limits : Envelope
    years_a_year : array_like, shape (n,)
        Clock years in a calendar year.

    Returns
    -------
    share, chance : ndarray, shape (n,)
        [1/year]; chi-square probability of the four rates over their standard deviations. nan without limits.

    References
    ----------
    Chi-square test with four degrees of freedom; our own use of it.
    """
    clock = np.maximum(np.broadcast_to(np.asarray(years_a_year, dtype=float), (len(belief),)), SLOWEST)
    share = np.where(limits.known, used(limits, (belief.rate * clock).T), np.nan)
    square = np.sum(belief.rate**2 / np.maximum(belief.rate_variance, 1e-15), axis=0)
    return share, np.where(limits.known, special.chdtrc(4, square), np.nan)


def longest_interval(every: float | None, longest: float | None, legs: int, longest_leg: float) -> tuple[float, bool]:
    """How long a forecast may let a check wait, and whether that is longer than the policy's interval.

    Parameters
    ----------
    every : float or None
        The policy's regular interval. [day]
    longest : float or None
        The longest a site allows where the records bear it out; None lets it never grow. [day]
    legs : int
        Own legs.
    longest_leg : float
        [day]

    Returns
    -------
    (days, grows) : tuple of float and bool

    References
    ----------
    Our own proposal: an interval grows only with what was seen, at most to twice the longest leg, past which a forecast
    is extrapolation.
    """
    regular = every if every is not None else longest if longest is not None else HORIZON_YEARS * YEAR_DAYS
    if every is None or longest is None or legs == 0:
        return regular, False
    grown = min(longest, max(regular, 2 * longest_leg))
    return grown, grown > regular


def next_check(days: ArrayLike, chance: ArrayLike, risk: float, shortest: float, longest: float) -> tuple[float, str]:
    """Last day on which one coupling is within the accepted risk, inside the site's bounds.

    Parameters
    ----------
    days, chance : array_like, shape (steps + 1,)
        Of `outlook`. [day], [1]
    risk : float
        Between 0 and 1.
    shortest, longest : float
        [day]

    Returns
    -------
    (days, code)
        As `forecast.within_risk`; nan and 'unknown' where there is no forecast. [day]

    Raises
    ------
    ForecastError
        A risk outside (0, 1), a shortest interval above the longest.

    References
    ----------
    As `forecast.within_risk`.
    """
    if not len(np.atleast_1d(np.asarray(days))):
        return float("nan"), UNKNOWN
    times, curve = np.asarray(days, dtype=float)[None], np.asarray(chance, dtype=float)[None]
    found, code = within_risk(times, curve, [risk], [shortest], [longest])
    return float(found[0]), str(code[0])


def by_day(days: ArrayLike, chance: ArrayLike, after: float) -> float:
    """Chance of having been out of tolerance within so many days, read off `outlook` for one coupling.

    Parameters
    ----------
    days, chance : array_like, shape (steps + 1,)
        [day], [1]
    after : float
        Since it was left; the last value stands beyond the end. [day]

    Returns
    -------
    float
        Linear between the steps.

    References
    ----------
    Common practice.
    """
    return float(np.interp(after, np.asarray(days, dtype=float), np.asarray(chance, dtype=float)))
