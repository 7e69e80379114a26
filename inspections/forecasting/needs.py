"""How many elements will be needed: failures of those running and of those that follow them, and removals besides.

By drawing: each draw takes one law that the records leave possible and lives every element on from the age it has; a
replaced one starts at age zero. Removals for other reasons come at the rate at which they came, itself uncertain. The
draws are pinned, so that the same records give the same figures.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from inspections.forecasting.legs import Floats, ForecastError
from inspections.forecasting.replacement import laws

DRAWS = 400
SEED = 12
RENEWALS = 200  # of one element within the horizon; a law that wants more is no life of a part
HALF = 0.5  # removals counted besides those seen (Jeffreys)


@dataclass(frozen=True)
class Law:
    """Life of one type on its clock. [time], [1]"""

    eta: float
    beta: float
    covariance: tuple[float, float, float]


@dataclass(frozen=True)
class Need:
    """Elements needed within a time: expected, and with nine chances in ten between. [1]"""

    expected: float
    low: float
    high: float


def needed(
    ages: ArrayLike,
    rates: ArrayLike,
    horizons: Sequence[float],
    law: Law | None,
    others: float,
    watched: float,
    planned_age: float = float("inf"),
) -> list[Need]:
    """Elements of one type needed within each horizon.

    Parameters
    ----------
    ages : array_like, shape (n,)
        Of those running, on the clock of the law. [time]
    rates : array_like, shape (n,)
        Clock per day, 1 for the calendar in days. [time/day]
    horizons : sequence of float
        Ascending. [day]
    law : Law or None
        None where no life is known: then `others` must hold the failures too.
    others : float
        Removals seen that the law does not hold. [1]
    watched : float
        Time over which they were seen, all elements together. [day]
    planned_age : float
        At which the site replaces an element that has not failed. [time]

    Returns
    -------
    list of Need
        `low`, `high`: 5 and 95 in a hundred.

    Raises
    ------
    ForecastError
        Negative ages, rates or counts, horizons that do not ascend from above zero, a planned age not above zero.

    References
    ----------
    Renewals conditional on age by Monte Carlo: H(T) = H(age) + an exponential draw. Rate of the other removals: gamma
    posterior of a Poisson count with half a removal added (Jeffreys), textbook Bayes.
    """
    age = np.atleast_1d(np.asarray(ages, dtype=float))
    pace = np.broadcast_to(np.asarray(rates, dtype=float), age.shape)
    ends = np.asarray(horizons, dtype=float)
    if not (np.isfinite(age).all() and (age >= 0).all() and np.isfinite(pace).all() and (pace >= 0).all()):
        raise ForecastError("ages", "Ages and rates are numbers from zero up.")
    if not (len(ends) and (np.diff(ends, prepend=0.0) > 0).all() and np.isfinite(ends).all()):
        raise ForecastError("horizons", "Horizons ascend from above zero.")
    if not (others >= 0 and watched >= 0 and planned_age > 0):
        raise ForecastError("others", "Counts and times are not negative, a planned age is above zero.")
    random = np.random.default_rng(SEED)
    counts = np.zeros((len(ends), DRAWS))
    if law is not None and len(age):
        scale, power = laws(law.eta, law.beta, law.covariance, DRAWS)
        counts += _renewed(age, pace, ends, scale, power, planned_age, random)
    if watched > 0 and len(age):
        rate = random.gamma(others + HALF, 1 / watched, DRAWS) * len(age)
        steps = np.diff(ends, prepend=0.0)
        counts += np.cumsum(random.poisson(np.minimum(rate * steps[:, None], 1e6)), axis=0)
    return [
        Need(float(row.mean()), float(np.quantile(row, 0.05)), float(np.quantile(row, 0.95))) for row in counts
    ]  # fmt: skip


def _renewed(
    age: Floats, pace: Floats, ends: Floats, scale: Floats, power: Floats, planned: float, random: np.random.Generator
) -> Floats:
    """Replacements within each horizon (horizons, draws)."""
    counts = np.zeros((len(ends), len(scale)))
    now = np.zeros((len(scale), len(age)))  # days from today at which the one running was fitted or is looked at
    start = np.broadcast_to(age, now.shape).copy()
    for _ in range(RENEWALS):
        hazard = np.minimum((start / scale[:, None]) ** power[:, None], 700.0)
        ends_at = scale[:, None] * (hazard + random.standard_exponential(now.shape)) ** (1 / power[:, None])
        gone = np.minimum(ends_at, np.maximum(planned, start))
        with np.errstate(divide="ignore", invalid="ignore"):
            wait = np.where(pace > 0, (gone - start) / pace, np.inf)
        now = now + np.nan_to_num(wait, nan=np.inf)
        inside = now[None] <= ends[:, None, None]
        if not inside.any():
            break
        counts += inside.sum(axis=2)
        start = np.zeros_like(now)
    return counts
