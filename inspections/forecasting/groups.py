"""Which couplings learn from each other, and what their group has in common: rates, their spread, diffusion, jumps.

Parameters by maximum marginal likelihood with a weak prior; legs their history does not explain are widened first and
their number and size kept as the group's jumps. Always keep the prior on: without it the intervals of a fleet of five
are too short (the plain estimate covers about 0.78 of a stated 0.90 there).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize

from inspections.forecasting.drift import Chains, chains, clock_years, filtered, log_likelihood
from inspections.forecasting.envelope import Envelope
from inspections.forecasting.jumps import IMPROBABLE, expected_false, unexplained
from inspections.forecasting.legs import Bools, Floats, ForecastError, Legs
from inspections.forecasting.parameters import FLAT, GroupFit, at_couplings

ENOUGH = 30  # trains with legs that make a group of their own
SAMPLE = 10_000  # couplings a fit looks at; more change nothing that matters
ROUNDS = 4
SUSPECT = 0.02  # set aside in the first round, so that a jump in a small fleet cannot hide in what it inflates
LEFT_WEIGHT = 2.0  # readings
DOUBT = 1.5  # standard deviation of the natural logarithm of a variance before anything is measured
BY_KIND, BY_SITE, BY_ALL = "kind", "site", "all"


@dataclass(frozen=True)
class Prior:
    """What is believed of a group nobody has measured yet; it counts as about one coupling's worth of evidence.

    Attributes
    ----------
    rate : tuple of 4 floats
        A usual size of rates, about what eats the tolerance in five years. [mm/year, mrad/year]
    jump : tuple of 4 floats
        A usual size of a jump. [mm, mrad]
    jumps_per_year : float
        Per train, counted as seen over `years` train-years. [1/year]
    years : float
        [year]
    """

    rate: tuple[float, float, float, float]
    jump: tuple[float, float, float, float]
    jumps_per_year: float = 0.02
    years: float = 50.0


def weak_prior(offset_mm: float, slope_mrad: float, years: float = 5.0) -> Prior:
    """A prior from the tolerance: rates that eat it in so many years, jumps half as large as it.

    Parameters
    ----------
    offset_mm, slope_mrad : float
        Usual limits of the group. [mm], [mrad]
    years : float
        A site setting. [year]

    Returns
    -------
    Prior

    Raises
    ------
    ForecastError
        Limits or years that are not above zero.

    References
    ----------
    Our own proposal, tried on simulated fleets (`calibration`): no effect on coverage from 100 trains up.
    """
    if not (offset_mm > 0 and slope_mrad > 0 and years > 0):
        raise ForecastError("prior", "The usual limits and the years must be above zero.")
    size = (offset_mm, offset_mm, slope_mrad, slope_mrad)
    a, b, c, d = (limit / years for limit in size)
    e, f, g, h = (limit / 2 for limit in size)
    return Prior((a, b, c, d), (e, f, g, h))


def grouped(
    kind: Sequence[object], site: Sequence[object], with_legs: ArrayLike, enough: int = ENOUGH
) -> tuple[list[tuple[str, object]], dict[tuple[str, object], Bools]]:
    """The group every coupling learns from, and whose legs each group is fitted on.

    Parameters
    ----------
    kind : sequence
        Support type and machine class of each coupling's train as one value.
    site : sequence
    with_legs : array_like of bool
        Couplings that have at least one leg.
    enough : int
        Trains that make a group. [1]

    Returns
    -------
    groups : list of (level, value)
        ('kind', ...) where at least `enough` have legs, else ('site', ...), else ('all', None).
    members : dict
        Per group in use, which couplings count for it.

    References
    ----------
    Thirty: our own proposal after simulation (`calibration`).
    """
    have = np.asarray(with_legs, dtype=bool)
    levels = {BY_KIND: list(kind), BY_SITE: list(site)}
    counts: dict[tuple[str, object], int] = {}
    for level, values in levels.items():
        for value, counted in zip(values, have, strict=True):
            counts[level, value] = counts.get((level, value), 0) + int(counted)

    def group_of(i: int) -> tuple[str, object]:
        for level, values in levels.items():
            if counts[level, values[i]] >= enough:
                return level, values[i]
        return BY_ALL, None

    groups = [group_of(i) for i in range(len(have))]
    members: dict[tuple[str, object], Bools] = {}
    for level, value in dict.fromkeys(groups):
        same = [True] * len(have) if level == BY_ALL else [one == value for one in levels[level]]
        members[level, value] = np.array(same) & have
    return groups, members


def fit_group(
    legs: Legs, prior: Prior | None, limits: Envelope | None = None, *, by_hours: bool | None = None, seed: int = 8
) -> GroupFit:
    """Parameters of one group.

    Parameters
    ----------
    legs : Legs
        Of its couplings. [mm, mm, mrad, mrad]
    prior : Prior or None
        None is the plain maximum of the marginal likelihood, jumps neither looked for nor widened.
    limits : Envelope, optional
        Of all couplings, by number, for the size of movement that counts as a jump.
    by_hours : bool, optional
        The clock; otherwise the one that explains more: run hours where every leg has them and they give the higher
        likelihood, else the calendar.
    seed : int
        For the sample of couplings looked at in a large group.

    Returns
    -------
    GroupFit

    Raises
    ------
    ForecastError
        No legs.

    References
    ----------
    Empirical Bayes by maximum marginal likelihood, as W. Q. Meeker and L. A. Escobar, Statistical Methods for
    Reliability Data, 1998, ch. 13 for degradation data (from memory); the prior and the widening are our own.
    """
    if not len(legs):
        raise ForecastError("legs", "A group needs at least one leg.")
    legs = _sampled(legs, seed)
    if by_hours is not None:
        return _fit(legs, prior, limits, by_hours)
    calendar = _fit(legs, prior, limits, False)
    if not (np.isfinite(legs.hours).all() and legs.hours.sum() > 0):
        return calendar
    hours = _fit(legs, prior, limits, True)
    return hours if hours.log_likelihood > calendar.log_likelihood else calendar


def _sampled(legs: Legs, seed: int) -> Legs:
    couplings = np.unique(legs.coupling)
    if len(couplings) <= SAMPLE:
        return legs
    chosen = np.random.default_rng(seed).choice(couplings, SAMPLE, replace=False)
    return legs.taken(np.isin(legs.coupling, chosen))


def _fit(legs: Legs, prior: Prior | None, limits: Envelope | None, by_hours: bool) -> GroupFit:
    years = clock_years(legs, by_hours)
    plain = legs.widened(np.zeros((len(legs), 4)))
    fit = _maximum(chains(plain, years), prior)
    flagged = np.zeros(len(legs), dtype=bool)
    jump = np.zeros(4)
    everywhere = np.zeros(int(legs.coupling[-1]) + 1, dtype=np.int64)
    for number in range(ROUNDS if prior is not None else 0):
        asked = SUSPECT if number == 0 else IMPROBABLE
        found = unexplained(plain, years, at_couplings([fit], everywhere), limits, improbable=asked)
        again = number > 0 and bool((found.flagged == flagged).all())
        flagged = found.flagged
        jump = np.nansum(np.where(flagged[:, None], found.extra, 0.0), axis=0)
        if again:
            break
        fit = _maximum(chains(plain.widened(found.extra), years), prior)
    total = float(years.sum())
    per_year, variance = 0.0, np.zeros(4)
    if prior is not None:
        real = max(0.0, float(flagged.sum()) - expected_false(len(legs)))
        counted = prior.jumps_per_year * prior.years
        per_year = (real + counted) / (total + prior.years)
        # One jump of the usual size counts with those seen.
        variance = (jump + np.square(prior.jump)) / (float(flagged.sum()) + 1.0)
    return replace(
        fit,
        jumps_per_year=per_year,
        jump_variance=tuple(float(one) for one in variance),
        by_hours=by_hours,
        couplings=len(np.unique(legs.coupling)),
        legs=len(legs),
        flagged=int(flagged.sum()),
        left_variance=FLAT if prior is None else _left(legs, prior),
    )


def _left(legs: Legs, prior: Prior) -> tuple[float, ...]:
    """Variance of the positions crews leave couplings in: of fresh as-left readings, less the readings' own."""
    square = np.where(legs.shared[:, None], np.nan, legs.start**2 - legs.start_variance)
    known = np.isfinite(square)
    usual = np.square(prior.rate)  # what a year's drift would undo
    found = (np.where(known, square, 0.0).sum(axis=0) + LEFT_WEIGHT * usual) / (known.sum(axis=0) + LEFT_WEIGHT)
    return tuple(float(one) for one in np.maximum(found, 0.01 * usual))


def _maximum(laid: Chains, prior: Prior | None) -> GroupFit:
    """Each component by itself: log tau^2 and log q by search, m in closed form."""
    results = [_component(laid.component(c), None if prior is None else prior.rate[c]) for c in range(4)]
    m, error, tau2, q, height = (tuple(float(one) for one in column) for column in zip(*results, strict=True))
    return GroupFit(m, error, tau2, q, 0.0, (0.0,) * 4, log_likelihood=sum(height))


def _component(laid: Chains, usual: float | None) -> tuple[float, float, float, float, float]:
    scale = _scale(laid, usual)

    def at(point: Floats) -> tuple[float, float, float]:
        tau2, q = np.exp(np.clip(point, -40, 40)) * scale
        state = filtered(laid, q)
        wider = 1 + tau2 * state.tt
        precision = float((state.tt / wider).sum()) + (1 / usual**2 if usual else 0.0)
        m = float((state.td / wider).sum()) / precision if precision > 0 else 0.0
        height = float(log_likelihood(state, m, tau2).sum())
        if usual:
            # The mean is integrated out; the variances are believed to lie within a few times the usual square.
            height -= 0.5 * (np.log(precision * usual**2) + (m / usual) ** 2)
            height -= 0.5 * float(np.square(np.log([tau2 / usual**2, q / usual**2]) / DOUBT).sum())
        return height, m, 1 / precision if precision > 0 else 0.0

    def depth(point: Floats) -> float:
        return -at(point)[0]

    start: Floats = np.full(2, np.log(0.5))
    simplex = start + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    options: Any = {"xatol": 1e-4, "fatol": 1e-5, "initial_simplex": simplex}
    found = optimize.minimize(depth, start, method="Nelder-Mead", options=options)
    peak: Floats = np.clip(found.x, -40, 40)
    height, m, error = at(peak)
    if usual:
        # The mean of the variances rather than their likeliest value: what is not known of them widens the interval.
        tau2, q = np.exp(peak + _doubt(depth, peak) / 2) * scale
        _, m, error = at(np.log(np.array([tau2, q]) / scale))
    else:
        (tau2, q), error = np.exp(peak) * scale, 0.0
    return m, error, float(tau2), float(q), height


def _doubt(depth: Callable[[Floats], float], peak: Floats) -> Floats:
    """Variances of the two logarithms from the curvature at the peak, never more than was doubted before."""
    h = 0.1
    steps = h * np.array([[1.0, 0.0], [0.0, 1.0]])
    middle = depth(peak)
    curve = np.empty((2, 2))
    for i in range(2):
        curve[i, i] = (depth(peak + steps[i]) - 2 * middle + depth(peak - steps[i])) / h**2
    both, across = steps[0] + steps[1], steps[0] - steps[1]
    curve[0, 1] = curve[1, 0] = (
        depth(peak + both) - depth(peak + across) - depth(peak - across) + depth(peak - both)
    ) / (4 * h**2)
    if not (np.linalg.eigvalsh(curve) > 0).all():
        return np.full(2, DOUBT**2)
    return np.minimum(np.diag(np.linalg.inv(curve)), DOUBT**2)


def _scale(laid: Chains, usual: float | None) -> Floats:
    """Sizes of tau^2 and q to begin from: what the moves would be, were each all rate or all diffusion."""
    moves = np.concatenate([leg.move[0][leg.known[0]] for leg in laid.places])
    years = np.maximum(np.concatenate([leg.years[leg.known[0]] for leg in laid.places]), 1e-3)
    least = (usual or 1.0) ** 2 * 1e-4
    if not len(moves):
        return np.array([least, least])
    return np.maximum([np.median((moves / years) ** 2), np.median(moves**2 / years)], least)
