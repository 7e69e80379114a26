"""The fit that was specified: ISO 286 zones, a site's own inch classes.

Clearance is bore less shaft; a negative clearance is interference. A measured pair is judged in `pairs`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from couplings.engineering.tables.iso286 import (
    HOLES,
    INCH_CLASSES,
    ISO_286,
    SHAFTS,
    InchClass,
    SizeBand,
)

CLEARANCE, TRANSITION, INTERFERENCE = "clearance", "transition", "interference"
INCH_MM = 25.4
_MULTIPLES = {6: 10, 7: 16, 8: 25}
DUST_MM = 1e-9  # what binary fractions leave of a difference of two sizes


class FitError(ValueError):
    """A size, class or measurement that cannot be used; `field` names it."""

    def __init__(self, field: str, message: str) -> None:
        self.field, self.message = field, message
        super().__init__(f"{field}: {message}")


@dataclass(frozen=True)
class Zone:
    """Deviations of a bore or a shaft from the nominal size. [mm]"""

    code: str
    lower_mm: float
    upper_mm: float
    source: str = ""
    mark: str = "published"


@dataclass(frozen=True)
class SpecifiedFit:
    """A bore zone with a shaft zone on one nominal size. [mm]"""

    nominal_mm: float
    bore: Zone
    shaft: Zone

    @property
    def least_clearance_mm(self) -> float:
        """Smallest bore with largest shaft; negative is interference. [mm]"""
        return self.bore.lower_mm - self.shaft.upper_mm

    @property
    def most_clearance_mm(self) -> float:
        """Largest bore with smallest shaft; negative is interference. [mm]"""
        return self.bore.upper_mm - self.shaft.lower_mm

    @property
    def kind(self) -> str:
        """Always clear, always tight, or either: ISO 286-1, 3.3."""
        return kind_of(self.least_clearance_mm, self.most_clearance_mm)


def band_of(nominal_mm: float, bands: Sequence[SizeBand] = ISO_286) -> SizeBand:
    """The band a nominal size belongs to; 50 mm belongs to the band up to 50.

    Parameters
    ----------
    nominal_mm : float
        Nominal size, over the first and up to the last band's edge. [mm]
    bands : sequence of SizeBand
        Starter: ISO 286, over 3 up to 250 mm. [mm, um]

    Returns
    -------
    SizeBand
        Over its lower edge, up to and including its upper. [mm, um]

    Raises
    ------
    FitError
        The size is not finite, or no band holds it.

    References
    ----------
    ISO 286-1, bands "over, up to and including".
    """
    if not math.isfinite(nominal_mm):
        raise FitError("nominal", "The nominal size is missing or not a finite number.")
    for band in bands:
        if band.over_mm < nominal_mm <= band.up_to_mm:
            return band
    span = f"over {bands[0].over_mm:g} up to {bands[-1].up_to_mm:g} mm" if bands else "none"
    raise FitError("nominal", f"No row of the table holds {nominal_mm:g} mm: the sizes served are {span}.")


def zone(code: str, nominal_mm: float, bands: Sequence[SizeBand] = ISO_286) -> Zone:
    """Deviations of a tolerance class, H for holes and g to p for shafts.

    Parameters
    ----------
    code : str
        H6, H7, H8, g6, h6, j6, js6, k6, m6, n6 or p6.
    nominal_mm : float
        Nominal size. [mm]
    bands : sequence of SizeBand
        Starter: ISO 286. [mm, um]

    Returns
    -------
    Zone
        Lower and upper deviation. [mm]

    Raises
    ------
    FitError
        A class that is not served, or a size outside the table.

    References
    ----------
    ISO 286-2; the table governs over the formula.
    """
    band = band_of(nominal_mm, bands)
    if code in band.shaft_um:
        lower, upper = band.shaft_um[code]
    elif code[:1] == "H" and code[1:].isdigit() and int(code[1:]) in band.it_um:
        lower, upper = 0.0, band.it_um[int(code[1:])]
    else:
        raise FitError("hole" if code[:1].isupper() else "shaft", f"Choose one of: {', '.join(HOLES + SHAFTS)}.")
    return Zone(code, lower / 1000, upper / 1000, band.source, band.mark)


def standard_tolerance_um(over_mm: float, up_to_mm: float, grade: int) -> float:
    """The standard's formula for a tolerance grade; a check on the table, which governs.

    Parameters
    ----------
    over_mm, up_to_mm : float
        Edges of the band; D is their geometric mean. [mm]
    grade : int
        6, 7 or 8.

    Returns
    -------
    float
        10 i, 16 i or 25 i with ``i = 0.45 D^(1/3) + 0.001 D``, not rounded. [um]

    Raises
    ------
    FitError
        Another grade, or edges that make no band.

    References
    ----------
    ISO 286-1. Its rounding is its own: in 6 to 10 mm the formula gives IT7 14.4 where the table has 15.
    """
    if grade not in _MULTIPLES:
        raise FitError("grade", "The formula is used for grades 6, 7 and 8.")
    if not 0 < over_mm < up_to_mm < math.inf:
        raise FitError("nominal", "The edges must be above zero and in order.")
    mean = math.sqrt(over_mm * up_to_mm)
    return _MULTIPLES[grade] * (0.45 * mean ** (1 / 3) + 0.001 * mean)


def specified_fit(nominal_mm: float, hole: str, shaft: str, bands: Sequence[SizeBand] = ISO_286) -> SpecifiedFit:
    """A fit by its classes, such as H7 with k6.

    Parameters
    ----------
    nominal_mm : float
        Nominal size of both. [mm]
    hole, shaft : str
        Classes of the bore (H6 to H8) and of the shaft (g6 to p6).
    bands : sequence of SizeBand
        Starter: ISO 286. [mm, um]

    Returns
    -------
    SpecifiedFit
        With least and most clearance and its kind. [mm]

    Raises
    ------
    FitError
        A class that is not served or stands on the wrong side, a size outside the table.

    References
    ----------
    ISO 286-2.
    """
    if hole not in HOLES:
        raise FitError("hole", f"Choose one of: {', '.join(HOLES)}.")
    if shaft not in SHAFTS:
        raise FitError("shaft", f"Choose one of: {', '.join(SHAFTS)}.")
    return SpecifiedFit(nominal_mm, zone(hole, nominal_mm, bands), zone(shaft, nominal_mm, bands))


def fit_of_class(nominal_in: float, name: str, rows: Sequence[InchClass] = INCH_CLASSES) -> SpecifiedFit:
    """A fit by a site's own inch class.

    Parameters
    ----------
    nominal_in : float
        Nominal shaft size. [inch]
    name : str
        Name of the class as the site wrote it.
    rows : sequence of InchClass
        The site's table; the starter is empty, since no public one exists. [inch]

    Returns
    -------
    SpecifiedFit
        Its deviations. [mm]

    Raises
    ------
    FitError
        No row of that class holds the size.

    References
    ----------
    The row names its own source; AGMA 9002-C14 is public in its scope only.
    """
    for row in rows:
        if row.name == name and row.over_in < nominal_in <= row.up_to_in:
            bore, shaft = (
                Zone(name, low * INCH_MM, high * INCH_MM, row.source, row.mark)
                for low, high in (row.bore_in, row.shaft_in)
            )
            return SpecifiedFit(nominal_in * INCH_MM, bore, shaft)
    raise FitError("class", f"No row of the site's table gives class {name} at {nominal_in:g} inch: enter it first.")


def kind_of(least_clearance_mm: float, most_clearance_mm: float) -> str:
    """Clearance, transition or interference by the two ends of a fit.

    Parameters
    ----------
    least_clearance_mm, most_clearance_mm : float
        Negative is interference. [mm]

    Returns
    -------
    str
        'clearance' when never tight, 'interference' when never loose, else 'transition'.

    References
    ----------
    ISO 286-1; a clearance of exactly nought counts as clearance.
    """
    if least_clearance_mm >= -DUST_MM:
        return CLEARANCE
    return INTERFERENCE if most_clearance_mm < -DUST_MM else TRANSITION
