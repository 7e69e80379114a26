"""A train on one datum: machines as rigid lines on their foot planes, joined by what was measured at their couplings.

Frame of the train: X runs from position 1, the driver end, along the train; up is positive, right is positive as seen
by an observer at the driver end who looks along the train. Nothing turns over inside it, whatever stands between two
couplings and whoever was movable when they were measured.

A coupling's misalignment is that of the record: the driver-side shaft relative to the driven-side shaft, seen from the
driver end, offset(x) = offset + slope x with x from the coupling's centre towards the *driver*. So x = X_c - X, and

    y_driver(X) - y_driven(X) = offset + slope (X_c - X)
    y_driven(X) = y_driver(X) - offset + slope (X - X_c)

in both planes alike. A move of the driver by m(X) adds m(X_c) to the offset and takes the slope of m from the slope;
a move of the driven machine does the opposite.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from couplings.engineering.alignment import AlignmentError
from couplings.engineering.alignment.misalignment import checked_planes, checked_target
from couplings.engineering.conformity import QUANTITIES
from couplings.engineering.limits import Limits
from couplings.engineering.moves import check_feet

Four = tuple[float, float, float, float]
ZERO = (0.0, 0.0, 0.0, 0.0)
PLANES = ("vertical", "horizontal")
WAYS = (("down", "up"), ("left", "right"))  # minus and plus, in each plane
FEWEST, MOST = 2, 6

Floats = NDArray[np.float64]


class TrainError(AlignmentError):
    """A train that cannot be computed; the errors' fields are paths such as ``machines.1.feet.0.x``."""


@dataclass(frozen=True)
class FootPlane:
    """A foot plane and how far it may go each way; infinite: as far as it takes. [mm]

    Base-bound: `down_mm` is the thickness of the shims that lie there. Bolt-bound: `left_mm` and `right_mm` are what
    the bolt holes leave, right as seen from the driver end.
    """

    name: str
    x_mm: float
    down_mm: float = math.inf
    up_mm: float = math.inf
    left_mm: float = math.inf
    right_mm: float = math.inf

    def bounds(self, plane: int) -> tuple[float, float]:
        """Lowest and highest move in a plane, 0 vertical and 1 horizontal. [mm]"""
        return (-self.down_mm, self.up_mm) if plane == 0 else (-self.left_mm, self.right_mm)


@dataclass(frozen=True)
class TrainMachine:
    """A machine on two to four foot planes; `fixed`: it may not be moved at all."""

    name: str
    feet: tuple[FootPlane, ...]
    fixed: bool = False

    @property
    def ends(self) -> tuple[float, float]:
        """X of its outermost foot planes. [mm]"""
        xs = [foot.x_mm for foot in self.feet]
        return min(xs), max(xs)


@dataclass(frozen=True)
class TrainCoupling:
    """A coupling of the train. `misalignment` and `target` are those of the record, see the head of this module.

    Vertical and horizontal offset at the centre [mm], vertical and horizontal slope [mrad]; nan in a plane that was
    not measured. `flex_planes_mm` are x of A (driven side, negative) and B (driver side). Without limits the coupling
    is brought exactly to its target. `covariance` is that of the misalignment, in its order, where it is known.
    [mm^2, mm mrad, mrad^2]
    """

    x_mm: float
    misalignment: tuple[float, float, float, float]
    target: tuple[float, float, float, float] = ZERO
    limits: Limits | None = None
    flex_planes_mm: tuple[float, float] | None = None
    covariance: tuple[Four, Four, Four, Four] | None = None

    @property
    def deviation(self) -> Floats:
        """Misalignment less target: row 0 offset, row 1 slope; a column for each plane."""
        return (np.array(self.misalignment) - np.array(self.target)).reshape(2, 2)


@dataclass(frozen=True)
class Train:
    """Machines from the driver end on; coupling i joins machines i and i + 1."""

    machines: tuple[TrainMachine, ...]
    couplings: tuple[TrainCoupling, ...]

    @property
    def planes(self) -> tuple[int, ...]:
        """The planes that every coupling was measured in: 0 vertical, 1 horizontal."""
        return tuple(p for p in (0, 1) if all(np.isfinite(c.deviation[:, p]).all() for c in self.couplings))

    def feet(self) -> Iterator[tuple[int, FootPlane]]:
        """Every foot plane with the place of its machine, from the driver end on."""
        for place, machine in enumerate(self.machines):
            for foot in machine.feet:
                yield place, foot


@dataclass(frozen=True)
class Figure:
    """One figure of a coupling that a limit bounds: ``offset_mm * y + slope_mrad * s`` in each plane. [mm] or [mrad]"""

    quantity: str
    limit: float
    y: float
    s: float
    family: str = "sheet"
    source: str = ""


def lines(train: Train) -> Floats:
    """Where every machine's shaft lies, measured from the targets.

    Parameters
    ----------
    train : Train

    Returns
    -------
    ndarray, shape (machines, 2, 2)
        For each machine and plane (vertical, horizontal) its height at X = 0 [mm] and slope along X [mrad], relative
        to the first machine's; a train on its targets is one straight line. nan in a plane that was not measured.

    References
    ----------
    The frame at the head of this module; plane geometry.
    """
    found = [np.zeros((2, 2))]
    for coupling in train.couplings:
        offset, slope = coupling.deviation
        step = np.column_stack([-offset - slope * coupling.x_mm / 1000.0, slope])
        found.append(found[-1] + step)
    return np.array(found)


def straight_line(x_mm: ArrayLike, y_mm: ArrayLike) -> tuple[float, float]:
    """The straight line nearest to positions, in least squares: a line to start from, it knows no bounds.

    Parameters
    ----------
    x_mm : array_like, shape (n,)
        Places along the train, two different ones at least. [mm]
    y_mm : array_like, shape (n,)
        Heights or sideways positions there. [mm]

    Returns
    -------
    (height at X = 0 [mm], slope [mrad])

    Raises
    ------
    TrainError
        Fewer than two places, or a number that is not finite.

    References
    ----------
    Linear least squares.
    """
    x, y = np.asarray(x_mm, dtype=float), np.asarray(y_mm, dtype=float)
    if x.shape != y.shape or x.ndim != 1 or not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise TrainError("", "Every place along the train needs one finite position.")
    if len(np.unique(x)) < 2:
        raise TrainError("", "A straight line needs positions at two different places.")
    table = np.column_stack([np.ones_like(x), x / 1000.0])
    height, slope = np.linalg.lstsq(table, y, rcond=None)[0]
    return float(height), float(slope)


def figures(coupling: TrainCoupling) -> tuple[Figure, ...]:
    """What the limits of a coupling bound: offset and slope at its centre, angles at its flex planes.

    Parameters
    ----------
    coupling : TrainCoupling
        With its limits. [mm, mrad]

    Returns
    -------
    tuple of Figure
        Empty where it has no limits.

    References
    ----------
    Plane geometry, as `alignment.flex_angles`.
    """
    found = []
    for limit in coupling.limits.limits if coupling.limits else ():
        for quantity in ("flex-angle-a", "flex-angle-b") if limit.quantity == "flex-angle" else (limit.quantity,):
            y, s = _arm(quantity, coupling)
            found.append(Figure(quantity, limit.value, y, s, limit.family, limit.source))
    return tuple(found)


def _arm(quantity: str, coupling: TrainCoupling) -> tuple[float, float]:
    """Angle at A is offset(x_B)/L, angle at B is -offset(x_A)/L."""
    if quantity in ("offset", "angularity"):
        return (1.0, 0.0) if quantity == "offset" else (0.0, 1.0)
    xa, xb = checked_planes(coupling.flex_planes_mm)
    long = xb - xa
    return (1000.0 / long, xb / long) if quantity == "flex-angle-a" else (-1000.0 / long, -xa / long)


def check(train: Train) -> None:
    """Refuse a train that cannot be computed, with everything that is wrong, each by its field.

    Parameters
    ----------
    train : Train
        [mm, mrad]

    Raises
    ------
    TrainError
        Machines, feet, couplings or their order cannot be, or no plane was measured throughout.

    References
    ----------
    Rigid-body geometry: what two foot planes determine.
    """
    errors: dict[str, str] = {}
    if not FEWEST <= len(train.machines) <= MOST:
        errors["machines"] = "A train is two to six machines: give each from the driver end on."
    elif len(train.couplings) != len(train.machines) - 1:
        errors["couplings"] = "Between every two machines there is one coupling: give each from the driver end on."
    for place, machine in enumerate(train.machines):
        _check_machine(machine, f"machines.{place}", errors)
    for place, coupling in enumerate(train.couplings):
        _check_coupling(coupling, f"couplings.{place}", errors)
    if not errors:
        _check_order(train, errors)
    if not errors and not train.planes:
        errors["couplings"] = "No plane was measured at every coupling: give offset and angularity of each."
    if errors:
        raise TrainError(errors)


def _check_machine(machine: TrainMachine, path: str, errors: dict[str, str]) -> None:
    try:
        check_feet([(foot.name, foot.x_mm) for foot in machine.feet])
    except AlignmentError as error:
        errors.update({f"{path}.{field}": message for field, message in error.errors.items()})
    for place, foot in enumerate(machine.feet):
        for way in (word for pair in WAYS for word in pair):
            if not getattr(foot, f"{way}_mm") >= 0:
                errors[f"{path}.feet.{place}.{way}"] = "How far the foot may go is a number from zero up."


def _check_coupling(coupling: TrainCoupling, path: str, errors: dict[str, str]) -> None:
    if not math.isfinite(coupling.x_mm):
        errors[f"{path}.x"] = "The coupling's place along the train is missing or not finite."
    try:
        checked_target(coupling.target)
    except AlignmentError as error:
        errors.update({f"{path}.{field}": message for field, message in error.errors.items()})
    for plane, word in enumerate(PLANES):
        known = [math.isfinite(coupling.misalignment[i]) for i in (plane, plane + 2)]
        if any(known) and not all(known):
            lost = "angularity" if known[0] else "offset"
            errors[f"{path}.{lost}.{word}"] = "Offset and angularity of a plane are both needed."
    for limit in coupling.limits.limits if coupling.limits else ():
        if limit.quantity not in QUANTITIES or limit.quantity == "axial":
            errors[f"{path}.limits"] = "Moves of the feet serve offset, angularity and flex angles only."
        elif not (math.isfinite(limit.value) and limit.value > 0):
            errors[f"{path}.limits.{limit.quantity.replace('-', '_')}"] = "The limit must be a number above zero."
    if any(limit.quantity.startswith("flex") for limit in (coupling.limits.limits if coupling.limits else ())):
        try:
            checked_planes(coupling.flex_planes_mm)
        except AlignmentError as error:
            errors.update({f"{path}.{field}": message for field, message in error.errors.items()})


def _check_order(train: Train, errors: dict[str, str]) -> None:
    """Feet lie between the couplings of their machine: what does not is a slipped sign or another origin of X."""
    xs = [-math.inf, *(coupling.x_mm for coupling in train.couplings), math.inf]
    for place, (before, here) in enumerate(pairwise(xs[:-1])):
        if here <= before:
            errors[f"couplings.{place}.x"] = "X runs from the driver end on: this coupling lies before the last."
    for place, machine in enumerate(train.machines):
        for number, foot in enumerate(machine.feet):
            if not xs[place] < foot.x_mm < xs[place + 1]:
                errors[f"machines.{place}.feet.{number}.x"] = (
                    "This foot plane does not lie between its machine's couplings: give X from the driver end on."
                )
    for plane, word in enumerate(PLANES):
        known = [bool(np.isfinite(coupling.deviation[:, plane]).all()) for coupling in train.couplings]
        if any(known) and not all(known):
            errors[f"couplings.{known.index(False)}.offset.{word}"] = f"The {word} plane is missing at this coupling."


def residuals(train: Train, moves_mm: Sequence[Sequence[Sequence[float]]]) -> list[Floats]:
    """Deviation of every coupling from its target once the moves are made.

    Parameters
    ----------
    train : Train
    moves_mm : per machine, per foot plane (up, right)
        Up and right in the train's frame. Every machine is rigid: its line is that through its outermost feet. [mm]

    Returns
    -------
    list of ndarray, shape (2, 2)
        Row 0 offset [mm], row 1 slope [mrad]; columns vertical and horizontal; record's frame.

    References
    ----------
    Rigid-body geometry.
    """
    made = []
    for machine, rows in zip(train.machines, moves_mm, strict=True):
        by_x = sorted(zip((foot.x_mm for foot in machine.feet), rows, strict=True), key=lambda pair: pair[0])
        (x1, first), (x2, last) = by_x[0], by_x[-1]
        slope = (np.array(last, dtype=float) - np.array(first, dtype=float)) * 1000.0 / (x2 - x1)
        made.append((x1, np.array(first, dtype=float), slope))
    found = []
    for place, coupling in enumerate(train.couplings):
        at = [height + slope * (coupling.x_mm - x) / 1000.0 for x, height, slope in made[place : place + 2]]
        turn = made[place][2] - made[place + 1][2]
        found.append(coupling.deviation + np.vstack([at[0] - at[1], -turn]))
    return found
