"""Where feet and flex planes stand along the shaft, and the cold position wanted."""

from __future__ import annotations

from couplings.models import Coupling, Fit, SheetVersion
from couplings.selectors.fits import fit_at


def feet_of(coupling: Coupling, side: str, fit: Fit | None = None) -> list[tuple[str, float]]:
    """Foot planes of the machine on one side, seen as the movable one.

    Parameters
    ----------
    coupling : Coupling
    side : {'driver', 'driven'}
        The machine that moves. x runs from the coupling's centre towards it, so its feet have positive x.
    fit : Fit, optional
        The open fit, where the caller has it already; its distance between shaft ends places the feet.

    Returns
    -------
    list of (name, x)
        Nearest first; empty where the distance between shaft ends is not known, or, for the driver side, the length
        of its shaft, since foot planes are stored from the machine's driver-side shaft end. [mm]

    References
    ----------
    Plane geometry on one axis: spec of the record's axes; half the distance between shaft ends lies on either side of
    the coupling's centre.
    """
    machine = {"driver": coupling.driver_machine, "driven": coupling.driven_machine}[side]
    fit = fit or fit_at(coupling)
    if fit is None:
        return []
    dbse_mm = fit.dbse_mm if fit.dbse_mm is not None else fit.sheet_version.dbse_mm
    if dbse_mm is None:
        return []
    feet = [(foot.name, foot.distance_mm) for foot in machine.foot_planes.all()]
    if side == "driver":
        length_mm = machine.shaft_length_mm
        if length_mm is None:
            return []
        feet = [(name, length_mm - distance_mm) for name, distance_mm in feet]
    return sorted(((name, dbse_mm / 2 + from_end_mm) for name, from_end_mm in feet), key=lambda foot: foot[1])


def flex_planes_of(version: SheetVersion) -> tuple[float, float] | None:
    """Flex planes A and B of a design, half its flex distance on either side of the centre. [mm]"""
    if version.flex_distance_mm is None:
        return None
    return (-version.flex_distance_mm / 2, version.flex_distance_mm / 2)


def target_of(coupling: Coupling) -> tuple[float, float, float, float]:
    """The cold position wanted: the sum of its parts, in the record's frame.

    Returns
    -------
    (offset V, offset H, slope V, slope H)
        Driver-side shaft relative to the driven-side shaft, seen from the driver end; up and right are positive.
        [mm, mm, mrad, mrad]
    """
    parts = list(coupling.target_parts.all())
    return (
        sum(part.offset_v_mm for part in parts),
        sum(part.offset_h_mm for part in parts),
        sum(part.slope_v_mrad for part in parts),
        sum(part.slope_h_mrad for part in parts),
    )
