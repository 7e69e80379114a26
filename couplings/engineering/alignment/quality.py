"""How good a set of readings is: closure, return to zero, residual, arc, and what follows, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from couplings.engineering.alignment.readings import (
    AlignmentError,
    ReadingSet,
    direction_deg,
    directions,
    distinct_angles_deg,
)

# Half as uncertain again as a full turn is where a person should hear of it; the 9-12-3 half turn stands exactly there.
WORTH_A_WORD = 1.5 - 1e-9
DEVIATIONS = 3.0
WORDS = ("two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


@dataclass(frozen=True)
class SetQuality:
    """Quality of one set of readings.

    Attributes
    ----------
    closure_mm : float or None
        One opposite pair's sum less the other's, full dial readings; None where no two opposite pairs were read. [mm]
    closure_sd_mm : float or None
        Its standard deviation from the stated uncertainty: twice that of one reading. [mm]
    rms_mm : float
        Root mean square of the residuals of this set in the common fit. [mm]
    arc_deg : float
        Arc covered; 360 when the positions go all round. [deg]
    inflation_v, inflation_h : float or None
        Standard deviation in the vertical and horizontal plane, against as many readings spread over a full turn;
        None when the set says nothing about the plane.
    """

    name: str
    closure_mm: float | None
    closure_sd_mm: float | None
    return_to_zero_mm: float | None
    rms_mm: float
    arc_deg: float
    inflation_v: float | None
    inflation_h: float | None
    warnings: tuple[str, ...]

    @property
    def closes(self) -> bool:
        """Whether the closure is within three deviations of the stated uncertainty (or cannot be told)."""
        if self.closure_mm is None or self.closure_sd_mm is None:
            return True
        return abs(self.closure_mm) <= DEVIATIONS * self.closure_sd_mm


def closure_mm(readings_mm: ArrayLike) -> NDArray[np.float64]:
    """Failure of four dial readings to lie on one circle's cosine.

    Parameters
    ----------
    readings_mm : array_like, shape (..., 4)
        Dial at 12, 3, 6, 9 o'clock, plunger in is +; before or after sag, never half-way. [mm]

    Returns
    -------
    ndarray, shape (...)
        (12 + 6) - (3 + 9); its standard deviation is twice one reading's. [mm]

    Raises
    ------
    AlignmentError
        A reading is missing or not finite.

    References
    ----------
    Plane geometry. As an acceptance check: U.S. Bureau of Reclamation, FIST 2-1 (rev. 2000), p. 22.
    """
    readings = np.asarray(readings_mm, dtype=float)
    if readings.ndim == 0 or readings.shape[-1] != 4 or not np.isfinite(readings).all():
        raise AlignmentError("readings", "A closure needs four readings, at 12, 3, 6 and 9.")
    return readings[..., 0] + readings[..., 2] - readings[..., 1] - readings[..., 3]


def set_closure(item: ReadingSet) -> tuple[float, float] | None:
    """Closure of a set and its standard deviation from the stated uncertainty, or None. [mm]

    Any two opposite pairs do, since each pair's sum is twice the constant; 12-6 against 3-9 is taken where it is
    there. Repeated positions are averaged. Readings with the shafts turned count only where the others give none:
    run-out leaves each kind's closure alone but not a mixture's.

    Parameters
    ----------
    item : ReadingSet
        With its sag and stated uncertainty. [mm]

    Returns
    -------
    (closure, standard deviation) or None
        None where no two opposite pairs were read. [mm]

    References
    ----------
    Plane geometry. As an acceptance check: common practice.
    """
    corrected, turned = item.corrected_mm(), item.turned_each
    for state in (False, True):
        found: dict[float, list[float]] = {}
        for angle, reading, each in zip(item.angles_deg, corrected, turned, strict=True):
            if each is state:
                found.setdefault(direction_deg(angle), []).append(float(reading))
        pairs = [a for a in found if a < 180.0 and direction_deg(a + 180.0) in found]
        if len(pairs) < 2:
            continue
        first = min(pairs, key=lambda a: min(a, 180.0 - a))
        second = min((a for a in pairs if a != first), key=lambda a: abs(abs(a - first) - 90.0))
        four = [found[direction_deg(a + half)] for half in (0.0, 180.0) for a in (first, second)]
        value = float(closure_mm([sum(readings) / len(readings) for readings in four]))
        return value, item.reading_u_mm * math.sqrt(sum(1.0 / len(readings) for readings in four))
    return None


def arc_deg(angles_deg: Sequence[float]) -> float:
    """Arc that the positions cover. [deg]

    A full turn when the widest space between neighbours is no more than one and a half times the next (12-3-6-9, or
    three positions 120 degrees apart); otherwise a full turn less the widest space. Two positions cover what lies
    between them.

    Parameters
    ----------
    angles_deg : sequence of floats
        Positions clockwise from 12, in any order, repeats allowed. [deg]

    Returns
    -------
    float
        0 to 360. [deg]

    References
    ----------
    Common practice; the factor one and a half is a choice that lets 12-3-6-9 with one position missed count as partial.
    """
    found = distinct_angles_deg(angles_deg)
    if len(found) < 2:
        return 0.0
    spaces = sorted(b - a for a, b in zip(found, [*found[1:], found[0] + 360.0], strict=True))
    if len(found) > 2 and spaces[-1] <= 1.5 * spaces[-2]:
        return 360.0
    return 360.0 - spaces[-1]


def inflation(angles_deg: Sequence[float]) -> tuple[float | None, float | None]:
    """How much less certain the vertical and the horizontal result are than after a full turn of as many readings.

    ``sqrt(n var / (2 sigma^2))`` from the covariance of constant, cosine and sine on these very positions; dense
    readings over an arc centred on top: 180 degrees 2.3 vertically, 120 4.7, 90 8.0, 60 17.6.

    Parameters
    ----------
    angles_deg : sequence of floats
        Positions clockwise from 12. [deg]

    Returns
    -------
    (vertical, horizontal)
        Factors; None for a plane that these positions do not see.

    References
    ----------
    Linear least squares, ``cov = sigma^2 (X'X)^-1``.
    """
    cosines, sines = directions(angles_deg)
    design = np.column_stack([np.ones_like(cosines), cosines, sines])
    covariance, known = pseudo_inverse(design)
    each = [math.sqrt(len(cosines) * covariance[i, i] / 2.0) if known[i] else None for i in (1, 2)]
    return each[0], each[1]


def pseudo_inverse(design: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Inverse of X'X on the columns that the rows can tell apart, and which single columns those are.

    Parameters
    ----------
    design : ndarray, shape (n, k)
        Rows of the linear model X, of any units. [1]

    Returns
    -------
    (ndarray, shape (k, k), ndarray of bool, shape (k,))
        The inverse, with nought in what cannot be told apart, and which columns are known.

    References
    ----------
    Moore-Penrose inverse by singular values.
    """
    lengths = np.linalg.norm(design, axis=0)
    lengths[lengths == 0.0] = 1.0
    triangle = np.linalg.qr(design / lengths, mode="r")
    _, values, directions_ = np.linalg.svd(triangle, full_matrices=True)
    strong = np.zeros(design.shape[1], dtype=bool)
    strong[: len(values)] = values > 1e-8 * values[0]
    known = (np.abs(directions_[~strong]) < 1e-6).all(axis=0)
    kept = directions_[strong] / values[strong[: len(values)]][:, None]
    return kept.T @ kept / np.outer(lengths, lengths), known


def assess(item: ReadingSet, residuals_mm: NDArray[np.float64]) -> SetQuality:
    """Everything that is said of one set after the fit.

    Parameters
    ----------
    item : ReadingSet
        As read. [mm]
    residuals_mm : ndarray
        What the fit leaves of each reading. [mm]

    Returns
    -------
    SetQuality
        Closure, return to zero, residual [mm], arc [deg], inflation and warnings.

    References
    ----------
    Common practice: closure, return to zero and a fourth position are the trade's checks.
    """
    closure = set_closure(item)
    arc = arc_deg(item.angles_deg)
    vertical, horizontal = inflation(item.angles_deg)
    quality = SetQuality(
        name=item.name,
        closure_mm=None if closure is None else closure[0],
        closure_sd_mm=None if closure is None else closure[1],
        return_to_zero_mm=item.return_to_zero_mm,
        rms_mm=float(np.sqrt(np.mean(residuals_mm**2))),
        arc_deg=arc,
        inflation_v=vertical,
        inflation_h=horizontal,
        warnings=(),
    )
    return SetQuality(**{**vars(quality), "warnings": tuple(_warnings(item, quality))})


def _warnings(item: ReadingSet, quality: SetQuality) -> list[str]:
    said = []
    for plane, factor in (("vertical", quality.inflation_v), ("horizontal", quality.inflation_h)):
        if factor is None:
            said.append(f"these positions say nothing about the {plane} plane")
        elif factor >= WORTH_A_WORD:
            said.append(
                f"turn further: over a {quality.arc_deg:.0f}° arc the {plane} result is {times(factor)} less certain"
            )
    if len(distinct_angles_deg(item.angles_deg)) == 3 and len(item.angles_deg) == 3:
        said.append("three positions always fit: nothing checks them, read a fourth")
    if not quality.closes and quality.closure_mm is not None and quality.closure_sd_mm is not None:
        share = abs(quality.closure_mm) / quality.closure_sd_mm
        said.append(f"opposite readings do not add up: {share:.1f} deviations of a closure, repeat the turn")
    if item.return_to_zero_mm is not None and abs(item.return_to_zero_mm) > DEVIATIONS * math.sqrt(2.0) * item.u_mm:
        said.append("the dial did not come back to its start: something slipped, repeat the turn")
    return said


def times(factor: float) -> str:
    """A factor in words where it is close to a whole number: eight times, 2.3 times, 18 times.

    Parameters
    ----------
    factor : float
        Above 1. [1]

    Returns
    -------
    str
        Such as 'eight times'.

    References
    ----------
    Common practice of writing numbers.
    """
    whole = round(factor)
    if 2 <= whole <= 10 and abs(factor - whole) <= 0.05:
        return f"{WORDS[whole - 2]} times"
    return f"{factor:.1f} times" if factor < 10 else f"{factor:.0f} times"
