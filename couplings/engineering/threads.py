"""Screw threads, metric and inch, and the area a bolt carries its tension on.

The two systems take the root of the thread differently, so each has a constant of its own; neither serves the other.
The pitch is always an input: an M30 of a pressure vessel's flange may have 3 mm where the coarse thread has 3.5.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np

INCH_MM = 25.4
# Sharp height of the 60 degree profile over its pitch (ISO 68-1, ASME B1.1).
HEIGHT = math.sqrt(3) / 2
# Area diameter = d - constant * pitch. Metric: mean of d2 = d - 3/4 H and d3 = d - 17/12 H; inch: D - 9/8 H.
METRIC_AREA_CONSTANT = 13 * HEIGHT / 12
INCH_AREA_CONSTANT = 9 * HEIGHT / 8

# Coarse pitches, ISO 261 (from memory; the sizes from M6 to M30 agree with the areas of ISO 898-1). [mm]
COARSE_PITCH_MM = {
    1.6: 0.35, 2: 0.4, 2.5: 0.45, 3: 0.5, 4: 0.7, 5: 0.8, 6: 1, 8: 1.25, 10: 1.5, 12: 1.75, 14: 2, 16: 2, 18: 2.5,
    20: 2.5, 22: 2.5, 24: 3, 27: 3, 30: 3.5, 33: 3.5, 36: 4, 39: 4,
}  # fmt: skip
# Coarse series, threads per inch: Shigley, 9th ed., Table 8-2 p. 413.
UNC_THREADS = {
    "1/4": 20, "5/16": 18, "3/8": 16, "7/16": 14, "1/2": 13, "9/16": 12, "5/8": 11, "3/4": 10, "7/8": 9, "1": 8,
}  # fmt: skip

_NUMBER = r"\d+(?:[.,]\d+)?"
_METRIC = re.compile(rf"M\s*({_NUMBER})(?:\s*[x×*]\s*({_NUMBER}))?", re.IGNORECASE)
_INCH = re.compile(
    r"(?P<size>#\s*\d+|(?:\d+[ -]+)?\d+/\d+|\d+(?:\.\d+)?|\.\d+)\s*(?:in|inch|\")?"
    r"(?:\s*-\s*(?P<tpi>\d+(?:\.\d+)?))?(?:\s*-?\s*UN[A-Z]*)?(?:\s*-\s*[123]A)?",
    re.IGNORECASE,
)
SMALLEST_MM, LARGEST_MM = 0.5, 160.0
LONGEST = 40
STEEPEST = 0.4  # no standard thread has a pitch of more than about a quarter of its diameter


class FastenerError(ValueError):
    """A figure of a fastener that cannot be used; `field` names it."""

    def __init__(self, field: str, message: str) -> None:
        self.field, self.message = field, message
        super().__init__(f"{field}: {message}")


@dataclass(frozen=True)
class Thread:
    """A 60 degree screw thread. `system` is 'metric' or 'inch'; lengths in mm whichever it is. [mm]"""

    system: str
    diameter_mm: float
    pitch_mm: float
    name: str = ""

    def __post_init__(self) -> None:
        if self.system not in ("metric", "inch"):
            raise FastenerError("system", "A thread is metric or inch.")
        positive("diameter", self.diameter_mm)
        positive("pitch", self.pitch_mm)
        if not SMALLEST_MM <= self.diameter_mm <= LARGEST_MM:
            raise FastenerError(
                "diameter", f"Diameters from {SMALLEST_MM:g} to {LARGEST_MM:g} mm are taken: is the unit right?"
            )
        if self.pitch_mm > STEEPEST * self.diameter_mm:
            raise FastenerError("pitch", "This pitch is too large for the diameter: is it in the right unit?")

    @property
    def area_mm2(self) -> float:
        """Tensile stress area. [mm^2]"""
        if self.system == "metric":
            return metric_stress_area_mm2(self.diameter_mm, self.pitch_mm)
        return inch_stress_area_in2(self.diameter_mm / INCH_MM, INCH_MM / self.pitch_mm) * INCH_MM**2

    @property
    def pitch_diameter_mm(self) -> float:
        """d2 = d - 3/4 H = d - 0.649519 P (ISO 724, ASME B1.1). [mm]"""
        return self.diameter_mm - 0.75 * HEIGHT * self.pitch_mm

    @property
    def minor_diameter_mm(self) -> float:
        """Root of the external thread: metric d3 = d - 1.226869 P (ISO 898-1); inch d - 1.299038 P (Shigley Table 8-2).

        [mm]
        """
        return self.diameter_mm - (17 / 12 if self.system == "metric" else 3 / 2) * HEIGHT * self.pitch_mm

    @property
    def stress_diameter_mm(self) -> float:
        """Diameter of a circle of the stress area. [mm]"""
        return math.sqrt(4 * self.area_mm2 / math.pi)


def metric_stress_area_mm2(diameter_mm: float, pitch_mm: float) -> float:
    """Tensile stress area of a metric thread.

    Parameters
    ----------
    diameter_mm : float or ndarray
        Nominal diameter d. [mm]
    pitch_mm : float or ndarray
        P. [mm]

    Returns
    -------
    float or ndarray
        ``pi/4 ((d2 + d3)/2)^2`` with d2 = d - 0.649519 P, d3 = d - 1.226869 P. [mm^2]

    Raises
    ------
    FastenerError
        Not finite, not above zero, or a pitch that leaves no core.

    References
    ----------
    ISO 898-1:2013 (formula; clause not checked), d2 and d3 after ISO 724.
    """
    return _circle(diameter_mm, METRIC_AREA_CONSTANT, pitch_mm)


def inch_stress_area_in2(diameter_in: float, threads_per_inch: float) -> float:
    """Tensile stress area of an inch (unified) thread.

    Parameters
    ----------
    diameter_in : float or ndarray
        Nominal diameter D. [in]
    threads_per_inch : float or ndarray
        n. [1/in]

    Returns
    -------
    float or ndarray
        ``pi/4 (D - 0.9743/n)^2``, 0.9743 being 9 sqrt(3)/16. [in^2]

    Raises
    ------
    FastenerError
        Not finite, not above zero, or a pitch that leaves no core.

    References
    ----------
    ASME B1.1; FED-STD-H28/2B Table II.B.1, formula 1b; NASA TM-106943 eq. 4.
    """
    positive("threads_per_inch", threads_per_inch)
    return _circle(diameter_in, INCH_AREA_CONSTANT, 1 / threads_per_inch)


def parse_thread(text: str) -> Thread:
    """A designation such as M12x1.75, 1/2-13, 3/4-16 UNF, 1 1/8-7 or #10-24.

    Parameters
    ----------
    text : str
        Diameter and pitch (metric) or size and threads per inch. The pitch may not be left out.

    Returns
    -------
    Thread
        With the designation written in one way.

    Raises
    ------
    FastenerError
        Not a designation, or one without its pitch; the message gives the coarse one where it is known.

    References
    ----------
    Designations: ISO 965-1, ASME B1.1; numbered sizes D = 0.060 in + 0.013 in per number (ASME B1.1).
    """
    if len(text) > LONGEST:
        raise FastenerError("thread", "This is too long to be a thread: write it as in M12x1.75 or 1/2-13.")
    plain = " ".join(text.replace("⁄", "/").replace("–", "-").split())
    if metric := _METRIC.fullmatch(plain):
        diameter = float(metric[1].replace(",", "."))
        if metric[2] is None:
            coarse = COARSE_PITCH_MM.get(diameter)
            hint = f" M{diameter:g}x{coarse:g} is the coarse thread." if coarse else ""
            raise FastenerError("thread", f"The pitch is missing: write it as in M12x1.75.{hint}")
        pitch = float(metric[2].replace(",", "."))
        return _named("metric", diameter, pitch, f"M{diameter:g}x{pitch:g}")
    if inch := _INCH.fullmatch(plain):
        size = " ".join(inch["size"].replace("-", " ").split())
        if inch["tpi"] is None:
            coarse = UNC_THREADS.get(size)
            hint = f" {size}-{coarse} is the coarse thread." if coarse else ""
            raise FastenerError("thread", f"The threads per inch are missing: write them as in 1/2-13.{hint}")
        tpi = float(inch["tpi"])
        if not tpi > 0:
            raise FastenerError("thread", "The threads per inch must be above zero.")
        return _named("inch", _inches(size) * INCH_MM, INCH_MM / tpi, f"{size}-{tpi:g}")
    raise FastenerError("thread", f"“{text[:30]}” is not a thread: write it as in M12x1.75 or 1/2-13.")


def positive(field: str, value: float) -> None:
    """Refuse what is missing, not finite or not above zero; arrays whole.

    Parameters
    ----------
    field : str
        Its name, for the error.
    value : float or array_like
        In any unit. [mm], [N], [N*m], [MPa], [1]

    Raises
    ------
    FastenerError
        Not finite, or not above zero.

    References
    ----------
    Common practice.
    """
    if not np.all(np.isfinite(value)):
        raise FastenerError(field, "This figure is missing or not a finite number.")
    if not np.all(np.asarray(value) > 0):
        raise FastenerError(field, "This figure must be above zero.")


def _circle(diameter: float, constant: float, pitch: float) -> float:
    positive("diameter", diameter)
    positive("pitch", pitch)
    across = diameter - constant * pitch
    if not np.all(across > 0):
        raise FastenerError("pitch", "This pitch leaves nothing of the diameter: is it in the right unit?")
    return math.pi / 4 * across**2


def _named(system: str, diameter_mm: float, pitch_mm: float, name: str) -> Thread:
    """The errors of its parts stand beside the designation, which is the one field they were typed in."""
    try:
        return Thread(system, diameter_mm, pitch_mm, name)
    except FastenerError as error:
        raise FastenerError("thread", error.message) from None


def _inches(size: str) -> float:
    if size.startswith("#"):
        return 0.060 + 0.013 * int(size[1:])
    total = 0.0
    for part in size.split(" "):
        over, _bar, under = part.partition("/")
        if under and not int(under):
            raise FastenerError("thread", f"“{size}” is not a size in inches.")
        total += float(over) / float(under) if under else float(part)
    return total
