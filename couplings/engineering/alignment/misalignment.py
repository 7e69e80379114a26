"""What a survey found: the movable shaft's line relative to the stationary shaft's, with its covariance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from couplings.engineering.alignment.readings import AlignmentError

Floats = NDArray[np.float64]
Four = tuple[float, float, float, float]


@dataclass(frozen=True)
class Misalignment:
    """Position of the movable shaft's centreline relative to the stationary one's.

    Attributes
    ----------
    mean : tuple of 4 floats
        Vertical offset, horizontal offset at x = 0 [mm], vertical slope, horizontal slope [mrad]. Up and right are
        positive, right as the observer at the movable machine sees it. nan where a plane is not solved.
    covariance : tuple of 4 tuples of 4 floats
        In the same order. [mm^2, mm mrad, mrad^2]; nan in the rows and columns of a plane that is not solved.
    """

    mean: Four
    covariance: tuple[Four, Four, Four, Four]

    @classmethod
    def of(cls, mean: ArrayLike, covariance: ArrayLike) -> Misalignment:
        """Build from arrays; numbers become plain floats so that two equal results compare equal."""
        numbers = np.asarray(mean, dtype=float)
        table = np.asarray(covariance, dtype=float)
        if numbers.shape != (4,) or table.shape != (4, 4):
            raise AlignmentError("", "A misalignment is four numbers with a four by four covariance.")
        v, h, sv, sh = (float(n) for n in numbers)
        rows = [tuple(float(n) for n in row) for row in table]
        return cls((v, h, sv, sh), tuple(rows))  # type: ignore[arg-type]

    @property
    def has_vertical(self) -> bool:
        """Whether vertical offset and slope are both known."""
        return math.isfinite(self.mean[0]) and math.isfinite(self.mean[2])

    @property
    def has_horizontal(self) -> bool:
        """Whether horizontal offset and slope are both known."""
        return math.isfinite(self.mean[1]) and math.isfinite(self.mean[3])

    @property
    def mean_array(self) -> Floats:
        """The four numbers as an array."""
        return np.array(self.mean)

    @property
    def covariance_array(self) -> Floats:
        """The covariance as a four by four array."""
        return np.array(self.covariance)

    @property
    def standard_uncertainty(self) -> Four:
        """Square roots of the covariance's diagonal, in the order of `mean`. [mm, mm, mrad, mrad]"""
        v, h, sv, sh = (math.sqrt(self.covariance[i][i]) for i in range(4))
        return (v, h, sv, sh)


def carried_through(misalignment: Misalignment, matrix: ArrayLike) -> tuple[Floats, Floats]:
    """Mean and covariance of linear figures `matrix @ (the four numbers)`.

    A zero in the matrix wins over a nan in the numbers: a figure of the vertical plane alone stays known when the
    horizontal plane is not.

    Parameters
    ----------
    misalignment : Misalignment
        Planes that were not solved hold nan. [mm, mrad]
    matrix : array_like, shape (k, 4)
        Rows over vertical and horizontal offset and slope.

    Returns
    -------
    (mean, covariance)
        ``A y`` and ``A C A'``; nan in a row that needs a plane nobody solved. Units as the rows make them.

    References
    ----------
    Linear propagation of uncertainty, JCGM 100, 5.2.
    """
    table = np.asarray(matrix, dtype=float)
    mean, covariance = misalignment.mean_array, misalignment.covariance_array
    known = np.isfinite(mean)
    safe = np.where(known, mean, 0.0)
    safe_covariance = np.where(np.outer(known, known), covariance, 0.0)
    figures = table @ safe
    spread = table @ safe_covariance @ table.T
    lost = (table[:, ~known] != 0.0).any(axis=1)
    figures[lost] = np.nan
    spread[lost, :] = np.nan
    spread[:, lost] = np.nan
    return figures, spread


def at(misalignment: Misalignment, x_mm: float) -> tuple[Floats, Floats]:
    """Offset at a plane other than the coupling's centre.

    Parameters
    ----------
    misalignment : Misalignment
    x_mm : float
        From the coupling's centre, positive towards the movable machine. [mm]

    Returns
    -------
    mean : ndarray, shape (2,)
        Vertical and horizontal offset, up and right positive. [mm]
    covariance : ndarray, shape (2, 2)
        ``var(y) + x^2 var(s) + 2 x cov(y, s)``, x in metres. [mm^2]

    Raises
    ------
    AlignmentError
        x is not finite.

    References
    ----------
    Straight-line geometry and linear propagation of uncertainty (JCGM 100, 5.2).
    """
    if not math.isfinite(x_mm):
        raise AlignmentError("x", "The distance from the coupling's centre is missing or not a finite number.")
    x = x_mm / 1000.0
    return carried_through(misalignment, [[1, 0, x, 0], [0, 1, 0, x]])


def flex_angles(misalignment: Misalignment, xa_mm: float, xb_mm: float) -> tuple[Floats, Floats]:
    """Angles at the two flex planes of a coupling with a spacer.

    Parameters
    ----------
    misalignment : Misalignment
    xa_mm, xb_mm : float
        Flex plane A on the stationary side and B on the movable side, from the coupling's centre. [mm]

    Returns
    -------
    mean : ndarray, shape (4,)
        A vertical, A horizontal, B vertical, B horizontal: ``offset(x_B)/L`` and ``-offset(x_A)/L``. [mrad]
    covariance : ndarray, shape (4, 4)
        [mrad^2]

    Raises
    ------
    AlignmentError
        A plane is not finite, or B does not lie on the movable side of A.

    References
    ----------
    Plane geometry of a rigid spool between two pivots: A is spool less stationary shaft, B movable shaft less spool.
    """
    xa, xb = checked_planes((xa_mm, xb_mm))
    a = 1000.0 / (xb - xa)
    s_a, s_b = a * xb / 1000.0, a * xa / 1000.0
    return carried_through(misalignment, [[a, 0, s_a, 0], [0, a, 0, s_a], [-a, 0, -s_b, 0], [0, -a, 0, -s_b]])


def checked_planes(flex_planes_mm: Sequence[float] | None) -> tuple[float, float]:
    """The two flex planes, A before B, or the error that says what is missing.

    Parameters
    ----------
    flex_planes_mm : (x_A, x_B), optional
        From the coupling's centre. [mm]

    Returns
    -------
    (float, float)
        A on the stationary side, then B. [mm]

    Raises
    ------
    AlignmentError
        Not two planes, one not finite, B not on the movable side of A.

    References
    ----------
    Common practice: A is the stationary side's plane.
    """
    if flex_planes_mm is None or len(flex_planes_mm) != 2:
        raise AlignmentError("flex_planes", "Give the two flex planes, A on the stationary side and B on the movable.")
    xa, xb = float(flex_planes_mm[0]), float(flex_planes_mm[1])
    for place, x in enumerate((xa, xb)):
        if not math.isfinite(x):
            raise AlignmentError(f"flex_planes.{place}", "The flex plane is missing or not a finite number.")
    if xb <= xa:
        raise AlignmentError("flex_planes.1", "Flex plane B must lie on the movable side of flex plane A.")
    return xa, xb


def minus_target(
    misalignment: Misalignment, target: Sequence[float], target_covariance: ArrayLike | None = None
) -> Misalignment:
    """The misalignment less its target: what is left to move or to judge.

    Parameters
    ----------
    misalignment : Misalignment
    target : 4 floats
        Wanted vertical and horizontal offset [mm] and slope [mrad], same frame as the misalignment.
    target_covariance : array_like, shape (4, 4), optional
        Uncertainty of the target itself, added. [mm, mrad]

    Returns
    -------
    Misalignment
        Mean less target, covariances added. [mm, mrad]

    Raises
    ------
    AlignmentError
        The target is not four finite numbers.

    References
    ----------
    Linear propagation of uncertainty, JCGM 100, 5.2.
    """
    wanted = checked_target(target)
    added = np.zeros((4, 4)) if target_covariance is None else np.asarray(target_covariance, dtype=float)
    return Misalignment.of(misalignment.mean_array - wanted, misalignment.covariance_array + added)


def checked_target(target: Sequence[float]) -> Floats:
    """Four finite numbers, or the error that names the missing one.

    Parameters
    ----------
    target : 4 floats
        Vertical and horizontal offset [mm] and slope [mrad].

    Returns
    -------
    ndarray, shape (4,)
        [mm, mm, mrad, mrad]

    Raises
    ------
    AlignmentError
        Not four numbers, or one that is not finite.

    References
    ----------
    Common practice: a target is given in both planes.
    """
    names = ("offset.vertical", "offset.horizontal", "angularity.vertical", "angularity.horizontal")
    if len(target) != 4:
        raise AlignmentError("target", "A target is vertical and horizontal offset and vertical and horizontal slope.")
    for name, number in zip(names, target, strict=True):
        if not math.isfinite(number):
            raise AlignmentError(f"target.{name}", "This part of the target is missing or not a finite number.")
    return np.asarray(target, dtype=float)
