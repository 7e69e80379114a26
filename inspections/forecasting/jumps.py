"""Legs that moved more than their history explains: pipe strain, a foundation bolt, a base, a bearing, a wrong reading.

A leg is predicted from the group and from all other legs of its coupling. Where the four components together are
improbable and the leg moved a share of the tolerance worth asking about, it is a jump: it asks for a cause, and in the
fit it is widened by what it exceeds its prediction, never deleted.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from inspections.forecasting.drift import LEAST, Chains, chains
from inspections.forecasting.envelope import Envelope, used
from inspections.forecasting.legs import Bools, Floats, Legs
from inspections.forecasting.parameters import Parameters

IMPROBABLE = 0.001
WORTH_ASKING = 0.25  # of the tolerance: our own proposal; keeps a large fleet from one false question per 1,000 legs
PASSES = 3  # the most improbable leg of a coupling is widened first, then the others are looked at again


@dataclass(frozen=True, eq=False)
class Evidence:
    """What speaks for a jump in each of n legs.

    Attributes
    ----------
    distance : ndarray, shape (n,)
        Sum of squared standard deviations by which the leg misses its prediction, over the components known. [1]
    probability : ndarray, shape (n,)
        Of one as far or farther, chi-square with as many degrees of freedom as components known.
    moved : ndarray, shape (n,)
        Share of the tolerance moved through; nan where the coupling has no limits.
    z : ndarray, shape (n, 4)
        By how many standard deviations each component misses; nan where not known.
    flagged : ndarray of bool, shape (n,)
    extra : ndarray, shape (n, 4)
        Variance to widen a flagged leg by; 0 for others. [mm^2, mrad^2]
    """

    distance: Floats
    probability: Floats
    moved: Floats
    z: Floats
    flagged: Bools
    extra: Floats

    @property
    def largest(self) -> NDArray[np.int64]:
        """Which component misses most, shape (n,)."""
        return np.argmax(np.abs(np.nan_to_num(self.z)), axis=1)


def expected_false(legs: int) -> float:
    """Flags to expect among so many legs without a jump.

    Parameters
    ----------
    legs : int

    Returns
    -------
    float

    References
    ----------
    The meaning of a probability of 0.001; an upper figure, because a leg must also have moved.
    """
    return IMPROBABLE * legs


def left_out(laid: Chains, parameters: Parameters, legs: int) -> tuple[Floats, Floats]:
    """By how much each leg misses what the group and the coupling's other legs predict.

    Parameters
    ----------
    laid : Chains
    parameters : Parameters
        Of all couplings, by number. [mm/year, mrad/year] and squares
    legs : int
        How many there are.

    Returns
    -------
    miss, variance : ndarray, shape (legs, 4)
        Move less its prediction, and the variance of that; nan where not known. [mm, mm, mrad, mrad] and squares

    References
    ----------
    Leave-one-out errors of a normal vector from its precision matrix K: [K d]_k / K_kk with variance 1 / K_kk; the band
    is solved forwards and backwards, the coupling's rate added by the Sherman-Morrison identity.
    """
    of = parameters.taken(laid.couplings)
    n = len(laid)
    pivot, move, years, end = np.ones((4, n)), np.zeros((4, n)), np.zeros((4, n)), np.zeros((4, n))
    tt, td = np.zeros((4, n)), np.zeros((4, n))
    kept: list[tuple[Floats, Floats, Floats, Floats]] = []
    for leg in laid.places:
        m = len(leg.years)
        link = np.where(end[:, :m] > 0, leg.link, 0.0)
        share = link / pivot[:, :m]
        spread = of.diffusion[:, :m] * leg.years + leg.noise - share * link
        pivot[:, :m] = np.where(leg.known, np.maximum(spread, LEAST), 1.0)
        move[:, :m] = leg.move - share * move[:, :m]
        years[:, :m] = np.where(leg.known, leg.years, 0.0) - share * years[:, :m]
        end[:, :m] = leg.end
        tt[:, :m] += years[:, :m] ** 2 / pivot[:, :m]
        td[:, :m] += years[:, :m] * move[:, :m] / pivot[:, :m]
        kept.append((share, pivot[:, :m].copy(), move[:, :m] / pivot[:, :m], years[:, :m] / pivot[:, :m]))
    tau2 = of.rate_variance + of.rate_error
    pull = tau2 / (1 + tau2 * tt)
    pulled = pull * (td - of.rate * tt)
    miss, variance = np.full((legs, 4), np.nan), np.full((legs, 4), np.nan)
    later = np.zeros((4, n)), np.zeros((4, n)), np.zeros((4, n)), np.zeros((4, n))
    for leg, (share, own, d, t) in zip(reversed(laid.places), reversed(kept), strict=True):
        m = len(leg.years)
        share_next, inverse_next, d_next, t_next = (one[:, :m] for one in later)
        inverse = 1 / own + share_next**2 * inverse_next
        d = d - share_next * d_next
        t = t - share_next * t_next
        precision = np.maximum(inverse - pull[:, :m] * t**2, 1e-30)
        error = d - of.rate[:, :m] * t - pulled[:, :m] * t
        miss[leg.row] = np.where(leg.known, error / precision, np.nan).T
        variance[leg.row] = np.where(leg.known, 1 / precision, np.nan).T
        for place, value in zip(later, (share, inverse, d, t), strict=True):
            place[:, :m] = value
    return miss, variance


def unexplained(
    legs: Legs,
    years: Floats,
    parameters: Parameters,
    limits: Envelope | None = None,
    *,
    improbable: float = IMPROBABLE,
) -> Evidence:
    """Which legs moved more than their history explains.

    Parameters
    ----------
    legs : Legs
        As built; what was widened before is looked at afresh.
    years : ndarray, shape (n,)
        On the clock of each coupling's group. [year]
    parameters : Parameters
        Of all couplings, by number.
    limits : Envelope, optional
        Of all couplings, by number; without, the probability alone decides.
    improbable : float
        The probability below which a leg is flagged.

    Returns
    -------
    Evidence

    References
    ----------
    Chi-square test at p < 0.001 (18.467 with four components: NIST/SEMATECH e-Handbook 1.3.6.7.4, from memory); the
    second condition, a quarter of the tolerance, is our own proposal.
    """
    moved = np.full(len(legs), np.nan)
    if limits is not None and len(legs):
        mine = limits.taken(legs.coupling)
        moved = np.where(mine.known, used(mine, np.nan_to_num(legs.moves)), np.nan)
    extra = np.zeros((len(legs), 4))
    flagged = np.zeros(len(legs), dtype=bool)
    for _ in range(PASSES):
        miss, variance = left_out(chains(legs.widened(extra), years), parameters, len(legs))
        bare = np.where(flagged[:, None], variance - extra, variance)
        z = miss / np.sqrt(bare)
        distance = np.nansum(z**2, axis=1)
        known = np.isfinite(z).sum(axis=1)
        probability = np.where(known > 0, special.chdtrc(np.maximum(known, 1), distance), 1.0)
        candidate = (probability < improbable) & ~(moved < WORTH_ASKING)
        new = _worst(legs, np.where(candidate & ~flagged, distance, 0.0))
        flagged = (flagged & candidate) | new
        extra = np.where(flagged[:, None], np.nan_to_num(np.maximum(miss**2 - bare, 0.0)), 0.0)
        if not new.any():
            break
    return Evidence(distance, probability, moved, z, flagged, extra)


def _worst(legs: Legs, distance: Floats) -> Bools:
    """The most distant leg of each coupling, where any is above zero."""
    if not len(legs):
        return np.zeros(0, dtype=bool)
    order = np.lexsort((-distance, legs.coupling))
    first = np.append(True, np.diff(legs.coupling[order]) > 0)
    worst = np.zeros(len(legs), dtype=bool)
    worst[order[first]] = True
    return worst & (distance > 0)
