"""At which age to replace an element that has not failed: cost per time, its best age, and whether it pays.

In units of eta throughout: x = age/eta. Planned replacement costs `planned`, a failure in service `unplanned`; only
their ratio moves the age.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from inspections.forecasting.legs import Floats, ForecastError

DRAWS = 200
SEED = 11
WORTH = 0.10  # of the cost of running to failure, at the lower quartile
BAND = 0.05
NEVER = 40.0  # (age/eta)^beta beyond which nothing is left to replace
STEPS = 80


@dataclass(frozen=True)
class Replacement:
    """The best age of one type.

    Attributes
    ----------
    age : float
        Infinite: run to failure. [time]
    cost : float
        At that age. [money/time]
    to_failure : float
        Cost without planned replacement. [money/time]
    saving : float
        1 - cost/to_failure. [1]
    band : tuple of (low, high)
        Ages within 5 % of the least cost; the upper may be infinite. [time]
    ages : tuple of (5 %, 50 %, 95 %), or None
        Of the best age over what is not known of the law. [time]
    saving_low : float or None
        Lower quartile of the saving of replacing at `age`. [1]
    wears : float or None
        Lower 90 % limit of the shape; above 1 the element wears. [1]
    recommended : bool or None
        None where the law is given without its uncertainty.
    """

    age: float
    cost: float
    to_failure: float
    saving: float
    band: tuple[float, float]
    ages: tuple[float, float, float] | None = None
    saving_low: float | None = None
    wears: float | None = None
    recommended: bool | None = None


def cost_rate(age: ArrayLike, eta: ArrayLike, beta: ArrayLike, planned: float, unplanned: float) -> Floats:
    """Cost per time of replacing at an age or at failure, whichever comes first.

    Parameters
    ----------
    age : array_like
        Above zero; infinite is running to failure. [time]
    eta, beta : array_like
        [time], [1]
    planned, unplanned : float
        Cost of one planned replacement and of one failure, all it brings included. [money]

    Returns
    -------
    ndarray
        [money/time]

    References
    ----------
    R. Barlow and L. Hunter, Optimum preventive maintenance policies, 1960: [cp R(T) + cf F(T)] / integral of R to T.
    """
    x, power, scale = np.asarray(age, dtype=float) / eta, np.asarray(beta, dtype=float), np.asarray(eta, dtype=float)
    hazard = np.minimum(x**power, 700.0)
    failed = -np.expm1(-hazard)
    return (planned * (1 - failed) + unplanned * failed) / (scale * _lived(hazard, power))


def best_age(eta: ArrayLike, beta: ArrayLike, planned: float, unplanned: float) -> Floats:
    """The age at which cost per time is least.

    Parameters
    ----------
    eta, beta : array_like
        [time], [1]
    planned, unplanned : float
        [money]

    Returns
    -------
    ndarray
        Infinite where the element does not wear (beta up to 1), a failure costs no more than planned work, or the best
        age lies beyond all that live. [time]

    Raises
    ------
    ForecastError
        Costs that are not above zero.

    References
    ----------
    Barlow and Hunter 1960: the one root of h(T) int R - F(T) = cp/(cf - cp), here by bisection to rounding.
    """
    _costs(planned, unplanned)
    scale, power = np.broadcast_arrays(np.asarray(eta, dtype=float), np.asarray(beta, dtype=float))
    if unplanned <= planned:
        return np.full(scale.shape, np.inf)
    wanted = planned / (unplanned - planned)
    low, high = np.full(scale.shape, -700.0), np.full(scale.shape, math.log(NEVER))  # of log (age/eta)^beta
    wears = power > 1
    safe = np.where(wears, power, 2.0)

    def over(log_hazard: Floats) -> Floats:
        hazard = np.exp(log_hazard)
        rate = safe * np.exp(log_hazard * (1 - 1 / safe))
        return rate * _lived(hazard, safe) + np.expm1(-hazard) - wanted

    beyond = over(high) < 0
    for _ in range(STEPS):
        middle = (low + high) / 2
        above = over(middle) > 0
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    found = scale * np.exp((low + high) / 2 / safe)
    return np.where(wears & ~beyond, found, np.inf)


def replacement(
    eta: float,
    beta: float,
    planned: float,
    unplanned: float,
    covariance: tuple[float, float, float] | None = None,
    beta_low: float | None = None,
) -> Replacement:
    """Best age of one type, with how sure it is and whether planned replacement is recommended.

    Parameters
    ----------
    eta, beta : float
        [time], [1]
    planned, unplanned : float
        [money]
    covariance : tuple of (var log eta, covariance, var log beta), optional
    beta_low : float, optional
        Lower 90 % limit of the shape; from the covariance where it is not given. [1]

    Returns
    -------
    Replacement
        `recommended` where it saves more than a tenth of running to failure at the lower quartile and the shape is
        above 1 at its lower limit.

    Raises
    ------
    ForecastError
        A law or costs that are not above zero, a covariance that is none.

    References
    ----------
    Barlow and Hunter 1960; 200 draws of (log eta, log beta). The rule when to recommend is our own proposal.
    """
    if not (eta > 0 and beta > 0 and math.isfinite(eta) and math.isfinite(beta)):
        raise ForecastError("law", "Scale and shape are numbers above zero.")
    age = float(best_age(eta, beta, planned, unplanned))
    to_failure = float(cost_rate(np.inf, eta, beta, planned, unplanned))
    cost = float(cost_rate(age, eta, beta, planned, unplanned))
    plain = Replacement(
        age, cost, to_failure, 1 - cost / to_failure, _band(age, cost, eta, beta, planned, unplanned)
    )  # fmt: skip
    if covariance is None:
        return plain
    scales, shapes = laws(eta, beta, covariance)
    ages = best_age(scales, shapes, planned, unplanned)
    share = 1 - cost_rate(age, scales, shapes, planned, unplanned) / cost_rate(
        np.inf, scales, shapes, planned, unplanned
    )
    low, middle, high = (float(one) for one in np.quantile(ages, [0.05, 0.5, 0.95], method="inverted_cdf"))
    saving_low = float(np.quantile(share, 0.25))
    wears = beta_low if beta_low is not None else beta * math.exp(-1.2815515655446004 * math.sqrt(covariance[2]))
    recommended = math.isfinite(age) and saving_low > WORTH and wears > 1
    return Replacement(**{**vars(plain), "ages": (low, middle, high), "saving_low": saving_low, "wears": wears,
                          "recommended": recommended})  # fmt: skip


def laws(eta: float, beta: float, covariance: tuple[float, float, float], n: int = DRAWS) -> tuple[Floats, Floats]:
    """Laws that the records leave possible, in opposite pairs, the same at every call.

    Parameters
    ----------
    eta, beta : float
        [time], [1]
    covariance : tuple of (var log eta, covariance, var log beta)
    n : int
        Even. [1]

    Returns
    -------
    (eta, beta) : tuple of ndarray, shape (n,)
        [time], [1]

    Raises
    ------
    ForecastError
        A covariance that is none.

    References
    ----------
    Normal law of the logarithms, as Wald limits take it.
    """
    a, b, c = covariance
    if not (a >= 0 and c >= 0 and a * c - b * b >= -1e-12 * max(a * c, 1e-300) and math.isfinite(a * c)):
        raise ForecastError("covariance", "Variances are not negative, and the covariance lies within them.")
    half = np.random.default_rng(SEED).standard_normal((2, n // 2))
    first, second = np.concatenate([half, -half], axis=1)
    root = math.sqrt(a)
    along = b / root if root > 0 else 0.0
    rest = math.sqrt(max(c - along**2, 0.0))
    limit = math.log(1e3)  # no draw makes a law nobody would believe
    log_eta = np.clip(root * first, -limit, limit)
    log_beta = np.clip(along * first + rest * second, -limit, limit)
    return eta * np.exp(log_eta), np.clip(beta * np.exp(log_beta), 0.05, 50.0)


def at_stops(
    best: float, stops: Sequence[float], eta: float, beta: float, planned: float, unplanned: float
) -> float | None:
    """The age at the planned stop where replacing costs least, among the two stops on either side of the best age.

    Parameters
    ----------
    best : float
        [time]
    stops : sequence of float
        Ages of the element at the stops ahead, above zero. [time]
    eta, beta : float
        [time], [1]
    planned, unplanned : float
        [money]

    Returns
    -------
    float or None
        None without stops, or where running to failure costs no more than either stop. [time]

    References
    ----------
    The cost curve is flat near its least, so the neighbouring stops are enough.
    """
    before = [one for one in stops if 0 < one <= best]
    after = [one for one in stops if one > best]
    near = ([max(before)] if before else []) + ([min(after)] if after else [])
    if not near:
        return None
    costs = cost_rate(near, eta, beta, planned, unplanned)
    least = int(np.argmin(costs))
    return near[least] if costs[least] < float(cost_rate(np.inf, eta, beta, planned, unplanned)) else None


def _costs(planned: float, unplanned: float) -> None:
    if not (planned > 0 and unplanned > 0 and math.isfinite(planned) and math.isfinite(unplanned)):
        raise ForecastError("cost", "Costs are numbers above zero.")


def _lived(hazard: Floats, power: Floats) -> Floats:
    """Integral of S up to x = hazard^(1/power), in units of eta."""
    return special.gamma(1 + 1 / power) * special.gammainc(1 / power, hazard)


def _band(
    age: float, cost: float, eta: float, beta: float, planned: float, unplanned: float
) -> tuple[float, float]:  # fmt: skip
    """Ages on either side at which the cost is 5 % above its least."""
    limit = cost * (1 + BAND)
    far = eta * NEVER ** (1 / beta)

    def between(inside: float, outside: float) -> float:
        for _ in range(STEPS):
            middle = math.sqrt(inside * outside)
            if float(cost_rate(middle, eta, beta, planned, unplanned)) > limit:
                outside = middle
            else:
                inside = middle
        return inside

    begin = age if math.isfinite(age) else far
    low = between(begin, begin * 1e-9)
    endless = not math.isfinite(age) or float(cost_rate(np.inf, eta, beta, planned, unplanned)) <= limit
    return low, math.inf if endless else between(begin, far)
