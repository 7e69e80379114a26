"""One figure with its uncertainty against one or two limits: chance that it conforms, guard bands, and both risks."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from couplings.engineering.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE, TOO_CLOSE
from couplings.engineering.limits import ConformityError

Floats = NDArray[np.float64]
NODES = 400
EDGE = 1e-12  # of the limit: a unit's conversion must not push a value on its limit over it


def conformance(value: ArrayLike, u: float, lower: float | None = None, upper: float | None = None) -> Floats:
    """Probability that the true value lies within its limits.

    Parameters
    ----------
    value : array_like
        Any one unit. [mm] or another
    u : float
        Standard uncertainty; 0 decides by the value. [mm] or another
    lower, upper : float, optional
        The limits themselves conform. [mm] or another

    Returns
    -------
    ndarray
        [1]

    Raises
    ------
    ConformityError
        A negative uncertainty, no limit, or a lower one above the upper.

    References
    ----------
    JCGM 106:2012, 7.3 (one limit) and 7.4 (two), normal law.
    """
    _check(u, lower, upper)
    y = np.asarray(value, dtype=float)
    low, high = _ends(lower, upper)
    if u == 0:
        room = EDGE * max(abs(one) for one in (low, high) if math.isfinite(one))
        return ((y >= low - room) & (y <= high + room)).astype(float)
    # Whichever tail is the smaller, so that a difference of two numbers near 1 keeps its digits.
    with np.errstate(over="ignore"):
        above, below = (low - y) / u, (high - y) / u
    return np.where(
        above > 0, special.ndtr(-above) - special.ndtr(-below), special.ndtr(below) - special.ndtr(above)
    )  # fmt: skip


def guard_band(u: float, confidence: float = 0.95) -> float:
    """How far inside a limit a value must lie to conform with that confidence, and outside not to.

    Parameters
    ----------
    u : float
        Standard uncertainty. [mm] or another
    confidence : float
        Between 0.5 and 1.

    Returns
    -------
    float
        [mm] or the unit of u

    Raises
    ------
    ConformityError
        A confidence outside (0.5, 1).

    References
    ----------
    ISO 14253-1:2017, 95 % where nothing else is agreed (from memory); 1.645 u there.
    """
    if not 0.5 < confidence < 1:
        raise ConformityError("confidence", "The confidence must lie between 50 % and 100 %.")
    return float(special.ndtri(confidence)) * u


def decided(probability: float, inside: bool, confidence: float = 0.95, decision: str = "guarded") -> str:
    """Verdict by the probability of conformity, or by the value alone.

    Parameters
    ----------
    probability : float
        Of conformity. [1]
    inside : bool
        Whether the value itself keeps its limits.
    confidence : float
        Between 0.5 and 1.
    decision : {'guarded', 'simple'}

    Returns
    -------
    str
        'in tolerance', 'too close to call' or 'out of tolerance'.

    References
    ----------
    JCGM 106:2012, clause 8 (simple acceptance, guard bands), as `conformity.judge` decides.
    """
    if decision == "simple":
        return IN_TOLERANCE if inside else OUT_OF_TOLERANCE
    if probability >= confidence:
        return IN_TOLERANCE
    return OUT_OF_TOLERANCE if probability <= 1 - confidence else TOO_CLOSE


def risks(
    mean: float,
    spread: float,
    u: float,
    tolerance: tuple[float | None, float | None],
    acceptance: tuple[float | None, float | None],
) -> tuple[float, float]:
    """Of items like this one: how many are accepted and do not conform, and are refused and conform.

    Parameters
    ----------
    mean, spread : float
        Of the true values of such items. [mm] or another
    u : float
        Standard uncertainty of one measurement. [mm] or another
    tolerance, acceptance : (lower, upper)
        None where there is none. [mm] or another

    Returns
    -------
    (consumer, producer) : tuple of float
        Shares of all items. [1]

    Raises
    ------
    ConformityError
        A spread that is not above zero; as `conformance`.

    References
    ----------
    JCGM 106:2012, clause 9 (global risks): both normal; Gauss-Legendre over the true values.
    """
    if not spread > 0:
        raise ConformityError("spread", "The spread of such items must be above zero.")
    low, high = _ends(*tolerance)
    far = 9.0
    nodes, weights = np.polynomial.legendre.leggauss(NODES)

    def share(first: float, last: float, *, refused: bool) -> float:
        begin, end = max(first, mean - far * spread), min(last, mean + far * spread)
        if end <= begin:
            return 0.0
        true = (begin + end) / 2 + (end - begin) / 2 * nodes
        density = np.exp(-(((true - mean) / spread) ** 2) / 2) / (spread * math.sqrt(2 * math.pi))
        accepted = conformance(true, u, *acceptance)
        return float((weights * density * (1 - accepted if refused else accepted)).sum() * (end - begin) / 2)

    _check(u, *tolerance)
    consumer = share(-math.inf, low, refused=False) + share(high, math.inf, refused=False)
    return consumer, share(low, high, refused=True)


def _ends(lower: float | None, upper: float | None) -> tuple[float, float]:
    return -math.inf if lower is None else lower, math.inf if upper is None else upper


def _check(u: float, lower: float | None, upper: float | None) -> None:
    if not (math.isfinite(u) and u >= 0):
        raise ConformityError("standard_uncertainty", "The uncertainty must be a finite number, zero or above.")
    if lower is None and upper is None:
        raise ConformityError("upper", "Give at least one limit.")
    if lower is not None and upper is not None and not lower < upper:
        raise ConformityError("upper", "The upper limit must lie above the lower one.")
