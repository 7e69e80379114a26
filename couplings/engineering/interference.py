"""What an interference fit holds and how it is put on: pressure, torque, heating, advance on a taper."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from couplings.engineering.fits import FitError

STEEL_E_MPA = 207_000.0  # Shigley, 9th ed., Table A-5, from memory
STEEL_NU = 0.292  # the same
# Starter of a site's setting, steel: common practice; published values run from 11e-6 to 12e-6.
STEEL_ALPHA_PER_K = 11.6e-6


@dataclass(frozen=True)
class Ring:
    """Material of the hub or of the shaft: modulus [MPa] and Poisson's ratio."""

    e_mpa: float = STEEL_E_MPA
    nu: float = STEEL_NU


STEEL = Ring()


@dataclass(frozen=True)
class Pressed:
    """An interference fit at rest. [MPa]

    `hub_hoop_mpa` is the tension at the bore, the largest stress of the hub; `shaft_hoop_mpa` the compression at the
    shaft's bore, or of a solid shaft throughout (negative).
    """

    pressure_mpa: float
    hub_hoop_mpa: float
    shaft_hoop_mpa: float


def press_pressure(
    interference_mm: float,
    diameter_mm: float,
    hub_outside_mm: float,
    shaft_bore_mm: float = 0.0,
    hub: Ring = STEEL,
    shaft: Ring = STEEL,
) -> Pressed:
    """Pressure in an interference fit by thick-ring theory, at rest and elastic.

    Parameters
    ----------
    interference_mm : float
        Diametral, above or equal to zero. [mm]
    diameter_mm, hub_outside_mm : float
        Of the fit and of the hub's outside. [mm]
    shaft_bore_mm : float
        Of a hollow shaft; 0 is solid. [mm]
    hub, shaft : Ring
        Materials. [MPa]

    Returns
    -------
    Pressed
        ``p = delta / (d (Ch/Eh + Cs/Es))`` with ``Ch = (D^2+d^2)/(D^2-d^2) + nu`` and
        ``Cs = (d^2+b^2)/(d^2-b^2) - nu``; for one material and a solid shaft ``E delta/(2d) (1 - (d/D)^2)``. [MPa]

    Raises
    ------
    FitError
        A length that is not finite or out of order, a material that cannot be.

    References
    ----------
    Lame's thick ring; Shigley, 9th ed., sec. 3-16, from memory.

    Notes
    -----
    Rotation loosens a fit and heat from one side may too: neither is taken into account.
    """
    _finite("interference", interference_mm, at_least=0.0)
    _finite("diameter", diameter_mm)
    _finite("hub_outside", hub_outside_mm)
    _finite("shaft_bore", shaft_bore_mm, at_least=0.0)
    if hub_outside_mm <= diameter_mm:
        raise FitError("hub_outside", "The hub's outside must be larger than its bore.")
    if shaft_bore_mm >= diameter_mm:
        raise FitError("shaft_bore", "The shaft's bore must be smaller than the shaft.")
    for name, ring in (("hub", hub), ("shaft", shaft)):
        if not (math.isfinite(ring.e_mpa) and ring.e_mpa > 0 and 0 <= ring.nu < 0.5):
            raise FitError(f"{name}_modulus", "The modulus must be above zero and Poisson's ratio from 0 to below 0.5.")
    outer = (hub_outside_mm**2 + diameter_mm**2) / (hub_outside_mm**2 - diameter_mm**2)
    inner = (diameter_mm**2 + shaft_bore_mm**2) / (diameter_mm**2 - shaft_bore_mm**2)
    pressure = interference_mm / (diameter_mm * ((outer + hub.nu) / hub.e_mpa + (inner - shaft.nu) / shaft.e_mpa))
    shaft_hoop = -pressure * (2 * diameter_mm**2 / (diameter_mm**2 - shaft_bore_mm**2) if shaft_bore_mm > 0 else 1.0)
    return Pressed(pressure, pressure * outer, shaft_hoop + 0.0)


def press_torque_nm(pressure_mpa: float, diameter_mm: float, length_mm: float, friction: float) -> float:
    """Torque at which a pressed hub slips.

    Parameters
    ----------
    pressure_mpa : float
        In the fit. [MPa]
    diameter_mm, length_mm : float
        Of the fit. [mm]
    friction : float
        Coefficient of friction, never assumed here.

    Returns
    -------
    float
        ``pi f p l d^2 / 2``. [N*m]

    Raises
    ------
    FitError
        A figure that is not finite or not above zero.

    References
    ----------
    Shigley, 9th ed., sec. 7-8, from memory.
    """
    return press_force_n(pressure_mpa, diameter_mm, length_mm, friction) * diameter_mm / 2000.0


def press_force_n(pressure_mpa: float, diameter_mm: float, length_mm: float, friction: float) -> float:
    """Axial force at which a pressed hub slides.

    Parameters
    ----------
    pressure_mpa : float
        In the fit. [MPa]
    diameter_mm, length_mm : float
        Of the fit. [mm]
    friction : float
        Coefficient of friction.

    Returns
    -------
    float
        ``pi f p l d``. [N]

    Raises
    ------
    FitError
        A figure that is not finite or not above zero.

    References
    ----------
    Shigley, 9th ed., sec. 7-8, from memory.
    """
    _finite("pressure", pressure_mpa, at_least=0.0)
    _finite("diameter", diameter_mm)
    _finite("length", length_mm)
    if not 0 < friction <= 2:
        raise FitError("friction", "A coefficient of friction above zero is expected, such as 0.15.")
    return math.pi * friction * pressure_mpa * length_mm * diameter_mm


def heating_rise_k(
    interference_mm: float, assembly_clearance_mm: float, diameter_mm: float, alpha_per_k: float = STEEL_ALPHA_PER_K
) -> float:
    """How much hotter than the shaft the hub must be to slide on. A hot hub burns and sets fire to oil and rags.

    Parameters
    ----------
    interference_mm : float
        Diametral, as measured. [mm]
    assembly_clearance_mm : float
        Clearance wanted while it slides on. [mm]
    diameter_mm : float
        Of the bore. [mm]
    alpha_per_k : float
        Expansion of the hub; starter: steel. [1/K]

    Returns
    -------
    float
        ``(interference + clearance) / (alpha d)``. [K]

    Raises
    ------
    FitError
        A figure that is not finite or, for diameter and expansion, not above zero.

    References
    ----------
    Linear expansion. The clearance is the site's choice: common practice is about the interference again.
    """
    _finite("interference", interference_mm, at_least=0.0)
    _finite("assembly_clearance", assembly_clearance_mm, at_least=0.0)
    _finite("diameter", diameter_mm)
    if not 0 < alpha_per_k < 1e-3:
        raise FitError("alpha", "The coefficient of expansion must lie above zero and below 0.001 per kelvin.")
    return (interference_mm + assembly_clearance_mm) / (alpha_per_k * diameter_mm)


def taper_advance_mm(interference_mm: float, taper: float) -> float:
    """How far a hub must advance on a tapered shaft, from hand-tight, for an interference.

    Parameters
    ----------
    interference_mm : float
        Diametral, wanted. [mm]
    taper : float
        Length over which the diameter changes by one unit: 16 for 3/4 inch per foot, 12 for 1:12, 30 for 1:30.

    Returns
    -------
    float
        ``interference * taper``. [mm]

    Raises
    ------
    FitError
        An interference below zero, a taper of 1 or less.

    References
    ----------
    Geometry of a cone. Hand-tight as the start: common practice; smoothing of the surfaces takes a little more.
    """
    _finite("interference", interference_mm, at_least=0.0)
    if not 1 < taper < 10_000:
        raise FitError("taper", "Give the taper as the length per unit of diameter, 16 for 1:16.")
    return interference_mm * taper


def surface_roughness_um(profile_um: Sequence[float]) -> tuple[float, float, float]:
    """Ra, Rq and Rz of one sampling length of an evenly sampled profile.

    Parameters
    ----------
    profile_um : sequence of floats
        Heights; the mean line is taken out. [um]

    Returns
    -------
    (Ra, Rq, Rz)
        Mean of the absolute height, root mean square, highest peak to deepest valley. [um]

    Raises
    ------
    FitError
        Fewer than three heights, or one that is not finite.

    References
    ----------
    ISO 4287, definitions from memory.
    """
    heights = np.asarray(profile_um, dtype=float)
    if heights.ndim != 1 or heights.size < 3 or not np.all(np.isfinite(heights)):
        raise FitError("profile", "At least three finite heights in a row are needed.")
    heights = heights - heights.mean()
    return float(np.mean(np.abs(heights))), float(np.sqrt(np.mean(heights**2))), float(np.ptp(heights))


def interference_left_mm(measured_mm: float, bore_rz_um: float, shaft_rz_um: float) -> float:
    """Interference that still presses once the peaks of both surfaces are flattened.

    Parameters
    ----------
    measured_mm : float
        Diametral, as measured over the peaks. [mm]
    bore_rz_um, shaft_rz_um : float
        Rz of both surfaces. [um]

    Returns
    -------
    float
        ``measured - 0.8 (Rz1 + Rz2)``, not below nought. [mm]

    Raises
    ------
    FitError
        A figure that is not finite or below zero.

    References
    ----------
    DIN 7190-1, from memory.
    """
    _finite("interference", measured_mm, at_least=0.0)
    _finite("bore_rz", bore_rz_um, at_least=0.0)
    _finite("shaft_rz", shaft_rz_um, at_least=0.0)
    return max(0.0, measured_mm - 0.8 * (bore_rz_um + shaft_rz_um) / 1000.0)


def _finite(field: str, value: float, at_least: float | None = None) -> None:
    if not math.isfinite(value):
        raise FitError(field, "This figure is missing or not a finite number.")
    if at_least is None and value <= 0:
        raise FitError(field, "This must be greater than zero.")
    if at_least is not None and value < at_least:
        raise FitError(field, "This must not be negative.")
