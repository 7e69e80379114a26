"""Share of elements that reach an age, from the records alone, without assuming a law."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from inspections.forecasting.legs import Floats, ForecastError
from inspections.forecasting.lives import Lives


@dataclass(frozen=True, eq=False)
class Curve:
    """Survival after each age at which failures were seen.

    Attributes
    ----------
    age : ndarray, shape (k,)
        Ascending. [time]
    at_risk, failed : ndarray, shape (k,)
        Elements under watch just before that age, and of them failed at it. [1]
    survival, error, low, high : ndarray, shape (k,)
        Share that lives on, its standard error and limits. nan where the error is not known: nobody is left. [1]
    """

    age: Floats
    at_risk: Floats
    failed: Floats
    survival: Floats
    error: Floats
    low: Floats
    high: Floats

    def __len__(self) -> int:
        return len(self.age)


def survival_curve(given: Lives, share: float = 0.9) -> Curve:
    """Kaplan-Meier estimate with counts and delayed entry.

    A failure between two looks counts at the look that found it, as an inspection report does: the curve then says
    which share was not yet found failed, and lies a little late.

    Parameters
    ----------
    given : Lives
        [time]
    share : float
        That the two-sided limits hold, between 0 and 1.

    Returns
    -------
    Curve
        Empty without failures. A failure and an element that left at the same age: the failure came first.

    Raises
    ------
    ForecastError
        A share outside (0, 1).

    References
    ----------
    E. L. Kaplan and P. Meier, Nonparametric estimation from incomplete observations, 1958; Greenwood's variance and
    limits on the log(-log) scale as R's survfit(conf.type="log-log") has them.
    """
    if not 0 < share < 1:
        raise ForecastError("share", "Limits hold a share between 0 and 1.")
    seen = given.seen_at
    age = np.unique(seen[given.failed])
    failed = np.array([given.count[given.failed & (seen == one)].sum() for one in age])
    at_risk = np.array([given.count[(given.entry < one) & (seen >= one)].sum() for one in age])
    survival = np.cumprod(1 - failed / at_risk) if len(age) else np.zeros(0)
    left = at_risk - failed
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = np.where(left > 0, failed / (at_risk * left), np.inf)
        root = np.sqrt(np.cumsum(terms))
        error = np.where(survival > 0, survival * root, np.nan)
        step = special.ndtri(0.5 + share / 2) * root / np.abs(np.log(survival))
        low, high = survival ** np.exp(step), survival ** np.exp(-step)
    known = np.isfinite(error)
    return Curve(age, at_risk, failed, survival, error, np.where(known, low, np.nan), np.where(known, high, np.nan))
