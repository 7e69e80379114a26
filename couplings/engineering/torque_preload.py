"""Torque and preload by a nut factor, how far the preload scatters, and what it loses.

K of T = K D F is never assumed here: whoever calls names it and where it is from. `friction` finds it from friction.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from couplings.engineering.threads import FastenerError, positive


def torque_nm(nut_factor: float, diameter_mm: float, preload_n: float) -> float:
    """Short form: torque that gives a preload.

    Parameters
    ----------
    nut_factor : float or ndarray
        K. [1]
    diameter_mm : float or ndarray
        Nominal diameter D. [mm]
    preload_n : float or ndarray
        F. [N]

    Returns
    -------
    float or ndarray
        ``K D F``. [N*m]

    References
    ----------
    Shigley, 9th ed., eq. 8-27 p. 439; NASA-STD-5020B eq. 24.
    """
    for name, value in (("nut_factor", nut_factor), ("diameter", diameter_mm), ("preload", preload_n)):
        positive(name, value)
    return nut_factor * diameter_mm / 1000 * preload_n


def preload_n(nut_factor: float, diameter_mm: float, torque: float) -> float:
    """Short form the other way: the preload of a torque.

    Parameters
    ----------
    nut_factor : float
        K. [1]
    diameter_mm : float
        Nominal. [mm]
    torque : float
        [N*m]

    Returns
    -------
    float
        ``T / (K D)``. [N]

    References
    ----------
    Shigley, 9th ed., eq. 8-27, from memory.
    """
    for name, value in (("nut_factor", nut_factor), ("diameter", diameter_mm), ("torque", torque)):
        positive(name, value)
    return torque * 1000 / (nut_factor * diameter_mm)


def nut_factor_from(torque: float, diameter_mm: float, preload: float) -> float:
    """K that a test gave.

    Parameters
    ----------
    torque : float
        [N*m]
    diameter_mm : float
        Nominal. [mm]
    preload : float
        Measured. [N]

    Returns
    -------
    float
        ``T / (D F)``. [1]

    References
    ----------
    NASA-STD-5020B eq. 24.
    """
    for name, value in (("torque", torque), ("diameter", diameter_mm), ("preload", preload)):
        positive(name, value)
    return torque * 1000 / (diameter_mm * preload)


def preload_range_n(
    nut_factor: float,
    diameter_mm: float,
    torque_low_nm: float,
    torque_high_nm: float,
    scatter: float,
    loss_share: float = 0.0,
    loss_n: float = 0.0,
) -> tuple[float, float]:
    """Smallest preload left after its losses, and largest at tightening.

    Parameters
    ----------
    nut_factor, diameter_mm
        K [1] and D [mm].
    torque_low_nm, torque_high_nm : float
        Torque less and plus what the tool may be off. [N*m]
    scatter : float
        Half width of the preload about T/(K D), a share of it, from a published set or tests. [1]
    loss_share, loss_n : float
        Relaxation as a share of the smallest initial preload [1], embedment [N].

    Returns
    -------
    (low, high)
        ``(1 - G) T_low/(K D) (1 - loss) - loss_n`` and ``(1 + G) T_high/(K D)``; low may be negative: nothing is left.
        [N]

    Raises
    ------
    FastenerError
        A scatter or loss outside 0 to below 1, a negative embedment, torques out of order.

    References
    ----------
    NASA TM-106943 eqs. 14 and 16; NASA-STD-5020B s. 4.3.1.
    """
    if not 0 <= scatter < 1:
        raise FastenerError("scatter", "A scatter is a share from 0 to below 1.")
    if not 0 <= loss_share < 1:
        raise FastenerError("loss", "A loss is a share from 0 to below 1.")
    if not (math.isfinite(loss_n) and loss_n >= 0):
        raise FastenerError("embedment", "A loss by embedment is not negative.")
    if torque_low_nm > torque_high_nm:
        raise FastenerError("torque", "The lowest torque is above the highest.")
    low = (1 - scatter) * preload_n(nut_factor, diameter_mm, torque_low_nm)
    return low * (1 - loss_share) - loss_n, (1 + scatter) * preload_n(nut_factor, diameter_mm, torque_high_nm)


def lowest_by_tightening_factor(highest: float, alpha_a: float) -> float:
    """VDI's way to say scatter: the smallest preload is the largest over the tightening factor.

    Parameters
    ----------
    highest : float
        Largest preload. [N]
    alpha_a : float
        alpha_A, at least 1. [1]

    Returns
    -------
    float
        [N]

    Raises
    ------
    FastenerError
        A preload not above zero, a factor below 1.

    References
    ----------
    VDI 2230-1.
    """
    positive("highest", highest)
    if not (math.isfinite(alpha_a) and alpha_a >= 1):
        raise FastenerError("alpha_a", "A tightening factor is at least 1.")
    return highest / alpha_a


def after_relaxation_n(preload: float, loss_share: float) -> float:
    """What is left of a preload after a share of it is lost.

    Parameters
    ----------
    preload : float
        [N]
    loss_share : float
        0 to below 1. [1]

    Returns
    -------
    float
        [N]

    Raises
    ------
    FastenerError
        A preload not above zero, a share out of range.

    References
    ----------
    NASA-STD-5020B s. 4.3.1.
    """
    positive("preload", preload)
    if not 0 <= loss_share < 1:
        raise FastenerError("loss", "A loss is a share from 0 to below 1.")
    return preload * (1 - loss_share)


def embedding_loss_n(depth_mm: float, bolt_mm_per_n: float, joint_mm_per_n: float) -> float:
    """Preload lost as the seats flatten.

    Parameters
    ----------
    depth_mm : float
        Sum over the seats; amounts in tables/nut_factors.py. [mm]
    bolt_mm_per_n, joint_mm_per_n : float
        Resiliences delta_S and delta_P. [mm/N]

    Returns
    -------
    float
        ``f_Z / (delta_S + delta_P)``. [N]

    Raises
    ------
    FastenerError
        A depth or resilience that cannot be.

    References
    ----------
    VDI 2230 (from memory).
    """
    positive("depth", depth_mm)
    positive("bolt_resilience", bolt_mm_per_n)
    if not (math.isfinite(joint_mm_per_n) and joint_mm_per_n >= 0):
        raise FastenerError("joint_resilience", "A resilience is not negative.")
    return depth_mm / (bolt_mm_per_n + joint_mm_per_n)


@dataclass(frozen=True)
class TestedScatter:
    """Preloads of tests: mean and standard deviation (n - 1) [N], extremes about the mean as shares of it. [1]"""

    mean: float
    sd: float
    high: float
    low: float

    def tolerance(self, k_factor: float) -> float:
        """Scatter as a share of the mean for a tolerance factor k of the number of tests (NASA-STD-5020B A.2)."""
        positive("k_factor", k_factor)
        return k_factor * self.sd / self.mean


def scatter_of_tests(preloads: Sequence[float]) -> TestedScatter:
    """Scatter from one's own tests.

    Parameters
    ----------
    preloads : sequence of floats
        In any unit. [N]

    Returns
    -------
    TestedScatter
        [N], [1]

    Raises
    ------
    FastenerError
        Fewer than two, or one not above zero.

    References
    ----------
    NASA-STD-5020B App. A.2, Table 6; Shigley, 9th ed., Tables 8-13 and 8-14.
    """
    values = np.asarray(preloads, dtype=float)
    if values.ndim != 1 or values.size < 2:
        raise FastenerError("preloads", "At least two tests are needed to see a scatter.")
    positive("preloads", values)  # type: ignore[arg-type]
    mean = float(values.mean())
    return TestedScatter(
        mean, float(values.std(ddof=1)), float(values.max()) / mean - 1, 1 - float(values.min()) / mean
    )
