"""A survey taken while the supports were warm or cold, as it would be at the site's reference temperature.

Everything here is in the record's frame: the driver-side machine is the movable one of `couplings.engineering.thermal`,
so that its feet lie at positive x, whichever machine was moved that day.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from couplings.engineering.alignment import Misalignment
from couplings.engineering.tables.coefficients import Coefficient
from couplings.engineering.thermal import Layer, Support, ThermalError, corrected, relative_growth
from couplings.models import Coupling
from couplings.selectors import support_coefficient

# Starter, common practice: a contact thermometer held to a painted leg, and a leg that is not equally warm all over.
TEMPERATURE_U_K = 2.0
Foot = tuple[str, float]
WORDS = {"driver": "driver-side", "driven": "driven-side"}


@dataclass(frozen=True)
class Leg:
    """One foot plane: x from the coupling's centre in the record's frame, height from base to centreline. [mm]

    `coefficient` is that of its machine's own material; None: the one of the whole ground.
    """

    side: str
    name: str
    x_mm: float
    height_mm: float
    coefficient: Coefficient | None = None


@dataclass(frozen=True)
class Ground:
    """What a correction needs besides temperatures; `missing` says what the register does not hold. [degC]

    `coefficient` is that of the site's supports; a leg may have its own.
    """

    reference_degc: float
    coefficient: Coefficient
    legs: tuple[Leg, ...] = ()
    missing: str = ""

    def of(self, leg: Leg) -> Coefficient:
        """What this leg grows by."""
        return leg.coefficient or self.coefficient

    @property
    def materials(self) -> str:
        """In words: one material for both machines, or that of each."""
        by_side = {leg.side: self.of(leg).material for leg in self.legs}
        if len(set(by_side.values())) < 2:
            return next(iter(by_side.values()), self.coefficient.material)
        return ", ".join(f"{WORDS[side]} {by_side[side]}" for side in sorted(by_side, reverse=True))


@dataclass(frozen=True)
class Correction:
    """What was added to the survey, or why nothing was. Empty `missing` exactly where something was added."""

    missing: str = ""
    added: Misalignment | None = None
    ground: Ground | None = None
    as_read: Misalignment | None = None

    def as_json(self) -> dict[str, Any]:
        """As the record keeps it. [mm, mrad, degC, 1e-6/K]"""
        if self.added is None or self.ground is None:
            return {"applied": False, "why": self.missing}
        spread = self.added.covariance
        return {
            "applied": True,
            "reference_degc": self.ground.reference_degc,
            "material": self.ground.materials,
            "temperature_u_k": TEMPERATURE_U_K,
            "offset_v_mm": self.added.mean[0],
            "slope_v_mrad": self.added.mean[2],
            "covariance": [spread[0][0], spread[0][2], spread[2][2]],
            "supports": [_as_json(leg, self.ground.of(leg)) for leg in self.ground.legs],
        }


def ground_of(coupling: Coupling, feet: dict[str, list[Foot]]) -> Ground:
    """Support heights and materials of a coupling's two machines; `feet` as `feet_of` gives them per side."""
    site = coupling.site
    of_site = support_coefficient(site)
    legs: list[Leg] = []
    missing = ""
    for side, machine in (("driver", coupling.driver_machine), ("driven", coupling.driven_machine)):
        heights = {plane.name: plane.support_height_mm for plane in machine.foot_planes.all()}
        if machine.mounting != machine.Mounting.FEET:
            missing = missing or f"not corrected: the {WORDS[side]} machine does not stand on feet"
        elif not feet[side]:
            missing = missing or f"not corrected: the feet of the {WORDS[side]} machine are not in the register"
        elif any(heights.get(name) is None for name, _x_mm in feet[side]):
            missing = missing or f"not corrected: no support heights in the register for the {WORDS[side]} machine"
        else:
            sign = 1.0 if side == "driver" else -1.0
            own = machine.support_material
            used = support_coefficient(site, own) if own and own != site.support_material else of_site
            legs += [Leg(side, name, sign * x_mm, float(heights[name] or 0.0), used) for name, x_mm in feet[side]]
    return Ground(site.reference_degc, of_site, tuple(legs), missing)


def _as_json(leg: Leg, used: Coefficient) -> dict[str, Any]:
    place = {"side": leg.side, "name": leg.name, "x_mm": leg.x_mm, "height_mm": leg.height_mm}
    return place | {"material": used.material, "alpha": used.alpha, "alpha_u": used.alpha_u}


def correct(
    record: Misalignment, ground: Ground | None, driver_degc: float | None, driven_degc: float | None
) -> tuple[Misalignment, Correction]:
    """A survey in the record's frame at the reference temperature, with what was added.

    Parameters
    ----------
    record : Misalignment
        As read. [mm, mrad]
    ground : Ground or None
        Supports, materials and reference; None corrects nothing.
    driver_degc, driven_degc : float or None
        Support temperatures during the survey. [degC]

    Returns
    -------
    (Misalignment, Correction)
        The survey itself, untouched, where anything is missing. Machines of one material share the error of its
        coefficient; each has the error of its own thermometer; the reference temperature is exact. [mm, mrad]

    References
    ----------
    `couplings.engineering.thermal.corrected`.
    """
    missing = _missing(ground, driver_degc, driven_degc)
    if missing or ground is None or driver_degc is None or driven_degc is None:
        return record, Correction(missing)
    driver, driven = _supports(ground, "driver", driver_degc), _supports(ground, "driven", driven_degc)
    try:
        return corrected(record, driven, driver), Correction("", relative_growth(driven, driver), ground, record)
    except ThermalError as error:
        return record, Correction(f"not corrected: {next(iter(error.errors.values()))}")


def _missing(ground: Ground | None, driver_degc: float | None, driven_degc: float | None) -> str:
    if driver_degc is None and driven_degc is None:
        return "not corrected: no support temperatures were measured"
    for side, degc in (("driver", driver_degc), ("driven", driven_degc)):
        if degc is None:
            return f"not corrected: the temperature of the {WORDS[side]} supports was not measured"
    return ground.missing if ground is not None else "not corrected: no supports are known"


def _supports(ground: Ground, side: str, degc: float) -> list[Support]:
    return [
        Support(
            leg.name,
            leg.x_mm,
            (
                Layer(
                    leg.height_mm,
                    ground.of(leg).alpha,
                    from_degc=degc,
                    to_degc=ground.reference_degc,
                    alpha_u=ground.of(leg).alpha_u,
                    from_u_k=TEMPERATURE_U_K,
                    coefficient=ground.of(leg).material,
                    from_thermometer=side,
                    to_thermometer="reference",
                ),
            ),
        )
        for leg in ground.legs
        if leg.side == side
    ]
