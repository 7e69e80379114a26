"""Limits as a data sheet or a site's speed grade states them, and how figures are brought to their form."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from couplings.engineering.alignment import AlignmentError

QUANTITIES = ("offset", "angularity", "flex-angle-a", "flex-angle-b", "flex-angle", "axial")


class ConformityError(AlignmentError):
    """A limit, confidence or decision rule that cannot be used."""


@dataclass(frozen=True)
class Limit:
    """A largest permitted value. [mm] for offset and axial, [mrad] for angles.

    'flex-angle' stands for both flex planes. `family` is 'sheet' (the coupling's data sheet) or 'grade' (the site's
    speed grade); both are judged, so the tighter governs.
    """

    quantity: str
    value: float
    family: str = "sheet"
    source: str = ""


@dataclass(frozen=True)
class Limits:
    """The limits of one coupling.

    rule : 'vector' (length over both planes) or 'per-plane' (each plane by itself).
    combined : the data sheet also wants the sum of ratios of offset, angle and axial to be at most 1 (common practice).
    """

    limits: tuple[Limit, ...] = ()
    rule: str = "vector"
    combined: bool = False


@dataclass(frozen=True)
class LimitLine:
    """One figure against one limit.

    `value` is a length or, per plane, an absolute value, `u` its standard uncertainty, `limit` what it is held against,
    [mm] for offset and axial, [mrad] for angles; `share` = value / limit; `share_u` reaches from the share to where the
    decision's confidence puts the true share on the limit's side, so it crosses 1 exactly when the line is undecided.
    None where the figure is not known. `quantity` 'combined' is the sum of ratios with limit 1.
    """

    quantity: str
    value: float | None
    u: float | None
    limit: float
    share: float | None
    share_u: float | None
    verdict: str
    plane: str = ""
    family: str = "sheet"
    source: str = ""
    probability: float | None = None


def gap_in_place(
    gaps_mm: Sequence[float], rotor_from_place_mm: float = 0.0, *, u_mm: float = 0.0
) -> tuple[float, float]:
    """Gap that the coupling will have when the rotor runs at its proper place.

    Parameters
    ----------
    gaps_mm : one to four floats
        Measured around the hubs. [mm]
    rotor_from_place_mm : float
        How far the rotor now stands from its proper place (magnetic centre) towards the coupling. [mm]
    u_mm : float
        Standard uncertainty of one gap. [mm]

    Returns
    -------
    (gap, standard uncertainty)
        Mean gap plus the rotor's distance. [mm]

    Raises
    ------
    ConformityError
        No gap, more than four, or one that is not finite.

    References
    ----------
    Common practice: a gap is corrected to where the rotor runs.
    """
    if not 1 <= len(gaps_mm) <= 4:
        raise ConformityError("axial.gaps", "Give one to four gaps around the coupling.")
    for place, gap in enumerate(gaps_mm):
        if not math.isfinite(gap):
            raise ConformityError(f"axial.gaps.{place}", "The gap is missing or not a finite number.")
    if not math.isfinite(rotor_from_place_mm):
        raise ConformityError("axial.rotor_from_place", "The rotor's distance from its place is not a finite number.")
    return sum(gaps_mm) / len(gaps_mm) + rotor_from_place_mm, u_mm / math.sqrt(len(gaps_mm))


def slope_from_degrees(degrees: float) -> float:
    """Slope of an angle.

    Parameters
    ----------
    degrees : float
        Between -90 and 90. [deg]

    Returns
    -------
    float
        Its tangent. [mrad = mm/m = thou/inch]

    References
    ----------
    Plane geometry.
    """
    return 1000.0 * math.tan(math.radians(degrees))


def degrees_from_slope(slope_mrad: float) -> float:
    """Angle of a slope.

    Parameters
    ----------
    slope_mrad : float
        [mrad]

    Returns
    -------
    float
        [deg]

    References
    ----------
    Plane geometry.
    """
    return math.degrees(math.atan(slope_mrad / 1000.0))


def slope_from_gap(gap_difference_mm: float, diameter_mm: float) -> float:
    """Slope of a difference between opposite gaps over the diameter at which they are taken.

    Parameters
    ----------
    gap_difference_mm, diameter_mm : float
        [mm]

    Returns
    -------
    float
        [mrad]

    Raises
    ------
    ConformityError
        A diameter that is not above zero.

    References
    ----------
    Plane geometry; how data sheets print angularity.
    """
    if not diameter_mm > 0:
        raise ConformityError("diameter", "The diameter at which the gap is taken must be above zero.")
    return 1000.0 * gap_difference_mm / diameter_mm
