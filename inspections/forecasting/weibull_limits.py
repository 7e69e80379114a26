"""Limits of the law of a life: by the normal law, by the likelihood, and from below where nothing has failed."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, special

from inspections.forecasting.legs import Floats, ForecastError
from inspections.forecasting.lives import Lives
from inspections.forecasting.weibull import LEAST, MOST, Fit, best_scale, height, reach

ETA, BETA, B10 = "eta", "beta", "b10"


def least_scale(given: Lives, beta: float, share: float = 0.9) -> float:
    """One-sided lower bound of the scale where the shape is known, also without any failure.

    Parameters
    ----------
    given : Lives
        Failures count at the age at which they were found. [time]
    beta : float
        From the family. [1]
    share : float
        One-sided confidence, between 0 and 1.

    Returns
    -------
    float
        eta is at least this. [time]

    Raises
    ------
    ForecastError
        A shape that is not above zero, a share outside (0, 1), or lives of no length.

    References
    ----------
    eta^beta >= 2 sum t^beta / chi2(share; 2 r + 2), which without failures is sum t^beta / -ln(1 - share).
    """
    total = (
        float((given.count * (np.power(given.seen_at, beta) - np.power(given.entry, beta))).sum()) if beta > 0 else 0.0
    )
    if not (beta > 0 and 0 < share < 1 and total > 0):
        raise ForecastError("lives", "A bound needs a shape above zero, a share between 0 and 1 and some life lived.")
    return (2 * total / (2 * float(special.gammaincinv(given.failures + 1, share)))) ** (1 / beta)


def wald_limits(found: Fit, of: str, share: float = 0.95) -> tuple[float, float]:
    """Two-sided limits by the normal law on the logarithm: quick, and too narrow with few failures.

    Parameters
    ----------
    found : Fit
    of : {'eta', 'beta', 'b10'}
    share : float
        Between 0 and 1.

    Returns
    -------
    (low, high) : tuple of float
        [time], or [1] for beta.

    Raises
    ------
    ForecastError
        Another name, or a share outside (0, 1).

    References
    ----------
    Delta method on log eta, log beta and log B10; Meeker and Escobar 1998, ch. 8 (from memory).
    """
    _check(of, share)
    direction = np.array([0.0, 1.0]) if of == BETA else np.array([1.0, _slope(found.log_beta) if of == B10 else 0.0])
    a, b, c = found.covariance
    error = math.sqrt(float(direction @ np.array([[a, b], [b, c]]) @ direction))
    step = float(special.ndtri(0.5 + share / 2)) * error
    middle = {ETA: found.log_eta, BETA: found.log_beta, B10: math.log(found.age_failed())}[of]
    return math.exp(middle - step), math.exp(middle + step)


def likelihood_limits(found: Fit, of: str, share: float = 0.95) -> tuple[float, float]:
    """Two-sided limits by the likelihood ratio: honest also with few failures, and not symmetric.

    Parameters
    ----------
    found : Fit
    of : {'eta', 'beta', 'b10'}
    share : float
        Between 0 and 1.

    Returns
    -------
    (low, high) : tuple of float
        0 or infinity where the lives set no limit on that side. [time], or [1] for beta.

    Raises
    ------
    ForecastError
        As `wald_limits`.

    References
    ----------
    Twice the drop of the profile log likelihood against chi-square with one degree of freedom; Meeker and Escobar
    1998, ch. 8 (from memory).
    """
    _check(of, share)
    given, shape = found.lives, found.shape
    drop = float(special.ndtri(0.5 + share / 2)) ** 2 / 2
    peak = found.log_likelihood + shape.height(found.log_beta)

    def at_shape(s: float) -> float:
        return best_scale(given, s)[1] + shape.height(s)

    def at_age(w: float) -> float:
        # log of the age by which a share has failed: eta itself is the one by which 1 - 1/e has.
        far = reach(0.1) if of == B10 else 0.0

        def depth(s: float) -> float:
            return -(height(given, w - far * math.exp(-s), s) + shape.height(s))

        return -float(
            optimize.minimize_scalar(depth, bounds=(LEAST, MOST), method="bounded", options={"xatol": 1e-7}).fun
        )

    profile, middle = (at_shape, found.log_beta) if of == BETA else (
        at_age, found.log_eta if of == ETA else math.log(found.age_failed())
    )  # fmt: skip
    usual = math.log(wald_limits(found, of, share)[1]) - middle
    ends = []
    for side in (-1.0, 1.0):
        ends.append(_crossing(profile, middle, side * usual, peak - drop, of == BETA))
    return math.exp(ends[0]) if ends[0] > -math.inf else 0.0, math.exp(ends[1]) if ends[1] < math.inf else math.inf


def failing_within(age: ArrayLike, ahead: ArrayLike, eta: ArrayLike, beta: ArrayLike) -> Floats:
    """Chance that an element alive at an age fails within so much more.

    Parameters
    ----------
    age, ahead : array_like
        [time]
    eta, beta : array_like
        [time], [1]

    Returns
    -------
    ndarray
        1 - exp((age/eta)^beta - ((age + ahead)/eta)^beta). [1]

    References
    ----------
    Conditional probability of the Weibull law.
    """
    a, h, scale, power = (np.asarray(one, dtype=float) for one in (age, ahead, eta, beta))
    return -np.expm1((a / scale) ** power - ((a + h) / scale) ** power)


def reaches_risk(age: ArrayLike, risk: ArrayLike, eta: ArrayLike, beta: ArrayLike) -> Floats:
    """How much longer an element alive at an age may run until its chance of failing on the way reaches a risk.

    Parameters
    ----------
    age : array_like
        [time]
    risk : array_like
        Between 0 and 1.
    eta, beta : array_like
        [time], [1]

    Returns
    -------
    ndarray
        [time]

    References
    ----------
    `failing_within` solved for the time ahead.
    """
    a, p, scale, power = (np.asarray(one, dtype=float) for one in (age, risk, eta, beta))
    return scale * ((a / scale) ** power - np.log1p(-p)) ** (1 / power) - a


def _check(of: str, share: float) -> None:
    if of not in (ETA, BETA, B10):
        raise ForecastError("of", "Limits are of eta, beta or b10.")
    if not 0 < share < 1:
        raise ForecastError("share", "Limits hold a share between 0 and 1.")


def _slope(log_beta: float) -> float:
    """d log B10 / d log beta."""
    return -reach(0.1) * math.exp(-log_beta)


def _crossing(profile: Callable[[float], float], middle: float, step: float, level: float, bounded: bool) -> float:
    """Where a profile falls through a level on one side; infinite where it never does."""
    inner, outer = middle, middle + step
    for _ in range(40):
        if bounded and not LEAST < outer < MOST:
            outer = min(max(outer, LEAST), MOST)
            if profile(outer) > level:
                return math.copysign(math.inf, step)
        if profile(outer) < level:
            return float(optimize.brentq(lambda w: profile(w) - level, inner, outer, xtol=1e-7))
        inner, outer = outer, outer + step
        step *= 1.5
    return math.copysign(math.inf, step)
