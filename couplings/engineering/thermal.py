"""Growth of machine supports with temperature, and what it asks of a cold alignment or does to a warm survey.

Working frame of `couplings.engineering.alignment`: movable shaft relative to stationary shaft, up positive, x from the
coupling's centre towards the movable machine, so that the feet of the stationary machine lie at negative x.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from couplings.engineering.alignment import AlignmentError, Misalignment

Floats = NDArray[np.float64]
ABSOLUTE_ZERO_DEGC = -273.15
MILLIONTH = 1e-6


class ThermalError(AlignmentError):
    """Heights, coefficients, temperatures or foot planes that cannot be used."""


@dataclass(frozen=True)
class Layer:
    """One part of the column between base and shaft centreline, of one material at one temperature.

    Attributes
    ----------
    height_mm : float
        [mm]
    alpha, alpha_u : float
        Coefficient of expansion and its standard uncertainty. [1e-6/K]
    from_degc, to_degc : float
        Temperature of the metal, not of the fluid, in the first and in the second state. [degC]
    from_u_k, to_u_k : float
        Standard uncertainties of the two temperatures. [K]
    coefficient, from_thermometer, to_thermometer : str
        Layers that name the same coefficient share its error, those that name the same measurement of a temperature
        share that error; an empty name shares with nobody.
    """

    height_mm: float
    alpha: float
    from_degc: float
    to_degc: float
    alpha_u: float = 0.0
    from_u_k: float = 0.0
    to_u_k: float = 0.0
    coefficient: str = ""
    from_thermometer: str = ""
    to_thermometer: str = ""


@dataclass(frozen=True)
class Support:
    """One foot plane: its name, its place along the shaft [mm] and the layers that carry the shaft there."""

    name: str
    x_mm: float
    layers: tuple[Layer, ...]


@dataclass(frozen=True)
class Growth:
    """Rise of every support, in order, and what each source of error does to all of them, a row each. [mm]"""

    rise_mm: Floats
    errors_mm: Floats

    @property
    def covariance(self) -> Floats:
        """Among the rises. [mm^2]"""
        return np.asarray(self.errors_mm.T @ self.errors_mm, dtype=float)

    @property
    def u_mm(self) -> Floats:
        """Standard uncertainty of each rise. [mm]"""
        return np.sqrt(np.diag(self.covariance))


def growth_mm(height_mm: ArrayLike, alpha: ArrayLike, from_degc: ArrayLike, to_degc: ArrayLike) -> Floats:
    """Growth of a column that warms evenly.

    Parameters
    ----------
    height_mm : array_like
        From the base to the shaft's centreline. [mm]
    alpha : array_like
        Coefficient of expansion. [1e-6/K]
    from_degc, to_degc : array_like
        Mean temperature of the column, measured at several points up the leg. [degC]

    Returns
    -------
    ndarray
        ``alpha height (to - from)``, positive up; shapes are broadcast. [mm]

    Raises
    ------
    ThermalError
        A negative height or coefficient, a temperature below absolute zero, a number that is not finite.

    References
    ----------
    R. B. McMillan, Rotating Machinery, Fairmont Press 2004, eq. 8.2, p. 134 and 137. Published coefficients hold from
    0 to 175 degC (32 to 350 F).
    """
    height, coefficient = _at_least(0.0, "height", height_mm), _at_least(0.0, "coefficient", alpha)
    cold = _at_least(ABSOLUTE_ZERO_DEGC, "from", from_degc)
    hot = _at_least(ABSOLUTE_ZERO_DEGC, "to", to_degc)
    return np.asarray(MILLIONTH * coefficient * height * (hot - cold), dtype=float)


def growth_of(supports: Sequence[Support]) -> Growth:
    """Growth of every support, layer upon layer, with its covariance.

    Parameters
    ----------
    supports : sequence of Support
        Of one machine or of both; errors they share tie them together.

    Returns
    -------
    Growth
        ``var = (height dT u(alpha))^2 + (alpha height)^2 (u(from)^2 + u(to)^2)`` for a single layer. [mm]

    Raises
    ------
    ThermalError
        As `growth_mm`, by field path; a support without layers; an uncertainty below zero.

    References
    ----------
    Linear propagation of uncertainty with shared errors (JCGM 100, 5.2).
    """
    rises = np.zeros(len(supports))
    errors: dict[tuple[str, str], Floats] = {}
    for row, support in enumerate(supports):
        if not support.layers:
            raise ThermalError(f"feet.{row}.layers", "Nothing carries this foot plane: give its height and material.")
        for place, layer in enumerate(support.layers):
            alone = f"{row}.{place}"
            for name, spread in (("alpha", layer.alpha_u), ("from", layer.from_u_k), ("to", layer.to_u_k)):
                _at_least(0.0, f"feet.{row}.{name}_standard_uncertainty", spread)
            rises[row] += growth_mm(layer.height_mm, layer.alpha, layer.from_degc, layer.to_degc)
            grown = MILLIONTH * layer.height_mm
            warmth = layer.to_degc - layer.from_degc
            for key, change in (
                (("alpha", layer.coefficient or alone), grown * warmth * layer.alpha_u),
                (("from", layer.from_thermometer or alone), -grown * layer.alpha * layer.from_u_k),
                (("to", layer.to_thermometer or alone), grown * layer.alpha * layer.to_u_k),
            ):
                errors.setdefault(key, np.zeros(len(supports)))[row] += change
    return Growth(rises, np.array(list(errors.values())).reshape(len(errors), len(supports)))


def relative_growth(stationary: Sequence[Support], movable: Sequence[Support]) -> Misalignment:
    """How the movable shaft moves against the stationary one while the supports go from one state to the other.

    Parameters
    ----------
    stationary, movable : sequences of Support
        Two to four foot planes each, those of the stationary machine at negative x; empty for a machine that does not
        grow. A machine is rigid: with more than two planes it follows the straight line nearest to them.

    Returns
    -------
    Misalignment
        Line of the movable machine less line of the stationary machine, extended to x = 0. Supports move the shaft
        vertically only, so the horizontal figures are zero and certain. [mm, mrad]

    Raises
    ------
    ThermalError
        As `growth_of`; both machines empty, one or more than four planes, two planes at one place, a plane on the
        other machine's side of the coupling.

    References
    ----------
    Straight lines through the feet of rigid machines; R. B. McMillan, Rotating Machinery, Fairmont Press 2004,
    Example 8-3, where only one machine grows.
    """
    errors = {**_plane_errors("stationary", stationary, -1.0), **_plane_errors("movable", movable, 1.0)}
    if not stationary and not movable:
        errors["movable"] = "Neither machine has foot planes: give those of the one that grows."
    if errors:
        raise ThermalError(errors)
    growth = growth_of([*stationary, *movable])
    line = np.hstack([-_line(stationary), _line(movable)])
    offset, slope = line @ growth.rise_mm
    # Each error goes through the line by itself: squares cannot come out below zero, as a difference of sums can.
    carried = growth.errors_mm @ line.T
    covariance = np.zeros((4, 4))
    covariance[np.ix_((0, 2), (0, 2))] = carried.T @ carried
    return Misalignment.of([offset, 0.0, slope, 0.0], covariance)


def cold_target(stationary: Sequence[Support], movable: Sequence[Support]) -> Misalignment:
    """Where the movable shaft has to lie cold so that both run in line hot.

    Parameters
    ----------
    stationary, movable : sequences of Support
        As `relative_growth`, from the cold to the running state.

    Returns
    -------
    Misalignment
        Minus the hot relative movement; `mean` is a target for `moves.foot_moves` and `conformity.judge`, and the
        covariance is what the target itself is uncertain by. [mm, mrad]

    Raises
    ------
    ThermalError
        As `relative_growth`.

    References
    ----------
    R. B. McMillan, Rotating Machinery, Fairmont Press 2004, Example 8-3: a machine that grows is set low by its growth.
    """
    grown = relative_growth(stationary, movable)
    # Adding zero turns a minus nought, which a page would print with its sign, into nought.
    return Misalignment.of(-grown.mean_array + 0.0, grown.covariance)


def corrected(misalignment: Misalignment, stationary: Sequence[Support], movable: Sequence[Support]) -> Misalignment:
    """A survey taken at one state of temperature, as it would be at another.

    Parameters
    ----------
    misalignment : Misalignment
        As measured. [mm, mrad]
    stationary, movable : sequences of Support
        As `relative_growth`, from the temperatures of the survey to those of the reference state.

    Returns
    -------
    Misalignment
        The survey plus the relative growth; the uncertainty of coefficients and temperatures is added to the survey's,
        which shares no error with them. A plane that was not measured stays unknown. [mm, mrad]

    Raises
    ------
    ThermalError
        As `relative_growth`.

    References
    ----------
    As `relative_growth`; linear propagation of uncertainty (JCGM 100, 5.1).
    """
    grown = relative_growth(stationary, movable)
    return Misalignment.of(
        misalignment.mean_array + grown.mean_array, misalignment.covariance_array + grown.covariance_array
    )


def _line(supports: Sequence[Support]) -> Floats:
    """Offset at x = 0 [mm] and slope [mrad] of the line nearest to the supports, as a matrix on their rises."""
    if not supports:
        return np.zeros((2, 0))
    places = np.array([support.x_mm / 1000.0 for support in supports])
    return np.asarray(np.linalg.pinv(np.column_stack([np.ones(len(places)), places])), dtype=float)


def _plane_errors(machine: str, supports: Sequence[Support], side: float) -> dict[str, str]:
    errors: dict[str, str] = {}
    if len(supports) == 1 or len(supports) > 4:
        errors[f"{machine}.feet"] = "A machine stands on two to four foot planes: give each with its distance."
    for place, support in enumerate(supports):
        field = f"{machine}.feet.{place}.x"
        if not math.isfinite(support.x_mm):
            errors[field] = "The foot's distance from the coupling's centre is missing or not a finite number."
        elif support.x_mm * side <= 0:
            where = "positive" if side > 0 else "negative"
            errors[field] = f"The {machine} machine's feet lie at {where} distances from the coupling's centre."
        elif any(abs(support.x_mm - other.x_mm) < 1e-6 for other in supports[:place]):
            errors[field] = "Another foot plane has the same distance: each plane is given once."
    return errors


def _at_least(least: float, field: str, numbers: ArrayLike) -> Floats:
    found = np.asarray(numbers, dtype=float)
    if not (np.isfinite(found).all() and (found >= least).all()):
        raise ThermalError(field, f"Finite numbers are expected here, none below {least:g}.")
    return found
