"""Which feet moved: the drift of four components read back to the foot planes of both machines.

In the record's frame x runs from the coupling's centre towards the driver: its foot planes lie at positive x, those of
the driven machine at negative x. Up and right, seen from the driver end, are positive. A rigid machine turns about the
plane that stayed. Numbers only; what to say of them is the page's business.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from inspections.forecasting.legs import Floats, ForecastError

ONE, BOTH = "one", "both"


@dataclass(frozen=True)
class FootMove:
    """One way in which a movement may have come about.

    Attributes
    ----------
    plane : {'vertical', 'horizontal'}
    machine : {'driver', 'driven'}
    feet : tuple of str
        The foot planes that moved by `move` while the others stayed.
    kind : {'one', 'both'}
        One plane alone, or both of a machine alike.
    move, u : float
        Up or right positive, and its standard uncertainty. [mm] or, from rates, [mm/year]
    misfit : float
        Chi-square of what it leaves unexplained, one degree of freedom.
    probability : float
        Of a misfit as large or larger if it came about in this way.
    """

    plane: str
    machine: str
    feet: tuple[str, ...]
    kind: str
    move: float
    u: float
    misfit: float
    probability: float


def foot_moves(
    change: Floats,
    variance: Floats,
    driver: Sequence[tuple[str, float]],
    driven: Sequence[tuple[str, float]],
) -> tuple[FootMove, ...]:
    """Every simple explanation of a movement, the best first within each plane.

    Parameters
    ----------
    change : ndarray, shape (4,)
        Vertical and horizontal offset [mm], vertical and horizontal slope [mrad]: a leg's move, or rates per year; nan
        where a plane was not read.
    variance : ndarray, shape (4,)
        [mm^2, mrad^2]
    driver, driven : sequences of (name, x)
        Two foot planes each, or none where a machine's are not known. [mm]

    Returns
    -------
    tuple of FootMove
        Both of one machine up and both of the other down cannot be told apart: the two stand beside each other with
        the same misfit.

    Raises
    ------
    ForecastError
        Not two foot planes, both at one place, or on the other machine's side.

    References
    ----------
    Straight lines through the feet of rigid machines; generalised least squares of two figures on one movement.
    """
    _check("driver", driver, 1.0)
    _check("driven", driven, -1.0)
    found: list[FootMove] = []
    for plane, rows in (("vertical", [0, 2]), ("horizontal", [1, 3])):
        d, var = np.asarray(change, dtype=float)[rows], np.asarray(variance, dtype=float)[rows]
        if not (np.isfinite(d).all() and np.isfinite(var).all() and (var > 0).all()):
            continue
        ways = [_way(plane, *shape, d, var) for shape in _shapes(driver, driven)]
        found += sorted(ways, key=lambda way: way.misfit)
    return tuple(found)


def at_planes(change: Floats, planes: Sequence[tuple[str, float]]) -> tuple[tuple[str, float, float], ...]:
    """What the movement comes to at foot planes of one machine, had the other stayed.

    Parameters
    ----------
    change : ndarray, shape (4,)
        As `foot_moves`. [mm, mm, mrad, mrad]
    planes : sequence of (name, x)
        [mm]

    Returns
    -------
    tuple of (name, up, right)
        Driver against driven line at x; for the driven machine's feet turn both signs over. [mm]

    References
    ----------
    Straight-line geometry.
    """
    v, h, sv, sh = (float(one) for one in change)
    return tuple((name, v + sv * x / 1000.0, h + sh * x / 1000.0) for name, x in planes)


Shape = tuple[str, tuple[str, ...], str, tuple[float, float]]


def _shapes(driver: Sequence[tuple[str, float]], driven: Sequence[tuple[str, float]]) -> list[Shape]:
    """Offset and slope that 1 mm of each way makes."""
    shapes: list[Shape] = []
    for machine, planes, sign in (("driver", driver, 1.0), ("driven", driven, -1.0)):
        if not planes:
            continue
        for (name, x), (_other, stays) in (tuple(planes), tuple(reversed(planes))):
            lever = (x - stays) / 1000.0
            shapes.append((machine, (name,), ONE, (sign * -stays / (x - stays), sign / lever)))
        shapes.append((machine, tuple(name for name, _x in planes), BOTH, (sign, 0.0)))
    return shapes


def _way(
    plane: str, machine: str, feet: tuple[str, ...], kind: str, shape: tuple[float, float], d: Floats, var: Floats
) -> FootMove:
    along = np.asarray(shape)
    precision = float((along**2 / var).sum())
    move = float((along * d / var).sum()) / precision
    misfit = float(((d - move * along) ** 2 / var).sum())
    return FootMove(plane, machine, feet, kind, move, precision**-0.5, misfit, float(special.chdtrc(1, misfit)))


def _check(machine: str, planes: Sequence[tuple[str, float]], side: float) -> None:
    if not planes:
        return
    if len(planes) != 2:
        raise ForecastError(f"{machine}.feet", "Give the two foot planes of the machine, the nearest and the farthest.")
    for place, (_name, x) in enumerate(planes):
        if not (np.isfinite(x) and x * side > 0):
            raise ForecastError(f"{machine}.feet.{place}.x", "This foot plane lies on the other side of the coupling.")
    if abs(planes[0][1] - planes[1][1]) < 1e-6:
        raise ForecastError(f"{machine}.feet.1.x", "Another foot plane has the same distance: each is given once.")
