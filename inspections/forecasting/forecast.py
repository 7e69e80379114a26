"""Forecasts a person can act on: tolerance used with its interval, the date a risk allows, the plain straight line."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from inspections.forecasting.envelope import Envelope, used
from inspections.forecasting.legs import Bools, Floats, ForecastError, Legs
from inspections.forecasting.passage import Draws
from inspections.forecasting.posterior import Belief

BY_RISK, BY_SHORTEST, BY_LONGEST, UNKNOWN = "risk", "shortest", "longest", "unknown"
# Chance of having left the limits before the next check, by criticality A, B, C: our own starters.
STARTER_RISKS = {"A": 0.01, "B": 0.02, "C": 0.05}
STRAIGHT_LINE_TO = 0.7
LEVELS = 6  # at which an interval may begin; with many, chance among few draws picks one too short


def tolerance_used(
    belief: Belief,
    limits: Envelope,
    years: Floats,
    shared: Draws,
    reading_variance: Floats | float = 0.0,
    share: float = 0.9,
) -> Floats:
    """Tolerance used some time after each coupling was left: middle and interval, jumps counted.

    Parameters
    ----------
    belief : Belief
        n couplings.
    limits : Envelope
        Of the same.
    years : ndarray, shape (n,)
        Since the last reading, on the clock of the group. [year]
    shared : Draws
    reading_variance : ndarray, shape (4, n), or float
        Of the next reading, for what a survey will find; 0 for what is true. [mm^2, mrad^2]
    share : float
        That the interval holds.

    Returns
    -------
    ndarray, shape (n, 3)
        Median, and low and high of the shortest interval; 1 is on a limit; nan where the position is not known or
        there are no limits.

    Raises
    ------
    ForecastError
        A share outside (0, 1).

    References
    ----------
    Shared-draw Monte Carlo; one jump at most on the way, weighted by its Poisson probability. Shortest rather than
    equal-tailed: a length has no tail below nought, and a train that moves less than feared is no surprise.
    """
    if not 0 < share < 1:
        raise ForecastError("share", "An interval holds a share between 0 and 1.")
    noise = np.broadcast_to(np.asarray(reading_variance, dtype=float), belief.position.shape)
    variance = (
        belief.position_variance
        + 2 * years * belief.together
        + years**2 * belief.rate_variance
        + belief.diffusion * years
        + noise
    )
    mean = belief.position + belief.rate * years
    result = np.full((len(belief), 3), np.nan)
    size = max(1, 200_000 // shared.paths)
    # All that spreads a component is normal and independent of the others, so one draw stands for it.
    normal = shared.path[-1].T.astype(float)
    leap = shared.jump.T.astype(float)
    known = np.flatnonzero(limits.known)
    for begin in range(0, len(known), size):
        part = known[begin : begin + size]
        spread = np.sqrt(variance[:, part]).T[:, None, :]
        calm = mean[:, part].T[:, None, :] + spread * normal
        struck = calm + np.sqrt(belief.jump_variance[:, part]).T[:, None, :] * leap
        values = np.concatenate([used(limits.taken(part), one) for one in (calm, struck)], axis=1)
        quiet = np.exp(-belief.jumps_per_year[part] * years[part])
        weights = np.repeat(np.stack([quiet, 1 - quiet], axis=1) / shared.paths, shared.paths, axis=1)
        result[part] = _shortest(values, weights, share)
    return result


def _shortest(values: Floats, weights: Floats, share: float) -> Floats:
    """Median, and the shortest interval that holds a share of weighted values at least nought."""
    order = np.argsort(values, axis=1)
    ranked = np.take_along_axis(values, order, axis=1)
    below = np.cumsum(np.take_along_axis(weights, order, axis=1), axis=1)
    lows = np.linspace(0.0, 1.0 - share, LEVELS)
    levels = np.concatenate([[0.5], lows, lows + share])
    n, many = values.shape
    # One search for all rows: each lies two above the one before.
    row = np.arange(n)[:, None]
    found = np.searchsorted((np.minimum(below, 1.5) + 2 * row).ravel(), (levels - 1e-9 + 2 * row).ravel())
    place = np.clip(found.reshape(n, -1) - many * row, 0, many - 1)
    at = np.take_along_axis(ranked, place, axis=1)
    low, high = at[:, 1 : LEVELS + 1], at[:, LEVELS + 1 :]
    low[:, 0] = np.where(np.isfinite(high[:, 0]), 0.0, np.nan)
    best = np.argmin(high - low, axis=1)[:, None]
    return np.hstack([at[:, :1], np.take_along_axis(low, best, axis=1), np.take_along_axis(high, best, axis=1)])


def chance_by(times: Floats, probability: Floats, years: Floats) -> Floats:
    """Probability of having left the limits by a time, read off `exceedance`.

    Parameters
    ----------
    times, probability : ndarray, shape (n, steps + 1)
        [year], [1]
    years : ndarray, shape (n,)
        [year] The last value stands beyond the end.

    Returns
    -------
    ndarray, shape (n,)

    References
    ----------
    Linear between the steps.
    """
    at = np.clip(years, times[:, 0], times[:, -1])
    above = np.clip((times <= at[:, None]).sum(axis=1), 1, times.shape[1] - 1)
    rows = np.arange(len(times))
    t0, t1 = times[rows, above - 1], times[rows, above]
    p0, p1 = probability[rows, above - 1], probability[rows, above]
    return np.asarray(p0 + (p1 - p0) * (at - t0) / np.where(t1 > t0, t1 - t0, 1.0))


def within_risk(
    times: Floats, probability: Floats, risk: ArrayLike, shortest: ArrayLike, longest: ArrayLike
) -> tuple[Floats, NDArray[np.str_]]:
    """Last time at which the chance of having left the limits is within the target, inside the site's bounds.

    Parameters
    ----------
    times, probability : ndarray, shape (n, steps + 1)
        Of `exceedance`. [year], [1]
    risk : array_like, shape (n,)
        By criticality, see `STARTER_RISKS`.
    shortest, longest : array_like, shape (n,)
        The site's intervals. [year]

    Returns
    -------
    years : ndarray, shape (n,)
        Since the last reading; nan where nothing is known. [year]
    code : ndarray of str, shape (n,)
        'risk', 'shortest', 'longest', or 'unknown'.

    Raises
    ------
    ForecastError
        A risk outside (0, 1), a shortest interval above the longest.

    References
    ----------
    Common practice: condition dates stay inside the policy's bounds. Linear between the steps.
    """
    n = len(times)
    target, least, most = (np.broadcast_to(np.asarray(one, dtype=float), (n,)) for one in (risk, shortest, longest))
    if not ((target > 0) & (target < 1)).all() or not (least <= most).all():
        raise ForecastError("risk", "A risk lies between 0 and 1, and the shortest interval is not above the longest.")
    over = probability > target[:, None]
    first = np.where(over.any(axis=1), over.argmax(axis=1), times.shape[1])
    k = np.clip(first, 1, times.shape[1] - 1)
    rows = np.arange(n)
    p0, p1, t0, t1 = probability[rows, k - 1], probability[rows, k], times[rows, k - 1], times[rows, k]
    crossing = t0 + (t1 - t0) * np.clip((target - p0) / np.where(p1 > p0, p1 - p0, 1.0), 0.0, 1.0)
    years = np.where(first == 0, 0.0, np.where(first == times.shape[1], np.inf, crossing))
    known = np.isfinite(probability).all(axis=1)
    code = np.select([~known, years < least, years > most], [UNKNOWN, BY_SHORTEST, BY_LONGEST], BY_RISK)
    return np.where(known, np.clip(years, least, most), np.nan), code


def straight_rates(legs: Legs, years: Floats, couplings: int) -> Floats:
    """Slope of the straight line through the moves of each coupling and nought.

    Parameters
    ----------
    legs : Legs
    years : ndarray, shape (n,)
        On the coupling's clock. [year]
    couplings : int

    Returns
    -------
    ndarray, shape (4, couplings)
        ``sum t d / sum t^2``; nan without a leg. [mm/year, mrad/year]

    References
    ----------
    Least squares through the origin.
    """
    top, bottom = np.zeros((couplings, 4)), np.zeros((couplings, 4))
    known = np.isfinite(legs.moves)
    np.add.at(top, legs.coupling, np.where(known, legs.moves, 0.0) * years[:, None])
    np.add.at(bottom, legs.coupling, known * np.square(years)[:, None])
    return np.where(bottom > 0, top / np.where(bottom > 0, bottom, 1.0), np.nan).T


def straight_line(
    position: Floats, rates: Floats, limits: Envelope, reach: float = STRAIGHT_LINE_TO, horizon: float = 20.0
) -> Floats:
    """When a plain straight line reaches a share of the tolerance: for a person's judgement, no uncertainty in it.

    Parameters
    ----------
    position : ndarray, shape (4, n)
        As last left, less the target. [mm, mm, mrad, mrad]
    rates : ndarray, shape (4, n)
        Of `straight_rates`. [mm/year, mrad/year]
    limits : Envelope
    reach : float
        Share of the tolerance.
    horizon : float
        [year]

    Returns
    -------
    ndarray, shape (n,)
        0 where it is reached already; inf beyond the horizon; nan where nothing is known. [year]

    References
    ----------
    Common practice. Tolerance used along a straight line is convex, so it is crossed once; found by bisection.
    """

    def at(years: Floats) -> Floats:
        return used(limits, (position + rates * years).T)

    n = position.shape[1]
    low, high = np.zeros(n), np.full(n, horizon)
    now, far = at(low), at(high)
    for _ in range(50):
        middle = (low + high) / 2
        beyond = at(middle) >= reach
        low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
    found = np.where(now >= reach, 0.0, np.where(far >= reach, high, np.inf))
    return np.where(np.isfinite(now + far) & limits.known, found, np.nan)


def extrapolated(belief: Belief, years: Floats) -> Bools:
    """Whether a forecast reaches past twice the longest leg of a coupling.

    Parameters
    ----------
    belief : Belief
    years : ndarray, shape (n,)
        Since the last reading, on the clock of the group. [year]

    Returns
    -------
    ndarray of bool, shape (n,)
        Also where there is no leg yet.

    References
    ----------
    Our own proposal; to be said on screen.
    """
    return np.asarray(years > 2 * belief.longest)
