"""What is left at a coupling of a train: against its limits, and how sure that is."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from couplings.engineering.alignment import Misalignment
from couplings.engineering.conformity import judge
from couplings.engineering.trains_geometry import PLANES, Floats, TrainCoupling, figures


@dataclass(frozen=True)
class Held:
    """A figure against its limit: [mm] for an offset, [mrad] for an angle; `plane` is empty for a vector.

    `quantity` 'combined' is the sum of ratios, with limit 1.
    """

    quantity: str
    plane: str
    value: float
    limit: float

    @property
    def share(self) -> float:
        """Of the limit."""
        return self.value / self.limit


@dataclass(frozen=True)
class CouplingLeft:
    """A coupling's misalignment in the record's frame, and what it uses of its limits, measured from the target.

    `misalignment` is (vertical, horizontal offset [mm], vertical, horizontal slope [mrad]), nan in a plane that was
    not measured; `used` is the largest ratio to a limit, None without limits. `probability` is that all its limits are
    kept, from the survey's covariance; None without limits, without a covariance, or where a plane is not known.
    """

    misalignment: tuple[float, float, float, float]
    held: tuple[Held, ...]
    probability: float | None = None

    @property
    def used(self) -> float | None:
        """Tolerance used."""
        return max((one.share for one in self.held), default=None)


def coupling_left(coupling: TrainCoupling, deviation: np.ndarray) -> CouplingLeft:
    """A coupling with this deviation from its target against its limits; exact, without the polygon.

    Parameters
    ----------
    coupling : TrainCoupling
    deviation : ndarray, shape (2, 2)
        Row 0 offset [mm], row 1 slope [mrad]; columns vertical and horizontal, nan where not measured.

    Returns
    -------
    CouplingLeft
        Its position, every figure held against its limit, and how sure that is. [mm], [mrad]

    References
    ----------
    Plane geometry of a rigid spool, as `alignment.flex_angles`; JCGM 106:2012, 7, for the probability.
    """
    v, h, sv, sh = (float(n) for n in np.array(coupling.target) + np.asarray(deviation).ravel())
    held, sums = [], {"offset": 0.0, "angle": 0.0}
    limits = coupling.limits
    for figure in figures(coupling):
        size = np.abs(figure.y * deviation[0] + figure.s * deviation[1])
        known = [(PLANES[p], float(size[p])) for p in (0, 1) if math.isfinite(size[p])]
        if limits is not None and limits.rule == "vector":
            known = [(known[0][0] if len(known) == 1 else "", math.hypot(*(value for _plane, value in known)))]
        rows = [Held(figure.quantity, plane, value, figure.limit) for plane, value in known]
        held += rows
        if figure.family == "sheet":
            group = "offset" if figure.quantity == "offset" else "angle"
            sums[group] = max(sums[group], *(row.share for row in rows))
    if limits is not None and limits.combined and {h.quantity == "offset" for h in held} == {True, False}:
        held.append(Held("combined", "", sum(sums.values()), 1.0))
    return CouplingLeft((v, h, sv, sh), tuple(held), _probability(coupling, np.asarray(deviation, dtype=float)))


def _probability(coupling: TrainCoupling, deviation: Floats) -> float | None:
    """The survey's covariance stays with the coupling: the moves are taken as exact."""
    if coupling.covariance is None or coupling.limits is None or not coupling.limits.limits:
        return None
    lost = [not np.isfinite(deviation[:, plane]).all() for plane in (0, 1)] * 2
    covariance = np.array(coupling.covariance, dtype=float)
    covariance[lost, :] = np.nan
    covariance[:, lost] = np.nan
    left = Misalignment.of(deviation.ravel(), covariance)
    return judge(left, coupling.limits, coupling.flex_planes_mm).probability
