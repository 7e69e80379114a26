"""Axial float of a sleeve-bearing motor, whose rotor is held in place by the coupling alone."""

from __future__ import annotations

import math

from couplings.engineering.alignment import AlignmentError


class EndFloatError(AlignmentError):
    """Floats or gaps that cannot be used."""


def float_left_mm(rotor_end_float_mm: float, coupling_end_float_mm: float) -> float:
    """What is left between rotor and thrust face on each side, the coupling at the end of its float.

    Parameters
    ----------
    rotor_end_float_mm : float
        Total travel of the rotor between its bearings' faces. [mm]
    coupling_end_float_mm : float
        Total travel that the coupling allows, set so that both centres agree. [mm]

    Returns
    -------
    float
        ``(rotor - coupling) / 2``; zero or below: the rotor can run against its bearing. [mm]

    Raises
    ------
    EndFloatError
        A float that is negative or not finite.

    References
    ----------
    Half the difference of two lengths; the pairs 1/4 and 3/32 in, 1/2 and 3/16 in: from memory of NEMA MG 1.
    """
    _check("rotor_end_float", rotor_end_float_mm)
    _check("coupling_end_float", coupling_end_float_mm)
    return (rotor_end_float_mm - coupling_end_float_mm) / 2.0


def gap_to_set_mm(gap_running_mm: float, rotor_from_centre_mm: float) -> float:
    """Gap to set now, so that it is right when the rotor runs at its magnetic centre.

    Parameters
    ----------
    gap_running_mm : float
        Wanted with the rotor at its magnetic centre. [mm]
    rotor_from_centre_mm : float
        How far the rotor now stands from there towards the coupling. [mm]

    Returns
    -------
    float
        ``gap - distance``; the reverse of `limits.gap_in_place`. [mm]

    Raises
    ------
    EndFloatError
        A gap that is negative or not finite, a distance that is not finite, a gap to set that is below zero.

    References
    ----------
    Plane arithmetic along the shaft.
    """
    _check("gap_running", gap_running_mm)
    if not math.isfinite(rotor_from_centre_mm):
        raise EndFloatError("rotor_from_centre", "The rotor's distance from its centre is not a finite number.")
    gap = gap_running_mm - rotor_from_centre_mm
    if gap < 0:
        raise EndFloatError(
            "rotor_from_centre", "The rotor stands closer to the coupling than the gap: move it back first."
        )
    return gap


def _check(field: str, length_mm: float) -> None:
    if not (math.isfinite(length_mm) and length_mm >= 0):
        raise EndFloatError(field, "This length must be a finite number, zero or above.")
