"""Weibull lives by maximum likelihood: S(t) = exp(-(t/eta)^beta), with every kind of censoring and delayed entry.

One type is two numbers, log eta and log beta. Whatever else is known of the shape - a prior, or other types of a family
that share it - enters as one function of log beta (`Shape`), so that a fit by itself, with a prior and in a family go
the same way.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import interpolate, optimize

from inspections.forecasting.legs import Floats, ForecastError
from inspections.forecasting.lives import Lives

LEAST, MOST = math.log(0.05), math.log(50.0)  # of log beta; beyond is no wear of any kind
GRID = 241


@dataclass(frozen=True)
class Shape:
    """What is known of log beta from elsewhere: a log likelihood and its second derivative. [1]"""

    height: Callable[[float], float]
    curvature: Callable[[float], float]


def nothing_known() -> Shape:
    """No word on the shape but the lives themselves.

    Returns
    -------
    Shape
        [1]

    References
    ----------
    Maximum likelihood.
    """
    return Shape(lambda _s: 0.0, lambda _s: 0.0)


def shape_prior(beta: float, spread: float = 0.35) -> Shape:
    """A shape believed beforehand, from the family: log beta normal.

    Parameters
    ----------
    beta : float
        Its middle. [1]
    spread : float
        Standard deviation of log beta. [1]

    Returns
    -------
    Shape

    Raises
    ------
    ForecastError
        A shape or a spread that is not above zero.

    References
    ----------
    0.35 is our own proposal: about a factor of two either way at 95 %.
    """
    if not (beta > 0 and spread > 0 and math.isfinite(beta) and math.isfinite(spread)):
        raise ForecastError("shape", "The shape of the family and its spread are numbers above zero.")
    middle = math.log(beta)
    return Shape(lambda s: -0.5 * ((s - middle) / spread) ** 2, lambda _s: -1 / spread**2)


@dataclass(frozen=True, eq=False)
class Fit:
    """One type's law.

    Attributes
    ----------
    log_eta, log_beta : float
        eta in the unit of the lives. [log time], [1]
    covariance : tuple of (var log eta, covariance, var log beta)
        Inverse of the observed information. [1]
    log_likelihood : float
        Of its own lives, without what is known of the shape.
    failures, elements : float
        What it rests on.
    lives : Lives
    shape : Shape
    """

    log_eta: float
    log_beta: float
    covariance: tuple[float, float, float]
    log_likelihood: float
    failures: float
    elements: float
    lives: Lives
    shape: Shape

    @property
    def eta(self) -> float:
        return math.exp(self.log_eta)

    @property
    def beta(self) -> float:
        return math.exp(self.log_beta)

    def age_failed(self, share: float = 0.1) -> float:
        """Age by which that share has failed; B10 at one tenth. [time]"""
        return math.exp(self.log_eta + reach(share) / self.beta)


def fit(given: Lives, shape: Shape | None = None) -> Fit:
    """Law of one type by maximum likelihood.

    Parameters
    ----------
    given : Lives
        At least one failure. [time]
    shape : Shape, optional
        What else is known of the shape.

    Returns
    -------
    Fit

    Raises
    ------
    ForecastError
        No failure; or the failures leave the shape open (all at one age, or one failure alone with nothing else known).

    References
    ----------
    Meeker and Escobar 1998, ch. 8 and 11 (from memory).
    """
    if given.failures == 0:
        raise ForecastError("lives", "Nothing has failed yet: only a lower bound can be given.")
    known = shape or nothing_known()

    def depth(s: float) -> float:
        return -(best_scale(given, s)[1] + known.height(s))

    s = float(optimize.minimize_scalar(depth, bounds=(LEAST, MOST), method="bounded", options={"xatol": 1e-10}).x)
    if min(s - LEAST, MOST - s) < 1e-3:
        raise ForecastError("lives", "These failures leave the shape open: more of them at different ages are needed.")
    mu, height = best_scale(given, s)
    information = -_curvature(given, mu, s)
    information[1, 1] -= known.curvature(s)
    if not (np.linalg.eigvalsh(information) > 0).all():
        raise ForecastError("lives", "These lives leave the law open: more failures at different ages are needed.")
    inverse = np.linalg.inv(information)
    covariance = (float(inverse[0, 0]), float(inverse[0, 1]), float(inverse[1, 1]))
    return Fit(mu, s, covariance, height, given.failures, given.elements, given, known)


def family_shape(types: Sequence[Lives]) -> Shape:
    """What several types that share one shape say of it, each with a scale of its own.

    Parameters
    ----------
    types : sequence of Lives
        Those without failures add nothing and may be among them. [time]

    Returns
    -------
    Shape
        Profile likelihood, by spline between 241 values of log beta.

    References
    ----------
    Profile likelihood; Meeker and Escobar 1998, ch. 8 (from memory).
    """
    parts = [one for one in types if one.failures > 0]
    grid = np.linspace(LEAST, MOST, GRID)
    # A type without failures is explained best by an endless life, whatever the shape: it adds nothing.
    total = np.array([sum(best_scale(one, float(s))[1] for one in parts) for s in grid]) if parts else np.zeros(GRID)
    spline = interpolate.CubicSpline(grid, total)
    bent = spline.derivative(2)
    return Shape(lambda s: float(spline(s)), lambda s: float(bent(s)))


def fit_in_family(given: Lives, others: Sequence[Lives]) -> Fit:
    """Law of one type that shares its shape with the rest of its family.

    Parameters
    ----------
    given : Lives
        At least one failure. [time]
    others : sequence of Lives
        The other types, each with its own scale. [time]

    Returns
    -------
    Fit

    Raises
    ------
    ForecastError
        As `fit`.

    References
    ----------
    As `family_shape`.
    """
    return fit(given, family_shape(others))


def common_shape(types: Sequence[Lives]) -> float:
    """The one shape of a family of types.

    Parameters
    ----------
    types : sequence of Lives
        [time]

    Returns
    -------
    float
        beta. [1]

    Raises
    ------
    ForecastError
        As `fit`.

    References
    ----------
    As `family_shape`.
    """
    parts = [one for one in types if one.failures > 0]
    if not parts:
        raise ForecastError("lives", "Nothing has failed yet: only a lower bound can be given.")
    return fit_in_family(parts[0], parts[1:]).beta


def known_shape_scale(given: Lives, beta: float) -> float:
    """Scale by maximum likelihood where the shape is known.

    Parameters
    ----------
    given : Lives
        At least one failure. [time]
    beta : float
        [1]

    Returns
    -------
    float
        eta. [time]

    Raises
    ------
    ForecastError
        No failure, or a shape that is not above zero.

    References
    ----------
    eta = (sum t^beta / r)^(1/beta), the exponential law on the scale t^beta.
    """
    if not beta > 0 or given.failures == 0:
        raise ForecastError("shape", "A shape above zero and at least one failure are needed.")
    return math.exp(best_scale(given, math.log(beta))[0])


def reach(share: float) -> float:
    """How far the age by which a share has failed lies from the scale: log age = log eta + this / beta.

    Parameters
    ----------
    share : float
        Between 0 and 1.

    Returns
    -------
    float
        log(-log(1 - share)). [1]

    References
    ----------
    Quantile of the Weibull law.
    """
    return math.log(-math.log1p(-share))


def _hazards(given: Lives, mu: float, s: float) -> tuple[Floats, Floats, Floats]:
    """Cumulative hazards at `low`, `high` and `entry`; 0 where `high` is infinite."""
    beta = math.exp(s)
    with np.errstate(divide="ignore", over="ignore"):
        at = [np.exp(np.minimum(beta * (np.log(one) - mu), 600.0)) for one in (given.low, given.high, given.entry)]
    return at[0], np.where(given.failed, at[1], 0.0), at[2]


def height(given: Lives, mu: float, s: float) -> float:
    """Log likelihood of lives at one law.

    Parameters
    ----------
    given : Lives
        [time]
    mu, s : float
        log eta, log beta.

    Returns
    -------
    float
        Very low, never nan, where the law cannot have given these lives. [1]

    References
    ----------
    Meeker and Escobar 1998, ch. 8 and 11 (from memory).
    """
    low, high, entry = _hazards(given, mu, s)
    exact = given.failed & (given.low == given.high)
    between = given.failed & ~exact
    terms = entry - low
    with np.errstate(divide="ignore", invalid="ignore"):
        density = math.exp(s) * (np.log(given.high) - mu) - np.log(given.high) + s
        terms = np.where(exact, terms + density, terms)
        gap = np.where(between, low - high, -1.0)
        terms = np.where(between, terms + np.log(-np.expm1(gap)), terms)
    total = float((given.count * terms).sum())
    return total if math.isfinite(total) else -1e300


def best_scale(given: Lives, s: float) -> tuple[float, float]:
    """Best log eta for a shape, and the log likelihood there.

    Parameters
    ----------
    given : Lives
        At least one failure. [time]
    s : float
        log beta.

    Returns
    -------
    (log eta, log likelihood) : tuple of float

    References
    ----------
    Closed form where every failure is known to the day, eta^beta = sum (t^beta - entry^beta)/r; else by search.
    """
    beta = math.exp(s)
    top = float(given.seen_at.max())
    scaled = given.count * (np.power(given.seen_at / top, beta) - np.power(given.entry / top, beta))
    mu = math.log(top) + math.log(float(scaled.sum()) / given.failures) / beta
    if given.known_to_the_day:
        return mu, height(given, mu, s)
    # Between two looks: from there inwards, where the slope turns over.
    found = optimize.minimize_scalar(
        lambda one: -height(given, one, s), bracket=(mu - 0.5 / beta, mu), method="brent", options={"xtol": 1e-11}
    )
    return float(found.x), -float(found.fun)


def _curvature(given: Lives, mu: float, s: float) -> Floats:
    """Second derivatives of the log likelihood by log eta and log beta."""
    beta = math.exp(s)
    exact = given.failed & (given.low == given.high)
    between = given.failed & ~exact

    def derivatives(time: Floats, hazard: Floats) -> tuple[Floats, Floats, Floats]:
        """Slopes of a cumulative hazard, and its second derivatives as (2, 2, n)."""
        with np.errstate(divide="ignore", invalid="ignore"):
            z = np.where(hazard > 0, beta * (np.log(time) - mu), 0.0)
        first = np.array([-beta * hazard, z * hazard])
        across = -beta * hazard * (1 + z)
        return z, first, np.array([[beta**2 * hazard, across], [across, hazard * z * (1 + z)]])

    low, high, entry = _hazards(given, mu, s)
    _, first_low, second_low = derivatives(given.low, low)
    z, first_high, second_high = derivatives(np.where(given.failed, given.high, 1.0), high)
    _, _, second_entry = derivatives(given.entry, entry)
    second = second_entry - second_low
    # Exact: log beta + z - log t beside -H.
    density = np.array([[np.zeros(len(z)), np.full(len(z), -beta)], [np.full(len(z), -beta), z]])
    second = np.where(exact, second + density, second)
    gap = np.where(between, high - low, 1.0)
    weight = 1 / np.expm1(np.minimum(gap, 600.0))
    slope = first_high - first_low
    inside = weight * (second_high - second_low) - weight * (1 + weight) * slope[:, None] * slope[None, :]
    return np.asarray((given.count * np.where(between, second + inside, second)).sum(axis=-1), dtype=float)
