"""The limits of many couplings as numbers, and how much of the tolerance a position uses.

Every limit is a row of four factors over (offset vertical, offset horizontal, slope vertical, slope horizontal), the
limit itself divided out: vertical and horizontal part are added as a vector, so that a length of 1 lies on the limit.
A limit per plane is two rows with one part each. Axial limits are left out: a gap does not drift with the feet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from couplings.engineering.alignment.misalignment import checked_planes
from couplings.engineering.limits import Limits
from inspections.forecasting.legs import Bools, Floats, ForecastError, Ints

OFFSET, ANGLE = 1, 2


@dataclass(frozen=True, eq=False)
class Envelope:
    """Limits of n couplings, at most k rows each; rows of zeros where there are fewer.

    `arms` (n, k, 4): shares of the limit per unit of each component [1/mm, 1/mm, 1/mrad, 1/mrad]; `part` (n, k): 1
    where the row is an offset, 2 where an angle of a data sheet that wants the sum of the two ratios to be at most 1,
    else 0.
    """

    arms: Floats
    part: Ints

    def __len__(self) -> int:
        return len(self.arms)

    def taken(self, which: Ints | Bools) -> Envelope:
        """Some of the couplings."""
        return Envelope(self.arms[which], self.part[which])

    @property
    def known(self) -> Bools:
        """Couplings that have a limit at all."""
        return np.asarray((self.arms != 0).any(axis=(1, 2)))


def envelope(limits: Sequence[Limits | None], flex_planes_mm: Sequence[tuple[float, float] | None]) -> Envelope:
    """Limits as data sheets and speed grades state them, for a fleet.

    Parameters
    ----------
    limits : sequence of Limits or None
        One per coupling; None where none are set. [mm], [mrad]
    flex_planes_mm : sequence of (x_A, x_B) or None
        In the record's frame: A on the driven side. [mm]

    Returns
    -------
    Envelope

    Raises
    ------
    ForecastError
        A limit on a flex angle without the flex planes; an unlike number of rows.

    References
    ----------
    As `couplings.engineering.conformity.judge`; the combined rule is common practice.
    """
    if len(limits) != len(flex_planes_mm):
        raise ForecastError("flex_planes", "Give the flex planes of every coupling, or None.")
    rows = [_rows(one, planes) for one, planes in zip(limits, flex_planes_mm, strict=True)]
    most = max([1, *(len(found) for found in rows)])
    arms, part = np.zeros((len(rows), most, 4)), np.zeros((len(rows), most), dtype=np.int64)
    for i, found in enumerate(rows):
        for k, (row, kind) in enumerate(found):
            arms[i, k], part[i, k] = row, kind
    return Envelope(arms, part)


def round_limits(offset_mm: Floats, slope_mrad: Floats) -> Envelope:
    """Vector limits on offset and slope at the coupling's centre, and nothing else.

    Parameters
    ----------
    offset_mm, slope_mrad : ndarray, shape (n,)
        Above zero. [mm], [mrad]

    Returns
    -------
    Envelope

    References
    ----------
    Common practice.
    """
    arms = np.zeros((len(offset_mm), 2, 4))
    arms[:, 0, :2] = 1 / np.asarray(offset_mm)[:, None]
    arms[:, 1, 2:] = 1 / np.asarray(slope_mrad)[:, None]
    return Envelope(arms, np.zeros(arms.shape[:2], dtype=np.int64))


def shares(limits: Envelope, position: Floats) -> Floats:
    """Share of every limit that a position uses.

    Parameters
    ----------
    limits : Envelope
        Of n couplings.
    position : ndarray, shape (n, ..., 4)
        Less the target. [mm, mm, mrad, mrad]

    Returns
    -------
    ndarray, shape (n, ..., k)
        1 is on the limit; nan where a component it needs is not known.

    References
    ----------
    As `envelope`.
    """
    up, across = _parts(limits, position)
    return np.hypot(up, across)


def used(limits: Envelope, position: Floats) -> Floats:
    """Tolerance used: the largest share of a limit, or the sum of ratios where the data sheet wants it.

    Parameters
    ----------
    limits : Envelope
        Of n couplings.
    position : ndarray, shape (n, ..., 4)
        Less the target. [mm, mm, mrad, mrad]

    Returns
    -------
    ndarray, shape (n, ...)
        0 or above; nan where a component that a limit needs is not known; 0 where there are no limits.

    References
    ----------
    As `couplings.engineering.conformity.judge`.
    """
    found = shares(limits, position)
    part = limits.part.reshape(len(limits), *(1,) * (found.ndim - 2), limits.part.shape[1])
    total = [np.max(np.where(part == kind, found, 0.0), axis=-1) for kind in (OFFSET, ANGLE)]
    return np.maximum(np.max(found, axis=-1), total[0] + total[1])


def _parts(limits: Envelope, position: Floats) -> tuple[Floats, Floats]:
    arms = limits.arms.reshape(len(limits), *(1,) * (position.ndim - 2), limits.arms.shape[1], 4)
    # A factor of zero wins over a component nobody read.
    given = np.where((arms != 0), position[..., None, :], 0.0)
    weighed = arms * given
    return weighed[..., 0] + weighed[..., 2], weighed[..., 1] + weighed[..., 3]


def _rows(limits: Limits | None, planes: tuple[float, float] | None) -> list[tuple[Floats, int]]:
    if limits is None:
        return []
    found: list[tuple[Floats, int]] = []
    for limit in limits.limits:
        if limit.quantity == "axial":
            continue
        summed = limits.combined and limit.family == "sheet"
        kind = (OFFSET if limit.quantity == "offset" else ANGLE) if summed else 0
        both = ("flex-angle-a", "flex-angle-b") if limit.quantity == "flex-angle" else (limit.quantity,)
        for quantity in both:
            y, s = _arm(quantity, planes)
            row = np.array([y, y, s, s]) / limit.value
            if limits.rule == "vector":
                found.append((row, kind))
            else:
                found += [(row * np.array([1.0, 0, 1, 0]), kind), (row * np.array([0.0, 1, 0, 1]), kind)]
    return found


def _arm(quantity: str, planes: tuple[float, float] | None) -> tuple[float, float]:
    if quantity == "offset":
        return 1.0, 0.0
    if quantity == "angularity":
        return 0.0, 1.0
    if planes is None:
        raise ForecastError("flex_planes", "The flex planes of this coupling are not known.")
    xa, xb = checked_planes(planes)
    per_length = 1000.0 / (xb - xa)
    return (per_length, xb / (xb - xa)) if quantity == "flex-angle-a" else (-per_length, -xa / (xb - xa))
