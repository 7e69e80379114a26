"""What may be said of the life of each type of element, by how many of them have failed.

Ten failures of its own speak for themselves. With fewer a type shares the shape of its family, and without any it gets
a bound from below. With fewer than three in the whole family there are counts and a survival curve, and no B10.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from inspections.forecasting.legs import ForecastError
from inspections.forecasting.lives import Lives
from inspections.forecasting.survival import Curve, survival_curve
from inspections.forecasting.weibull import Fit, Shape, common_shape, fit, fit_in_family, reach
from inspections.forecasting.weibull_limits import B10, BETA, ETA, least_scale, likelihood_limits, wald_limits

OWN, FAMILY, BOUND, COUNTS = "own", "family", "bound", "counts"
BY_LIKELIHOOD, BY_NORMAL = "likelihood", "normal"
ENOUGH = 10  # failures of a type that speak for themselves, and from which the normal law's limits will do
FEW = 3  # failures of a family below which no law is fitted
SHARE = 0.9  # that limits hold; one-sided for a bound


@dataclass(frozen=True, eq=False)
class Estimate:
    """What the records say of one type.

    Attributes
    ----------
    basis : str
        'own', 'family' (shape shared), 'bound' (no failure yet: eta and B10 are at least this), 'counts'.
    failures, elements, observed : float
        How many failed of how many, watched together for so long. [1], [1], [time]
    family_failures : float
        Of the whole family. [1]
    eta, beta, b10 : float or None
        [time], [1], [time]
    eta_limits, beta_limits, b10_limits : tuple of (low, high), or None
        Two-sided; with a bound eta and B10 have none.
    limits_by : str
        'likelihood', 'normal' or ''.
    covariance : tuple of (var log eta, covariance, var log beta), or None
    curve : Curve
    open : bool
        A law was tried, and the failures leave it open.
    """

    basis: str
    failures: float
    elements: float
    observed: float
    family_failures: float
    curve: Curve
    eta: float | None = None
    beta: float | None = None
    b10: float | None = None
    eta_limits: tuple[float, float] | None = None
    beta_limits: tuple[float, float] | None = None
    b10_limits: tuple[float, float] | None = None
    limits_by: str = ""
    covariance: tuple[float, float, float] | None = None
    open: bool = False


def estimates(types: Mapping[str, Lives], share: float = SHARE) -> dict[str, Estimate]:
    """What may be said of every type of one family.

    Parameters
    ----------
    types : mapping of name to Lives
        On one clock. [time]
    share : float
        That limits hold; one-sided for a bound.

    Returns
    -------
    dict of name to Estimate

    Raises
    ------
    ForecastError
        A share outside (0, 1).

    References
    ----------
    Ten and three failures: our own proposal. Meeker and Escobar 1998, ch. 8 (from memory) for few failures.
    """
    together = sum(one.failures for one in types.values())
    return {
        name: _estimate(one, [other for key, other in types.items() if key != name], together, share)
        for name, one in types.items()
    }


def by_itself(given: Lives, shape: Shape | None = None, share: float = SHARE) -> Estimate:
    """Estimate of one type from its own lives, with a shape believed beforehand or without.

    Parameters
    ----------
    given : Lives
        At least one failure. [time]
    shape : Shape, optional
    share : float
        That limits hold.

    Returns
    -------
    Estimate
        Limits by the likelihood below ten failures, by the normal law on the logarithm from there on.

    Raises
    ------
    ForecastError
        No failure, or failures that leave the law open.

    References
    ----------
    As `weibull.fit`.
    """
    return _of_fit(fit(given, shape), OWN if shape is None else FAMILY, given.failures, share)


def bounded(given: Lives, beta: float, family_failures: float = 0.0, share: float = SHARE) -> Estimate:
    """Lower bounds of a type of which nothing has failed.

    Parameters
    ----------
    given : Lives
        [time]
    beta : float
        Shape of the family. [1]
    family_failures : float
        [1]
    share : float
        One-sided.

    Returns
    -------
    Estimate

    Raises
    ------
    ForecastError
        As `weibull_limits.least_scale`.

    References
    ----------
    As `weibull_limits.least_scale`.
    """
    eta = least_scale(given, beta, share)
    return Estimate(
        BOUND, given.failures, given.elements, given.observed, family_failures, survival_curve(given, share),
        eta, beta, eta * math.exp(reach(0.1) / beta),
    )  # fmt: skip


def counted(given: Lives, family_failures: float, share: float = SHARE, *, left_open: bool = False) -> Estimate:
    """Counts and the survival curve, and no law.

    Parameters
    ----------
    given : Lives
        [time]
    family_failures : float
        [1]
    share : float
        That limits of the curve hold.
    left_open : bool
        A law was tried.

    Returns
    -------
    Estimate

    References
    ----------
    As `survival.survival_curve`.
    """
    curve = survival_curve(given, share)
    return Estimate(
        COUNTS, given.failures, given.elements, given.observed, family_failures, curve, open=left_open
    )  # fmt: skip


def _estimate(given: Lives, others: list[Lives], together: float, share: float) -> Estimate:
    if given.failures >= ENOUGH:
        try:
            return _of_fit(fit(given), OWN, together, share)
        except ForecastError:
            pass  # all at one age, say: the family may know better
    if together < FEW:
        return counted(given, together, share)
    try:
        if given.failures:
            return _of_fit(fit_in_family(given, others), FAMILY, together, share)
        return bounded(given, common_shape(others), together, share)
    except ForecastError:
        return counted(given, together, share, left_open=True)


def _of_fit(found: Fit, basis: str, together: float, share: float) -> Estimate:
    by = BY_NORMAL if found.failures >= ENOUGH else BY_LIKELIHOOD
    limits = wald_limits if by == BY_NORMAL else likelihood_limits
    of = {name: limits(found, name, share) for name in (ETA, BETA, B10)}
    given = found.lives
    return Estimate(
        basis, given.failures, given.elements, given.observed, together, survival_curve(given, share),
        found.eta, found.beta, found.age_failed(), of[ETA], of[BETA], of[B10], by, found.covariance,
    )  # fmt: skip
