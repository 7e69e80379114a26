"""Sets of readings as they were taken, and what must be true of them before they can be solved."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

KINDS = ("rim", "face", "step", "gap", "flex-angle")
# Decimals of a degree that tell two positions apart: far finer than a shaft can be set, far coarser than rounding.
ANGLE_DECIMALS = 4


class AlignmentError(ValueError):
    """Readings or geometry that cannot be solved: what is missing, where, what to do.

    `errors` maps field paths as the interface names them ("reading_sets.0.x") to sentences; `field` and `message`
    are the first of them.
    """

    def __init__(self, field: str | Mapping[str, str], message: str = "") -> None:
        self.errors: dict[str, str] = {field: message} if isinstance(field, str) else dict(field)
        self.field, self.message = next(iter(self.errors.items()))
        super().__init__("; ".join(f"{where}: {what}" if where else what for where, what in self.errors.items()))


@dataclass(frozen=True)
class ReadingSet:
    """One sweep of one dial, straightedge or feeler.

    Attributes
    ----------
    kind : {'rim', 'face', 'step', 'gap', 'flex-angle'}
    angles_deg : tuple of floats
        Clockwise from 12 o'clock as the observer sees them (3 o'clock is 90). [deg] Vertical machines: clockwise from
        north, seen from above.
    readings_mm : tuple of floats
        Plunger in is positive; a step is positive where the movable hub stands higher; a gap is a width. [mm]
    carried_by : {'stationary', 'movable'}, optional
        The shaft the dial's bracket sits on; a rim needs it, for the others it makes no difference.
    x_mm : float
        Plane of the swept rim or of the step, from the coupling's centre towards the movable machine. [mm]
    swing_radius_mm : float, optional
        Radius traced on a face, or at which a gap is taken; not the diameter. [mm]
    distance_mm : float, optional
        From the flex plane to a rim dial on the spool. [mm]
    plane : {'A', 'B'}, optional
        Flex plane: A on the stationary side, B on the movable side.
    surface : {'near', 'far'}
        Whether a swept face looks back at its own bracket.
    sag_mm, sag_u_mm : float
        What the dial shows at 6 o'clock, zeroed at 12, on a straight pipe, and its standard uncertainty. [mm]
    bracket : str, optional
        Sets that name the same bracket share its sag error.
    u_mm : float
        Standard uncertainty of one reading of the dial itself. [mm]
    half : bool
        The figures are half of what the dial showed; sag, uncertainty and return to zero stay the dial's own.
    turned : bool or tuple of bools, optional
        The shafts stood half a turn against the part, for the whole set or per reading. Sets of the same part share
        its run-out.
    opposed_mm : tuple of floats, optional
        A second face dial half a turn away, read at the same moments: half the difference is free of axial float.
    return_to_zero_mm : float, optional
        How far the dial was from its first reading when back at its start. [mm]
    """

    kind: str
    angles_deg: tuple[float, ...]
    readings_mm: tuple[float, ...]
    carried_by: str | None = None
    x_mm: float = 0.0
    swing_radius_mm: float | None = None
    distance_mm: float | None = None
    plane: str | None = None
    surface: str = "near"
    sag_mm: float = 0.0
    sag_u_mm: float = 0.0
    bracket: str | None = None
    u_mm: float = 0.01
    half: bool = False
    turned: bool | tuple[bool, ...] | None = None
    opposed_mm: tuple[float, ...] | None = None
    return_to_zero_mm: float | None = None
    name: str = ""

    @property
    def turned_each(self) -> tuple[bool, ...]:
        """For every reading, whether the shafts stood half a turn against the part."""
        if self.turned is None or isinstance(self.turned, bool):
            return (bool(self.turned),) * len(self.angles_deg)
        return tuple(self.turned)

    @property
    def part(self) -> tuple[object, ...]:
        """What is swept: sets with the same part carry the same run-out."""
        return (
            self.kind,
            self.carried_by,
            self.x_mm,
            self.swing_radius_mm,
            self.distance_mm,
            self.plane,
            self.surface,
        )

    @property
    def reading_u_mm(self) -> float:
        """Standard uncertainty of a figure that enters the fit; less by root two with a second, opposed dial. [mm]"""
        return self.u_mm if self.opposed_mm is None else self.u_mm / math.sqrt(2.0)

    def corrected_mm(self) -> NDArray[np.float64]:
        """Full dial readings with float cancelled and sag taken out at every angle. [mm]

        ``reading - sag (1 - cos t) / 2``; a dial zeroed elsewhere than at 12 differs by a constant only. The second
        dial's sag, taken at its own angle, leaves the same term in half the difference.
        """
        readings = np.asarray(self.readings_mm, dtype=float)
        if self.opposed_mm is not None:
            readings = (readings - np.asarray(self.opposed_mm, dtype=float)) / 2.0
        cosines, _ = directions(self.angles_deg)
        return readings * (2.0 if self.half else 1.0) - self.sag_mm * (1.0 - cosines) / 2.0


def clock_angle_deg(clock: float) -> float:
    """Angle clockwise from 12 of a clock position: 3 is 90, 12 is 0.

    Parameters
    ----------
    clock : float
        Hours, 0 to 12, parts of an hour allowed. [hour of the clock face]

    Returns
    -------
    float
        0 to below 360. [deg]

    Raises
    ------
    AlignmentError
        Not a clock position from 0 to 12.

    References
    ----------
    Common practice: clock positions as the observer sees them.
    """
    if not math.isfinite(clock) or not 0 <= clock <= 12:
        raise AlignmentError("clock", "A clock position lies between 0 and 12.")
    return clock * 30.0 % 360.0


def directions(angles_deg: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Cosine and sine, exactly 0 at the quarter turns so that a plane nobody read stays unread.

    Parameters
    ----------
    angles_deg : array_like
        Clockwise from 12. [deg]

    Returns
    -------
    (ndarray, ndarray)
        Vertical and horizontal part of a unit vector.

    References
    ----------
    Plane geometry.
    """
    angles = np.radians(np.asarray(angles_deg, dtype=float) % 360.0)
    cosines, sines = np.cos(angles), np.sin(angles)
    return np.where(np.abs(cosines) < 1e-12, 0.0, cosines), np.where(np.abs(sines) < 1e-12, 0.0, sines)


def direction_deg(angle_deg: float) -> float:
    """The direction an angle stands for; equal for angles that are one position.

    Parameters
    ----------
    angle_deg : float
        Any finite angle. [deg]

    Returns
    -------
    float
        In [0, 360). [deg]

    References
    ----------
    Plane geometry.
    """
    return round(angle_deg % 360.0, ANGLE_DECIMALS) % 360.0


def distinct_angles_deg(angles_deg: Sequence[float]) -> list[float]:
    """Sorted directions without repeats.

    Parameters
    ----------
    angles_deg : sequence of floats
        Clockwise from 12. [deg]

    Returns
    -------
    list of floats
        In [0, 360). [deg]

    References
    ----------
    Plane geometry.
    """
    return sorted({direction_deg(angle) for angle in angles_deg})


def check_sets(sets: Sequence[ReadingSet]) -> None:
    """Refuse reading sets that cannot be solved, with everything that is missing or impossible, each by its field.

    Parameters
    ----------
    sets : sequence of ReadingSet
        As read. [mm], [deg]

    Raises
    ------
    AlignmentError
        No set; a length, angle or reading that is missing or cannot be; run-out that cannot be told from the position.

    References
    ----------
    Linear least squares: what the unknowns need. Common practice for the rest.
    """
    errors: dict[str, str] = {}
    if not sets:
        errors["reading_sets"] = "No readings yet: enter at least one set."
    for place, item in enumerate(sets):
        path = f"reading_sets.{place}"
        errors.update(_geometry_errors(item, path))
        errors.update(_number_errors(item, path))
    if not errors:
        errors.update(_run_out_errors(sets))
    if errors:
        raise AlignmentError(errors)


def _positive(number: float | None) -> bool:
    return number is not None and math.isfinite(number) and number > 0


def _geometry_errors(item: ReadingSet, path: str) -> dict[str, str]:
    errors: dict[str, str] = {}
    if item.kind not in KINDS:
        return {f"{path}.kind": f"Not a kind of reading. Choose one of: {', '.join(KINDS)}."}
    if item.kind == "rim" and item.carried_by not in ("stationary", "movable"):
        errors[f"{path}.carried_by"] = "Say which shaft carries the dial: stationary or movable."
    if item.kind in ("rim", "step") and not math.isfinite(item.x_mm):
        errors[f"{path}.x"] = "The plane's distance from the coupling's centre is missing or not a finite number."
    if item.kind in ("face", "gap") and not _positive(item.swing_radius_mm):
        errors[f"{path}.swing_radius"] = "The radius at which the face is read must be a number above zero."
    if item.surface not in ("near", "far"):
        errors[f"{path}.surface"] = "Say near (the face looks back at its own bracket) or far."
    if item.kind == "flex-angle":
        if item.plane not in ("A", "B"):
            errors[f"{path}.plane"] = "Say which flex plane: A on the stationary side, B on the movable side."
        if (item.swing_radius_mm is None) == (item.distance_mm is None):
            errors[f"{path}.swing_radius"] = (
                "Give either the swing radius of a face dial or the distance of a rim dial from the flex plane."
            )
        elif not _positive(item.swing_radius_mm if item.distance_mm is None else item.distance_mm):
            field = "swing_radius" if item.distance_mm is None else "distance"
            errors[f"{path}.{field}"] = "This length must be a number above zero."
    if item.kind in ("step", "gap") and item.half:
        errors[f"{path}.readings_are"] = "A step or a gap is never a half reading: enter it as it was measured."
    if item.kind in ("step", "gap") and (item.sag_mm or item.sag_u_mm):
        errors[f"{path}.sag"] = "A step or a gap has no bracket that could sag: leave it out."
    if item.opposed_mm is not None and not (
        item.kind == "face" or (item.kind == "flex-angle" and item.distance_mm is None)
    ):
        errors[f"{path}.opposed"] = "A second, opposed dial belongs to face readings only."
    return errors


def _number_errors(item: ReadingSet, path: str) -> dict[str, str]:
    errors: dict[str, str] = {}
    for place, angle in enumerate(item.angles_deg):
        if not math.isfinite(angle):
            errors[f"{path}.readings.{place}.angle"] = "The position is missing or not a finite number."
    for place, reading in enumerate(item.readings_mm):
        if not math.isfinite(reading):
            errors[f"{path}.readings.{place}.value"] = "The reading is missing or not a finite number."
    for place, reading in enumerate(item.opposed_mm or ()):
        if not math.isfinite(reading):
            errors[f"{path}.readings.{place}.opposed"] = "The second dial's reading is missing or not a finite number."
    count = len(item.readings_mm)
    lengths = {len(item.angles_deg), len(item.turned_each), count if item.opposed_mm is None else len(item.opposed_mm)}
    if lengths != {count}:
        errors[f"{path}.readings"] = "Every reading needs its position, and every position its reading."
    if not _positive(item.u_mm):
        errors[f"{path}.standard_uncertainty"] = "The standard uncertainty of a reading must be a number above zero."
    if not math.isfinite(item.sag_mm):
        errors[f"{path}.sag"] = "The sag is not a finite number."
    if not math.isfinite(item.sag_u_mm) or item.sag_u_mm < 0:
        errors[f"{path}.sag_standard_uncertainty"] = "The sag's standard uncertainty must be zero or above."
    if item.return_to_zero_mm is not None and not math.isfinite(item.return_to_zero_mm):
        errors[f"{path}.return_to_zero"] = "The return to zero is not a finite number."
    if not errors:
        seen = len(distinct_angles_deg(item.angles_deg))
        if seen == 0:
            errors[f"{path}.readings"] = "No readings in this set: enter them or leave the set out."
        elif count == 1:
            errors[f"{path}.readings"] = (
                "One position alone is never enough, because the dial's zero (or the difference of the hub radii) is "
                "unknown too: read the opposite position, better all four."
            )
        elif seen == 1:
            errors[f"{path}.readings"] = "All positions are at one angle: turn the shafts and read at others."
    return errors


def _run_out_errors(sets: Sequence[ReadingSet]) -> dict[str, str]:
    straight = {item.part for item in sets if not all(item.turned_each)}
    return {
        f"reading_sets.{place}.turned": (
            "Every reading of this part was taken half a turn on: also enter those with the shafts as they first stood."
        )
        for place, item in enumerate(sets)
        if any(item.turned_each) and item.part not in straight
    }
