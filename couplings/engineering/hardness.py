"""Shore hardness of an element, against its own first reading and against its specification."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

SCALES = ("A", "D", "AO", "AM")
READINGS = 5  # ISO 48-4 (public text): at least 6 mm thick, 12 mm from an edge, points 6 mm apart
SPEC_POINTS = 5.0  # usual tolerance of a specification, Shore A (public text)


class HardnessError(ValueError):
    """A reading or scale that cannot be used; `field` names it."""

    def __init__(self, field: str, message: str) -> None:
        self.field, self.message = field, message
        super().__init__(f"{field}: {message}")


@dataclass(frozen=True)
class Hardness:
    """Median of the readings at one time. [Shore points of `scale`]"""

    scale: str
    median: float
    readings: tuple[float, ...]
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class HardnessChange:
    """Now less the element's own first reading. [Shore points of one scale]

    Positive is harder (aged, hot), negative softer (oil, solvent). `share` of the data sheet's limit; None without one.
    """

    points: float
    limit_points: float | None
    share: float | None
    verdict: str
    reason: str


def hardness(readings: Sequence[float], scale: str = "A") -> Hardness:
    """Hardness from several readings at one time.

    Parameters
    ----------
    readings : sequence of floats
        One to twenty, each from 0 to 100. [Shore points]
    scale : str
        A, D, AO or AM; readings of different scales never mix.

    Returns
    -------
    Hardness
        Median, with a warning where there are fewer than five or where a reading lies beyond the scale's useful part.

    Raises
    ------
    HardnessError
        No reading, too many, one that is not finite or off the scale, a scale that is not known.

    References
    ----------
    ISO 48-4 (public text): five readings, median. From memory: A below 20 or above 90 is read on another scale.
    """
    if scale not in SCALES:
        raise HardnessError("scale", f"Choose one of: {', '.join(SCALES)}.")
    if not 1 <= len(readings) <= 20:
        raise HardnessError("readings", "One to twenty readings are taken; five are asked for.")
    for place, one in enumerate(readings):
        if not math.isfinite(one) or not 0 <= one <= 100:
            raise HardnessError(f"readings.{place}", "A Shore reading lies from 0 to 100.")
    middle = statistics.median(readings)
    said = []
    if len(readings) < READINGS:
        said.append(f"{len(readings)} of {READINGS} readings: the median of five is asked for.")
    if scale == "A" and not 20 <= middle <= 90:
        said.append("Shore A is uncertain below 20 and above 90: read another scale, and begin a new series with it.")
    return Hardness(scale, float(middle), tuple(readings), tuple(said))


def hardness_change(first: Hardness, now: Hardness, limit_points: float | None = None) -> HardnessChange:
    """How far an element has hardened or softened since its own first reading.

    Parameters
    ----------
    first, now : Hardness
        On one scale. [Shore points]
    limit_points : float, optional
        Largest change in either direction, from the data sheet. [Shore points]

    Returns
    -------
    HardnessChange
        With its verdict; not known where the data sheet gives no limit. [Shore points]

    Raises
    ------
    HardnessError
        Two scales, or a limit that is not above zero.

    References
    ----------
    ISO 48-4 for the readings; the change against the element's own first reading: common practice.
    """
    if first.scale != now.scale:
        raise HardnessError(
            "scale", f"Shore {now.scale} cannot be compared with a first reading in Shore {first.scale}."
        )
    points = now.median - first.median
    if limit_points is None:
        return HardnessChange(points, None, None, "not known", "The data sheet gives no limit for the change.")
    if not math.isfinite(limit_points) or limit_points <= 0:
        raise HardnessError("limit", "The limit must be a finite number above zero.")
    share = abs(points) / limit_points
    way = "harder" if points > 0 else "softer"
    reason = f"{abs(points):g} points {way} where {limit_points:g} are allowed." if points else "Unchanged."
    return HardnessChange(points, limit_points, share, "in tolerance" if share <= 1 else "out of tolerance", reason)


def within_specification(nominal: float, reading: float, tolerance: float = SPEC_POINTS) -> bool:
    """Whether a new element's hardness is what was ordered.

    Parameters
    ----------
    nominal, reading : float
        On one scale. [Shore points]
    tolerance : float
        Starter 5. [Shore points]

    Returns
    -------
    bool
        ``|reading - nominal| <= tolerance``.

    Raises
    ------
    HardnessError
        A figure that is not finite or off the scale.

    References
    ----------
    Usual specification tolerance, public text.
    """
    for field, one in (("nominal", nominal), ("reading", reading), ("tolerance", tolerance)):
        if not math.isfinite(one) or not 0 <= one <= 100:
            raise HardnessError(field, "A Shore figure lies from 0 to 100.")
    return abs(reading - nominal) <= tolerance
