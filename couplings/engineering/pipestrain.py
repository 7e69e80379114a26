"""Pipe strain: how far the shaft moves at the coupling while the piping is made up to the machine."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from couplings.engineering.alignment import AlignmentError

INCH = 25.4
# Starter of the site's limit. From memory of API RP 686: 0.002 in; compare with your own copy.
STARTER_LIMIT_MM = 0.002 * INCH
STARTER_SOURCE = "API RP 686, from memory: compare with your own copy"


class PipeStrainError(AlignmentError):
    """Readings that cannot be used."""


@dataclass(frozen=True)
class Movement:
    """Movement of the shaft at the coupling, up and right positive, each with its standard uncertainty. [mm]"""

    vertical_mm: float
    horizontal_mm: float
    u_mm: float

    @property
    def size_mm(self) -> float:
        """Length of the movement. [mm]"""
        return math.hypot(self.vertical_mm, self.horizontal_mm)

    @property
    def direction_deg(self) -> float | None:
        """Clockwise from straight up, None where nothing moved. [deg]"""
        if self.size_mm < 1e-9:
            return None
        return math.degrees(math.atan2(self.horizontal_mm, self.vertical_mm)) % 360.0


def movement(before_mm: Sequence[float], after_mm: Sequence[float], u_mm: float = 0.0) -> Movement:
    """Movement between two pairs of readings of dials that stay where they are.

    Parameters
    ----------
    before_mm, after_mm : (vertical, horizontal)
        Position of the shaft with the piping loose and with it made up, up and right positive; a dial zeroed before
        make-up reads 0. [mm]
    u_mm : float
        Standard uncertainty of one reading. [mm]

    Returns
    -------
    Movement
        After less before, per plane; root two times the uncertainty of one reading. [mm]

    Raises
    ------
    PipeStrainError
        A reading that is missing or not finite, an uncertainty below zero.

    References
    ----------
    Difference of two readings.
    """
    errors = {
        f"{state}.{plane}": "The reading is missing or not a finite number."
        for state, pair in (("before", before_mm), ("after", after_mm))
        for plane, reading in zip(("vertical", "horizontal"), pair, strict=True)
        if not math.isfinite(reading)
    }
    if not (math.isfinite(u_mm) and u_mm >= 0):
        errors["standard_uncertainty"] = "The standard uncertainty must be a number, zero or above."
    if errors:
        raise PipeStrainError(errors)
    return Movement(after_mm[0] - before_mm[0], after_mm[1] - before_mm[1], u_mm * math.sqrt(2.0))
