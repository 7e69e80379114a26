"""Torque of a shaft and what it is held against: rating, rim speed, shear stress, torsional natural frequency."""

from __future__ import annotations

import math
from dataclasses import dataclass

# N*m rpm / kW: 60 000 / (2 pi). The trade prints 9550, and 63 000 lbf*in rpm / hp, which is 0.04 % low.
EXACT = 30000 / math.pi
ROUNDED = 9550.0
# Three different things (Calistrat and Nelson): one multiplies the load, one divides the strength.
FACTOR_KINDS = ("service factor", "application factor", "safety factor")
NEAR = 0.1  # within 10 % of a frequency that excites it: from memory of API practice
_PSI_MPA = 0.006894757293168361
_INCH_M = 0.0254


class ShaftError(ValueError):
    """A figure that cannot be used; `field` names it."""

    def __init__(self, field: str, message: str) -> None:
        self.field, self.message = field, message
        super().__init__(f"{field}: {message}")


@dataclass(frozen=True)
class Rating:
    """Torque with its factor against a rating. [N*m, 1]

    `utilisation` is design torque over rating; `margin` is what is left of the rating over the design torque.
    """

    torque_nm: float
    factor: float
    design_nm: float
    rated_nm: float
    utilisation: float
    margin: float

    @property
    def holds(self) -> bool:
        return self.utilisation <= 1


def torque_nm(power_kw: float, rpm: float, constant: float = EXACT) -> float:
    """Torque that a shaft carries.

    Parameters
    ----------
    power_kw : float
        Power transmitted. [kW]
    rpm : float
        Speed. [rpm]
    constant : float
        60 000 / (2 pi); `ROUNDED` reproduces figures that were printed with 9550. [N*m rpm / kW]

    Returns
    -------
    float
        ``P / omega = constant * P / n``. [N*m]

    Raises
    ------
    ShaftError
        A power below zero, a speed not above zero, a number that is not finite.

    References
    ----------
    Definition of power; 9550 and 63 000 are the trade's rounded constants.
    """
    _not_below("power", power_kw)
    _above("speed", rpm)
    return constant * power_kw / rpm


def power_kw(torque_nm: float, rpm: float) -> float:
    """Power that a torque carries at a speed.

    Parameters
    ----------
    torque_nm : float
        [N*m]
    rpm : float
        [rpm]

    Returns
    -------
    float
        ``T omega``. [kW]

    Raises
    ------
    ShaftError
        A torque below zero, a speed not above zero, a number that is not finite.

    References
    ----------
    Definition of power.
    """
    _not_below("torque", torque_nm)
    _above("speed", rpm)
    return torque_nm * rpm / EXACT


def rating(torque: float, factor: float, rated_nm: float) -> Rating:
    """Design torque against a rating.

    Parameters
    ----------
    torque : float
        Torque of the shaft. [N*m]
    factor : float
        What the torque is multiplied by, at least 1: say with the record which kind of factor it is (FACTOR_KINDS). [1]
    rated_nm : float
        The data sheet's rating. [N*m]

    Returns
    -------
    Rating
        ``design = factor * torque``; utilisation ``design / rated``; margin ``rated / design - 1``, infinite at rest.

    Raises
    ------
    ShaftError
        A torque below zero, a factor below 1, a rating not above zero, a number that is not finite.

    References
    ----------
    W. Jiang, Analysis and Design of Machine Elements, eq. 13.1, p. 376: ``T_ca = K T``.
    """
    _not_below("torque", torque)
    if not (math.isfinite(factor) and factor >= 1):
        raise ShaftError("factor", "A factor of at least 1 is expected.")
    _above("rated_torque", rated_nm)
    design = factor * torque
    return Rating(torque, factor, design, rated_nm, design / rated_nm, rated_nm / design - 1 if design else math.inf)


def rim_speed_m_s(diameter_mm: float, rpm: float) -> float:
    """Speed of a coupling's rim.

    Parameters
    ----------
    diameter_mm : float
        Largest diameter that turns. [mm]
    rpm : float
        [rpm]

    Returns
    -------
    float
        ``pi D n / 60``. [m/s]

    Raises
    ------
    ShaftError
        A diameter not above zero, a speed below zero, a number that is not finite.

    References
    ----------
    Plane geometry; MPTA B13i-2013 prints ``RPM = 3.82 V / D`` with V in ft/min and D in inches.
    """
    _above("diameter", diameter_mm)
    _not_below("speed", rpm)
    return math.pi * diameter_mm / 1000 * rpm / 60


def rim_rpm(speed_m_s: float, diameter_mm: float) -> float:
    """Speed at which a rim runs as fast as it may.

    Parameters
    ----------
    speed_m_s : float
        Largest rim speed. [m/s]
    diameter_mm : float
        Largest diameter that turns. [mm]

    Returns
    -------
    float
        ``60 V / (pi D)``. [rpm]

    Raises
    ------
    ShaftError
        A figure not above zero or not finite.

    References
    ----------
    As `rim_speed_m_s`.
    """
    _above("rim_speed", speed_m_s)
    _above("diameter", diameter_mm)
    return 60 * speed_m_s / (math.pi * diameter_mm / 1000)


def hoop_stress_mpa(speed_m_s: float) -> float:
    """Hoop stress of a turning steel rim.

    Parameters
    ----------
    speed_m_s : float
        Rim speed. [m/s]

    Returns
    -------
    float
        ``V^2 / 1500`` in psi with V in in/s, here in MPa.

    Raises
    ------
    ShaftError
        A speed below zero or not finite.

    References
    ----------
    M. Calistrat and R. Nelson, in the proceedings of a turbomachinery symposium: for steel.
    """
    _not_below("rim_speed", speed_m_s)
    return (speed_m_s / _INCH_M) ** 2 / 1500 * _PSI_MPA


def shear_stress_mpa(torque: float, diameter_mm: float) -> float:
    """Shear stress at the surface of a solid round shaft.

    Parameters
    ----------
    torque : float
        [N*m]
    diameter_mm : float
        [mm]

    Returns
    -------
    float
        ``16 T / (pi d^3)``, without keyway or shoulder. [MPa]

    Raises
    ------
    ShaftError
        A torque below zero, a diameter not above zero, a number that is not finite.

    References
    ----------
    Torsion of a round bar, any text on strength of materials.
    """
    _not_below("torque", torque)
    _above("diameter", diameter_mm)
    return 16 * torque * 1000 / (math.pi * diameter_mm**3)


def natural_frequency_hz(stiffness_nm_rad: float, inertia_1_kgm2: float, inertia_2_kgm2: float) -> float:
    """Torsional natural frequency of two inertias on one spring.

    Parameters
    ----------
    stiffness_nm_rad : float
        Torsional stiffness between them: mostly the coupling's. [N*m/rad]
    inertia_1_kgm2, inertia_2_kgm2 : float
        Driver and driven machine, at the same speed. [kg*m^2]

    Returns
    -------
    float
        ``sqrt(k (J1 + J2) / (J1 J2)) / (2 pi)``. [Hz]

    Raises
    ------
    ShaftError
        A figure not above zero or not finite.

    References
    ----------
    Two-inertia system, any text on vibration.
    """
    _above("stiffness", stiffness_nm_rad)
    _above("inertia_1", inertia_1_kgm2)
    _above("inertia_2", inertia_2_kgm2)
    return math.sqrt(stiffness_nm_rad / inertia_1_kgm2 + stiffness_nm_rad / inertia_2_kgm2) / (2 * math.pi)


def separation(natural_hz: float, exciting_hz: float) -> float:
    """How far a natural frequency lies from one that excites it.

    Parameters
    ----------
    natural_hz : float
        [Hz]
    exciting_hz : float
        Running speed, or twice the line frequency. [Hz]

    Returns
    -------
    float
        ``natural / exciting - 1``; positive: above. [1]

    Raises
    ------
    ShaftError
        A frequency not above zero or not finite.

    References
    ----------
    Keep 10 % away: API practice, from memory.
    """
    _above("natural_frequency", natural_hz)
    _above("exciting_frequency", exciting_hz)
    return natural_hz / exciting_hz - 1


def _above(field: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0):
        raise ShaftError(field, "This is missing, not finite or not above zero.")


def _not_below(field: str, value: float) -> None:
    if not (math.isfinite(value) and value >= 0):
        raise ShaftError(field, "This is missing, not finite or below zero.")
