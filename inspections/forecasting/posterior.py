"""What is believed of each coupling now: where it was left, how fast it drifts, and how sure either is.

Arrays have the component first, shape (4, n). Time is in years of the clock of the coupling's group.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from inspections.forecasting.drift import LEAST, Chains, Filtered, chains, clock_years, filtered, nothing
from inspections.forecasting.envelope import Envelope
from inspections.forecasting.jumps import Evidence, unexplained
from inspections.forecasting.legs import Bools, Floats, ForecastError, Ints, Legs, Standing
from inspections.forecasting.parameters import Parameters

FAR_OUT = 3.0  # standard deviations from which on a coupling was left where it was on purpose


@dataclass(frozen=True, eq=False)
class Belief:
    """Normal law of position and rate of n couplings, as they were last left.

    Attributes
    ----------
    position, position_variance : ndarray, shape (4, n)
        Less the target; nan where it was never left measured. [mm, mm, mrad, mrad] and squares
    rate, rate_variance : ndarray, shape (4, n)
        [mm/year, mrad/year] and squares
    together : ndarray, shape (4, n)
        Covariance of position and rate; 0 unless the position is an uncorrected as-found.
    own : ndarray, shape (4, n)
        Weight of the coupling's own legs in its rate, 0 to 1; the rest is the group's.
    diffusion, jump_variance : ndarray, shape (4, n)
        Of the group. [mm^2/year, mrad^2/year], [mm^2, mrad^2]
    jumps_per_year : ndarray, shape (n,)
    legs : ndarray of int, shape (n,)
    longest : ndarray, shape (n,)
        Longest leg; a forecast past twice that is extrapolation. [year]
    """

    position: Floats
    position_variance: Floats
    rate: Floats
    rate_variance: Floats
    together: Floats
    own: Floats
    diffusion: Floats
    jump_variance: Floats
    jumps_per_year: Floats
    legs: Ints
    longest: Floats

    def __len__(self) -> int:
        return len(self.jumps_per_year)

    def taken(self, which: Ints | Bools) -> Belief:
        """Some of the couplings."""
        return Belief(**{name: values[..., which] for name, values in vars(self).items()})


def by_coupling(laid: Chains, state: Filtered, couplings: int) -> Filtered:
    """The filter's sums in the order of couplings, those without a leg included.

    Parameters
    ----------
    laid : Chains
    state : Filtered
        Of `filtered(laid, ...)`.
    couplings : int
        How many there are.

    Returns
    -------
    Filtered

    References
    ----------
    Common practice.
    """
    parts = {name: np.array(values) for name, values in vars(nothing(couplings)).items()}
    for name, values in vars(state).items():
        parts[name][:, laid.couplings] = values
    return Filtered(**parts)


def believed(
    state: Filtered, parameters: Parameters, standing: Standing, legs: Ints, longest: Floats
) -> Belief:  # fmt: skip
    """Posterior of every coupling from what its legs said and how it was last left.

    Parameters
    ----------
    state : Filtered
        n couplings.
    parameters : Parameters
        Of the same. [mm/year, mrad/year] and squares
    standing : Standing
    legs, longest : ndarray, shape (n,)
        Number of legs, and the longest of them. [year]

    Returns
    -------
    Belief
        Rate: ``variance = tau^2 / (1 + tau^2 tt)``, ``mean = m + variance (td - m tt)``, and what the group's own mean
        is uncertain by. Position: a fresh as-left is drawn towards the target by as much as its reading's variance
        weighs against the group's `left_variance`, so that noise is not taken for misalignment; where the last reading
        is the end of the last leg, position and rate are filtered together.

    References
    ----------
    Conjugate normal posterior; Kalman filter as in `drift.advanced`. The uncertainty of the group's mean is added as
    its variance times the square of its weight.
    """
    tau2 = parameters.rate_variance
    shrunk = 1 / (1 + tau2 * state.tt)
    variance = tau2 * shrunk
    rate = parameters.rate + variance * (state.td - parameters.rate * state.tt)
    variance = variance + parameters.rate_error * shrunk**2
    carried = standing.carried & (state.end > 0)
    gain = np.where(carried, state.end / state.pivot, 0.0)
    read, noise = standing.position.T, standing.variance.T
    # Where crews usually leave a coupling says something of this one too, unless its reading is far outside that.
    usual = np.maximum(parameters.left_variance, np.square(read) / FAR_OUT**2 - noise)
    trust = np.where(carried, 1.0, 1 / (1 + noise / np.maximum(usual, LEAST)))
    return Belief(
        read * trust - gain * (state.move - rate * state.years),
        noise * trust * (1 - gain) + (gain * state.years) ** 2 * variance,
        rate,
        variance,
        gain * state.years * variance,
        1 - shrunk,
        parameters.diffusion,
        parameters.jump_variance,
        parameters.jumps_per_year,
        legs,
        longest,
    )


def fleet_beliefs(
    legs: Legs, standing: Standing, parameters: Parameters, limits: Envelope | None = None
) -> tuple[Belief, Evidence, Filtered]:
    """Everything from the legs, for one coupling or all: the full computation.

    Parameters
    ----------
    legs : Legs
    standing : Standing
        Of all couplings, by number.
    parameters : Parameters
        Of the same. [mm/year, mrad/year] and squares
    limits : Envelope, optional
        Of the same.

    Returns
    -------
    belief : Belief
    evidence : Evidence
        Per leg; flagged legs are widened in the belief.
    state : Filtered
        To keep: `drift.advanced` adds a leg to it, as long as parameters and flags of the legs before stand.

    Raises
    ------
    ForecastError
        The number of couplings does not agree.

    References
    ----------
    As `believed`.
    """
    n = len(standing.day)
    if parameters.rate.shape != (4, n) or (len(legs) and int(legs.coupling[-1]) >= n):
        raise ForecastError("couplings", "Legs, last positions and parameters are of different couplings.")
    years = clock_years(legs, parameters.by_hours[legs.coupling])
    evidence = unexplained(legs, years, parameters, limits)
    laid = chains(legs.widened(evidence.extra), years)
    state = by_coupling(laid, filtered(laid, parameters.diffusion[:, laid.couplings]), n)
    longest = np.zeros(n)
    np.maximum.at(longest, legs.coupling, years)
    count = np.bincount(legs.coupling, minlength=n)
    return believed(state, parameters, standing, count, longest), evidence, state


def ahead(belief: Belief, years: Floats, reading_variance: Floats | float = 0.0) -> tuple[Floats, Floats]:
    """Mean and variance of each component some time after it was left, jumps not counted.

    Parameters
    ----------
    belief : Belief
    years : ndarray, shape (n,)
        Since the last reading, on the clock of the group. [year]
    reading_variance : ndarray, shape (4, n), or float
        Of the next reading; 0 for the true position. [mm^2, mrad^2]

    Returns
    -------
    mean, variance : ndarray, shape (4, n)
        ``x + v T`` and ``var(x) + 2 T cov(x, v) + T^2 var(v) + q T`` and the reading's. [mm, mm, mrad, mrad], squares

    References
    ----------
    Wiener process with drift.
    """
    mean = belief.position + belief.rate * years
    variance = (
        belief.position_variance
        + 2 * years * belief.together
        + years**2 * belief.rate_variance
        + belief.diffusion * years
        + reading_variance
    )
    return mean, variance


def interval(
    belief: Belief, years: Floats, reading_variance: Floats | float = 0.0, share: float = 0.9
) -> tuple[Floats, Floats]:
    """Interval in which each component will be, a jump on the way counted with its probability.

    Parameters
    ----------
    belief : Belief
    years : ndarray, shape (n,)
        [year]
    reading_variance : ndarray, shape (4, n), or float
        Of the next reading. [mm^2, mrad^2]
    share : float
        Between 0 and 1.

    Returns
    -------
    low, high : ndarray, shape (4, n)
        [mm, mm, mrad, mrad]

    Raises
    ------
    ForecastError
        A share outside (0, 1).

    References
    ----------
    Mixture of two normal laws around one mean, with and without one jump; its quantile by bisection.
    """
    if not 0 < share < 1:
        raise ForecastError("share", "An interval holds a share between 0 and 1.")
    mean, variance = ahead(belief, years, reading_variance)
    calm = np.exp(-belief.jumps_per_year * years)
    narrow, wide = np.sqrt(variance), np.sqrt(variance + belief.jump_variance)
    wanted = 0.5 + share / 2
    factor = float(special.ndtri(wanted))
    low, high = factor * narrow, factor * wide
    for _ in range(40):
        middle = (low + high) / 2
        enough = calm * special.ndtr(middle / narrow) + (1 - calm) * special.ndtr(middle / wide) >= wanted
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    return mean - high, mean + high
