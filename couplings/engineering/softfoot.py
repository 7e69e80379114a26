"""Soft foot: a machine foot that its base does not carry, found by rises, corner gaps or pad heights."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from couplings.engineering.alignment import AlignmentError

# Starter of the site's limit, common practice. Published: 0.001 and 0.002 in (plant engineering magazines), 2 mil
# (R. B. McMillan, Rotating Machinery, Fairmont Press 2004, p. 113).
STARTER_LIMIT_MM = 0.05
FEET_AT_LEAST, FEET_AT_MOST = 3, 12
CORNERS = ("inboard left", "inboard right", "outboard right", "outboard left")
DUST_MM = 1e-9  # below what a unit's conversion leaves behind


class SoftFootError(AlignmentError):
    """Rises, gaps or heights that cannot be used."""


@dataclass(frozen=True)
class Rises:
    """What the feet did when they were loosened one at a time. [mm]

    `foot` is the place of the highest rise; `common_mm` the rise the others have in common; `shim_mm` the excess over
    it; `spread_mm` highest less lowest. `shim_u_mm` and `spread_u_mm` are that of a difference of two readings.
    """

    foot: int
    largest_mm: float
    common_mm: float
    shim_mm: float
    spread_mm: float
    shim_u_mm: float
    spread_u_mm: float


def from_rises(rises_mm: Sequence[float], u_mm: float = 0.0) -> Rises:
    """Which foot is soft, and how much, from the rise of each foot when its bolt alone is loosened.

    Parameters
    ----------
    rises_mm : three to twelve floats
        In any fixed order of the feet; each bolt is tightened again before the next is loosened. [mm]
    u_mm : float
        Standard uncertainty of one rise. [mm]

    Returns
    -------
    Rises
        The common rise is the median of the other feet, so that one of them being high too does not shift it.

    Raises
    ------
    SoftFootError
        Too few or too many feet, a rise that is negative or not finite, an uncertainty below zero.

    References
    ----------
    U.S. Bureau of Reclamation, FIST 4-1A, p. 17: shim by the excess over the common rise. The median is ours.
    """
    if not FEET_AT_LEAST <= len(rises_mm) <= FEET_AT_MOST:
        raise SoftFootError("feet", f"Give the rise of every foot, {FEET_AT_LEAST} to {FEET_AT_MOST}.")
    _check(rises_mm, "rise")
    _check_u(u_mm)
    foot = int(np.argmax(rises_mm))
    largest = float(rises_mm[foot])
    common = float(np.median([rise for place, rise in enumerate(rises_mm) if place != foot]))
    # The common rise rests on several feet, but the one that decides against it may be as wrong as one reading.
    difference_u = u_mm * math.sqrt(2.0)
    return Rises(foot, largest, common, largest - common, largest - min(rises_mm), difference_u, difference_u)


@dataclass(frozen=True)
class CornerGaps:
    """The gap under one foot.

    Attributes
    ----------
    kind : {'none', 'parallel', 'angular'}
        None: nothing wider than the feeler resolves. Parallel: the corners differ by no more than it resolves.
    largest_mm, smallest_mm, mean_mm : float
        [mm]
    widest : int
        Corner with the widest gap, in the order of `CORNERS`.
    along_mm, across_mm : float
        How much wider the gap is outboard than inboard, and right than left, by the plane nearest to the corners. [mm]
    twist_mm : float
        What no plane explains, at each corner: the foot or its pad is bent or burred where this is not small. [mm]
    shims_mm : four floats
        What to put in: one thickness for a parallel gap, steps for an angular one, in the order of `CORNERS`. [mm]
    """

    kind: str
    largest_mm: float
    smallest_mm: float
    mean_mm: float
    widest: int
    along_mm: float
    across_mm: float
    twist_mm: float
    shims_mm: tuple[float, float, float, float]


def from_corner_gaps(gaps_mm: Sequence[float], resolution_mm: float = 0.0) -> CornerGaps:
    """Whether the gap under a foot is parallel or angular, and what fills it.

    Parameters
    ----------
    gaps_mm : four floats
        Feeler at inboard left, inboard right, outboard right, outboard left, the foot's bolt loose. [mm]
    resolution_mm : float
        Smallest step the feeler gauge tells apart. [mm]

    Returns
    -------
    CornerGaps
        A parallel gap takes a flat shim of the mean gap, an angular one a step shim; better is a foot and pad made
        flat.

    Raises
    ------
    SoftFootError
        Not four gaps, one that is negative or not finite, a resolution below zero.

    References
    ----------
    Plane through four corners of a rectangle; parallel and angular soft foot: common practice.
    """
    if len(gaps_mm) != 4:
        raise SoftFootError("corner_gaps", "Give the gap at all four corners of the foot.")
    _check(gaps_mm, "corner gap")
    if not (math.isfinite(resolution_mm) and resolution_mm >= 0):
        raise SoftFootError("resolution", "The resolution must be a number, zero or above.")
    in_left, in_right, out_right, out_left = (float(gap) for gap in gaps_mm)
    gaps = (in_left, in_right, out_right, out_left)
    largest, smallest, mean = max(gaps), min(gaps), math.fsum(gaps) / 4.0
    along = (out_right + out_left - in_left - in_right) / 2.0
    across = (in_right + out_right - in_left - out_left) / 2.0
    kind, shims = "angular", gaps
    if largest <= resolution_mm + DUST_MM:
        kind, shims = "none", (0.0,) * 4
    elif largest - smallest <= resolution_mm + DUST_MM:
        kind, shims = "parallel", (mean,) * 4
    return CornerGaps(kind, largest, smallest, mean, gaps.index(largest), along, across, _residual(_twist(gaps)), shims)


@dataclass(frozen=True)
class Pads:
    """Four pads against the plane nearest to them. [mm]

    `twist_mm` = inboard left - inboard right + outboard right - outboard left, `residual_mm` what each pad is off that
    plane, `rocking_gap_mm` the gap under one foot while the machine stands on the other three.
    """

    twist_mm: float
    residual_mm: float
    rocking_gap_mm: float
    u_mm: float


def from_pad_heights(heights_mm: Sequence[float], u_mm: float = 0.0) -> Pads:
    """How far four pads in a rectangle are from one plane.

    Parameters
    ----------
    heights_mm : four floats
        Round the base: inboard left, inboard right, outboard right, outboard left, from any level. [mm]
    u_mm : float
        Standard uncertainty of one height. [mm]

    Returns
    -------
    Pads
        `u_mm` is that of the twist and of the rocking gap, twice that of one height.

    Raises
    ------
    SoftFootError
        Not four heights, one that is not finite, an uncertainty below zero.

    References
    ----------
    Plane geometry: the residual of the best plane through a rectangle's corners is a quarter of the twist at each.
    """
    if len(heights_mm) != 4:
        raise SoftFootError("pad_heights", "Give the height of all four pads.")
    for place, height in enumerate(heights_mm):
        if not math.isfinite(height):
            raise SoftFootError(f"pad_heights.{place}", "The height is missing or not a finite number.")
    _check_u(u_mm)
    twist = _twist(heights_mm)
    return Pads(twist, _residual(twist), abs(twist), 2.0 * u_mm)


def _twist(round_the_base: Sequence[float]) -> float:
    signs: NDArray[np.float64] = np.array([1.0, -1.0, 1.0, -1.0])
    return float(signs @ np.asarray(round_the_base, dtype=float))


def _residual(twist_mm: float) -> float:
    return abs(twist_mm) / 4.0


def _check(lengths_mm: Sequence[float], word: str) -> None:
    errors = {
        f"feet.{place}.{word.replace(' ', '_')}": f"This {word} must be a finite number, zero or above."
        for place, length in enumerate(lengths_mm)
        if not (math.isfinite(length) and length >= 0)
    }
    if errors:
        raise SoftFootError(errors)


def _check_u(u_mm: float) -> None:
    if not (math.isfinite(u_mm) and u_mm >= 0):
        raise SoftFootError("standard_uncertainty", "The standard uncertainty must be a number, zero or above.")
