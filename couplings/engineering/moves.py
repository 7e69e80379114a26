"""Moves at the feet of one machine, and what the shim stock can do of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from couplings.engineering.alignment import AlignmentError, Misalignment, at, minus_target

ZERO = (0.0, 0.0, 0.0, 0.0)


class MoveError(AlignmentError):
    """Feet or shims that cannot be used."""


@dataclass(frozen=True)
class FootMove:
    """What one foot plane needs. Up (add shim) and right are positive, right as seen from the movable machine. [mm]

    `up_u_mm` and `right_u_mm` are standard uncertainties; nan where the plane is not solved.
    """

    name: str
    x_mm: float
    up_mm: float
    right_mm: float
    up_u_mm: float
    right_u_mm: float


def foot_moves(
    misalignment: Misalignment, feet: Sequence[tuple[str, float]], target4: Sequence[float] = ZERO
) -> list[FootMove]:
    """Moves that bring the movable machine to its target.

    Parameters
    ----------
    misalignment : Misalignment
        As measured, not yet less the target. [mm, mrad]
    feet : two to four of (name, x)
        Foot planes, x from the coupling's centre along the movable machine. [mm]
    target4 : 4 floats
        Wanted vertical and horizontal offset [mm] and slope [mrad].

    Returns
    -------
    list of FootMove
        Target less position at every foot plane; ``var = var(y) + x^2 var(s) + 2 x cov``. [mm]

    Raises
    ------
    MoveError
        Fewer than two or more than four foot planes, two at one place, a distance that is not finite.

    References
    ----------
    Straight-line geometry and linear propagation of uncertainty (JCGM 100, 5.2).
    """
    check_feet(feet)
    left = minus_target(misalignment, target4)
    moves = []
    for name, x_mm in feet:
        offset, covariance = at(left, x_mm)
        up_u, right_u = (math.sqrt(max(0.0, v)) if math.isfinite(v) else math.nan for v in np.diag(covariance))
        # Adding zero turns a minus nought, which a page would print with its sign, into nought.
        moves.append(FootMove(name, x_mm, float(-offset[0] + 0.0), float(-offset[1] + 0.0), up_u, right_u))
    return moves


def shim_advice(up_mm: float, stock_mm: float | Sequence[float], most: int = 4) -> tuple[float, float]:
    """The nearest that the site's shims can come to a vertical move.

    Parameters
    ----------
    up_mm : float
        Wanted move; negative: remove. [mm]
    stock_mm : float or sequence of floats
        A step (any multiple of it can be made up), or the thicknesses in stock. [mm]
    most : int
        Shims that may go under one foot with a stock of thicknesses; published limits are 3 to 5.

    Returns
    -------
    (whole, left)
        What to add (or, negative, to remove) and what then still is to be moved: ``up - whole``. [mm]

    Raises
    ------
    MoveError
        A move that is not finite, no stock, a thickness that is not above zero.

    Notes
    -----
    Common practice. Removing is counted in the same steps: what lies under the foot was made up from the same stock.
    """
    if not math.isfinite(up_mm):
        raise MoveError("up", "There is no vertical move: the vertical plane was not solved.")
    if isinstance(stock_mm, int | float):
        _check_thickness([stock_mm])
        whole = math.floor(abs(up_mm) / stock_mm + 0.5) * stock_mm
    else:
        whole = sum(shim_pack(abs(up_mm), stock_mm, most))
    signed = math.copysign(whole, up_mm) + 0.0 if whole else 0.0
    return signed, up_mm - signed


def shim_pack(thickness_mm: float, stock_mm: Sequence[float], most: int = 4) -> tuple[float, ...]:
    """Fewest shims from stock that come nearest to a thickness.

    Parameters
    ----------
    thickness_mm : float
        Wanted. [mm]
    stock_mm : sequence of floats
        Thicknesses kept. [mm]
    most : int
        Shims that may go under one foot.

    Returns
    -------
    tuple of floats
        Thickest first; of packs that come equally near, the one with fewer shims. [mm]

    Raises
    ------
    MoveError
        No stock, a thickness that is not above zero, no shim allowed.

    References
    ----------
    Common practice: few shims under a foot; published limits are 3 to 5.
    """
    if not stock_mm:
        raise MoveError("stock", "The site's shim stock is empty: enter the thicknesses you keep.")
    _check_thickness(stock_mm)
    if most < 1:
        raise MoveError("most", "At least one shim must be allowed under a foot.")
    # Whole micrometres make sums exact, so that two ways to one thickness are the same thickness.
    sizes = sorted({round(s * 1000) for s in stock_mm}, reverse=True)
    wanted = round(thickness_mm * 1000)
    packs: dict[int, tuple[int, ...]] = {0: ()}
    fresh = packs
    for _ in range(most):
        grown: dict[int, tuple[int, ...]] = {}
        for total, pack in fresh.items():
            # Anything thicker than the wanted by the thickest shim can no longer be the nearest.
            for size in sizes:
                if total <= wanted and total + size not in packs and total + size not in grown:
                    grown[total + size] = (*pack, size)
        packs, fresh = {**packs, **grown}, grown
    best = min(packs, key=lambda total: (abs(total - wanted), len(packs[total])))
    return tuple(size / 1000.0 for size in sorted(packs[best], reverse=True))


def after_moves(
    misalignment: Misalignment,
    feet: Sequence[tuple[str, float]],
    up_mm: Sequence[float],
    right_mm: Sequence[float] | None = None,
) -> Misalignment:
    """The misalignment that moves leave, for instance shims rounded to the stock.

    The machine is rigid: with more than two foot planes it follows the straight line nearest to the moves. The
    covariance stays that of the survey; the moves are taken as exact.

    Parameters
    ----------
    misalignment : Misalignment
    feet : (name, x) of every foot plane [mm]
    up_mm, right_mm : sequences of floats
        Moves made at those planes; `right_mm` left out: none. [mm]

    Returns
    -------
    Misalignment
        Where the machine then lies. [mm, mrad]

    Raises
    ------
    MoveError
        Feet as in `foot_moves`, or a move without its foot.

    References
    ----------
    Rigid-body geometry, least squares.
    """
    check_feet(feet)
    right = [0.0] * len(feet) if right_mm is None else list(right_mm)
    if len(up_mm) != len(feet) or len(right) != len(feet):
        raise MoveError("moves", "Every foot plane needs its move.")
    if not (np.isfinite(up_mm).all() and np.isfinite(right).all()):
        raise MoveError("moves", "A move is missing or not a finite number.")
    line = np.column_stack([np.ones(len(feet)), [x / 1000.0 for _, x in feet]])
    (v, sv), (h, sh) = (np.linalg.lstsq(line, np.asarray(m, dtype=float), rcond=None)[0] for m in (up_mm, right))
    return Misalignment.of(misalignment.mean_array + np.array([v, h, sv, sh]), misalignment.covariance_array)


def check_feet(feet: Sequence[tuple[str, float]]) -> None:
    """Refuse foot planes that cannot be, each by its field.

    Parameters
    ----------
    feet : sequence of (name, x)
        x from the coupling's centre. [mm]

    Raises
    ------
    MoveError
        Fewer than two, more than four, two at one place, a distance that is not finite.

    References
    ----------
    Common practice: a machine stands on two to four foot planes.
    """
    errors: dict[str, str] = {}
    if not 2 <= len(feet) <= 4:
        errors["feet"] = "A machine stands on two to four foot planes: give each with its distance."
    for place, (_, x_mm) in enumerate(feet):
        if not math.isfinite(x_mm):
            errors[f"feet.{place}.x"] = "The foot's distance from the coupling's centre is missing or not finite."
        elif any(abs(x_mm - other) < 1e-6 for _, other in feet[:place]):
            errors[f"feet.{place}.x"] = "Another foot plane has the same distance: each plane is given once."
    if errors:
        raise MoveError(errors)


def _check_thickness(stock_mm: Sequence[float]) -> None:
    for place, thickness in enumerate(stock_mm):
        if not (math.isfinite(thickness) and thickness >= 0.001):
            raise MoveError(f"stock.{place}", "A shim's thickness must be a number above zero.")
