"""Run-out of a turned surface, its limits by diameter, and those of vertical units."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from couplings.engineering.alignment import AlignmentError
from couplings.engineering.alignment.readings import directions, distinct_angles_deg
from couplings.engineering.tables.runouts import (
    IEC,
    PLUMB_PER_LENGTH,
    STATIC_RUN_OUT_MM,
    RunOutTable,
)

Floats = NDArray[np.float64]
DUST_MM = 1e-6  # a diameter on the edge of a band, after its unit was converted


class RunOutError(AlignmentError):
    """Readings, positions or lengths that cannot be used."""


def run_out_mm(readings_mm: ArrayLike) -> Floats:
    """Total run-out of a sweep: largest reading less smallest.

    Parameters
    ----------
    readings_mm : array_like, shape (..., n)
        One sweep per row, two readings or more. [mm]

    Returns
    -------
    ndarray, shape (...)
        The dial's zero drops out. Two readings stand in it, so its standard uncertainty is taken as root two times that
        of one; chance makes it rather too large than too small. [mm]

    Raises
    ------
    RunOutError
        Fewer than two readings, one that is not finite.

    References
    ----------
    U.S. Army TM 10-3930-664-24: total indicator reading.
    """
    readings = np.asarray(readings_mm, dtype=float)
    if readings.ndim == 0 or readings.shape[-1] < 2:
        raise RunOutError("readings", "A run-out needs two readings or more.")
    if not np.isfinite(readings).all():
        raise RunOutError("readings", "A reading is missing or not a finite number.")
    return np.asarray(readings.max(axis=-1) - readings.min(axis=-1), dtype=float)


@dataclass(frozen=True)
class Eccentricity:
    """How far a surface's centre stands off the axis it turns about, and where.

    `size_mm` and its standard uncertainty `u_mm` [mm]; `direction_deg` is the position at which the dial reads highest,
    in [0, 360) [deg], None where the size is less than twice its uncertainty; `other_mm` is the total of what remains
    when the eccentricity is taken out: ovality, bends, dirt. [mm]
    """

    size_mm: float
    u_mm: float
    direction_deg: float | None
    other_mm: float


def eccentricity(angles_deg: Sequence[float], readings_mm: Sequence[float], u_mm: float = 0.0) -> Eccentricity:
    """Eccentricity of a turned surface by least squares over the positions.

    Parameters
    ----------
    angles_deg : sequence of floats
        Positions round the shaft at which the dial stood, three different ones or more. [deg]
    readings_mm : sequence of floats
        Plunger in is positive. [mm]
    u_mm : float
        Standard uncertainty of one reading. [mm]

    Returns
    -------
    Eccentricity
        ``reading = c + e cos(angle - direction)``; an eccentric but round surface shows a run-out of 2 e.

    Raises
    ------
    RunOutError
        Fewer than three different positions, positions and readings that do not match, a number that is not finite.

    References
    ----------
    First harmonic of a periodic reading, by linear least squares.
    """
    if len(angles_deg) != len(readings_mm):
        raise RunOutError("readings", "Every reading needs its position, and every position its reading.")
    if not (np.isfinite(angles_deg).all() and np.isfinite(readings_mm).all()):
        raise RunOutError("readings", "A reading or its position is missing or not a finite number.")
    if not (math.isfinite(u_mm) and u_mm >= 0):
        raise RunOutError("standard_uncertainty", "The standard uncertainty must be a number, zero or above.")
    if len(distinct_angles_deg(angles_deg)) < 3:
        raise RunOutError("readings", "The direction needs three different positions or more.")
    cosines, sines = directions(angles_deg)
    design = np.column_stack([np.ones_like(cosines), cosines, sines])
    readings = np.asarray(readings_mm, dtype=float)
    found = np.linalg.lstsq(design, readings, rcond=None)[0]
    spread = np.linalg.pinv(design.T @ design)[1:, 1:] * u_mm**2
    size = float(np.hypot(found[1], found[2]))
    # Of nothing at all, the largest spread in any direction; else the spread along it.
    along = np.array(found[1:]) / size if size > 1e-9 else None
    variance = float(np.linalg.eigvalsh(spread)[-1]) if along is None else float(along @ spread @ along)
    u = math.sqrt(max(0.0, variance))
    known = along is not None and size >= 2.0 * u
    direction = math.degrees(math.atan2(found[2], found[1])) % 360.0 if known else None
    left = readings - design @ found
    return Eccentricity(size, u, direction, float(left.max() - left.min()))


def limit_by_diameter_mm(diameter_mm: float, table: RunOutTable = IEC) -> float:
    """Permitted run-out of a shaft by its diameter.

    Parameters
    ----------
    diameter_mm : float
        [mm]
    table : RunOutTable
        Bands "over a, up to and with b"; starter: IEC shaft extensions.

    Returns
    -------
    float
        Largest permitted change of the dial while the shaft turns once. [mm]

    Raises
    ------
    RunOutError
        The diameter is not a number above zero, or no band holds it.

    References
    ----------
    ANSI/EASA AR100-2015, table 2-4 (dial midway along the shaft extension); table 2-3 from memory.
    """
    if not (math.isfinite(diameter_mm) and diameter_mm > 0):
        raise RunOutError("diameter", "The diameter must be a number above zero.")
    for place, row in enumerate(table.rows):
        over = diameter_mm > row.over_mm + DUST_MM
        at_low_end = place == 0 and table.lowest_included and diameter_mm >= row.over_mm - DUST_MM
        if (over or at_low_end) and diameter_mm <= row.up_to_mm + DUST_MM:
            return row.limit_mm
    raise RunOutError("diameter", "This table has no limit for such a diameter: give the limit itself.")


def static_run_out_limit_mm(shaft_length_mm: float, runner_diameter_mm: float) -> float:
    """Largest diameter of the orbit of a vertical unit's shaft, turned slowly by hand.

    Parameters
    ----------
    shaft_length_mm : float
        From the thrust bearing to the plane of the dial. [mm]
    runner_diameter_mm : float
        Of the thrust runner. [mm]

    Returns
    -------
    float
        ``0.002 in x L / D``. [mm]

    Raises
    ------
    RunOutError
        A length that is not a number above zero.

    References
    ----------
    U.S. Bureau of Reclamation, FIST 2-1 (2000), table 1.
    """
    _above_zero("shaft_length", shaft_length_mm)
    _above_zero("runner_diameter", runner_diameter_mm)
    return STATIC_RUN_OUT_MM * shaft_length_mm / runner_diameter_mm


def plumb_limit_mm(length_mm: float) -> float:
    """Largest lean of a vertical unit's shaft over a length.

    Parameters
    ----------
    length_mm : float
        Between the highest and the lowest reading. [mm]

    Returns
    -------
    float
        ``0.000025 L``. [mm]

    Raises
    ------
    RunOutError
        A length that is not a number above zero.

    References
    ----------
    U.S. Bureau of Reclamation, FIST 2-1 (2000), table 1.
    """
    _above_zero("length", length_mm)
    return PLUMB_PER_LENGTH * length_mm


@dataclass(frozen=True)
class Bend:
    """The point farthest from the straight line between a shaft's ends: its place in the list, and how far. [mm]"""

    place: int
    deviation_mm: float


def straightness(positions_mm: Sequence[float], readings_mm: ArrayLike) -> Bend:
    """How far a vertical shaft bends off the line that joins its top and bottom points.

    Parameters
    ----------
    positions_mm : sequence of n floats, n at least 3
        Along the shaft; the first and the last are the ends. [mm]
    readings_mm : array_like, shape (n,) or (n, 2)
        Distance from the plumb line in one direction, or in two directions at right angles. [mm]

    Returns
    -------
    Bend
        Over both directions, the length of the deviation.

    Raises
    ------
    RunOutError
        Fewer than three points, points not in order, a number that is not finite.

    References
    ----------
    U.S. Bureau of Reclamation, FIST 2-1 (2000), table 1: no point more than 0.003 in off that line.
    """
    z, points = np.asarray(positions_mm, dtype=float), np.asarray(readings_mm, dtype=float)
    if len(z) < 3 or points.shape not in ((len(z),), (len(z), 2)):
        raise RunOutError("points", "Give three points or more, each with its place and its reading.")
    if not (np.isfinite(z).all() and np.isfinite(points).all()):
        raise RunOutError("points", "A place or reading is missing or not a finite number.")
    steps = np.diff(z)
    if not ((steps > 0).all() or (steps < 0).all()):
        raise RunOutError("points", "The points must follow each other along the shaft, from one end to the other.")
    plane = points.reshape(len(z), -1)
    share = ((z - z[0]) / (z[-1] - z[0]))[:, None]
    off = np.linalg.norm(plane - (plane[0] + share * (plane[-1] - plane[0])), axis=1)
    place = int(np.argmax(off))
    return Bend(place, float(off[place]))


def _above_zero(field: str, length_mm: float) -> None:
    if not (math.isfinite(length_mm) and length_mm > 0):
        raise RunOutError(field, "This length must be a number above zero.")
