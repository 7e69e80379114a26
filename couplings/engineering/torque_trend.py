"""How a joint's torque went from visit to visit: only what was read, and only since it was last tightened anew."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from couplings.engineering.threads import FastenerError, positive
from couplings.engineering.torque_tools import TorqueTool

YEAR_DAYS = 365.25


@dataclass(frozen=True)
class TorqueVisit:
    """One visit to a joint. [day], [N*m]

    `day` counts from any start; `mean_nm` over the positions read at first movement. `how`: 'read', 'set' (a click
    wrench: one fact, no reading) or 'installed' (tightened anew: what was before no longer compares).
    """

    day: float
    how: str
    mean_nm: float | None = None


@dataclass(frozen=True)
class TorqueTrend:
    """Straight line through the visits read; `per_year` as a share of the specified torque, negative falls. [1/year]"""

    visits: int
    per_year: float
    u_per_year: float
    left_out: int

    @property
    def tells(self) -> bool:
        """Whether the line leaves level by more than twice its standard uncertainty."""
        return abs(self.per_year) > 2 * self.u_per_year


def torque_trend(specified_nm: float, visits: Sequence[TorqueVisit], tool: TorqueTool) -> TorqueTrend | None:
    """The line through mean readings since the joint was last tightened anew.

    Parameters
    ----------
    specified_nm : float
        Specified torque, the unit of the answer. [N*m]
    visits : sequence of TorqueVisit
        In any order.
    tool : TorqueTool
        Its permissible deviation is taken as each visit's own error: it does not average out over the positions.

    Returns
    -------
    TorqueTrend or None
        None with fewer than two visits that were read on different days: a line needs two.

    Raises
    ------
    FastenerError
        A day that is not finite, a reading that is missing or not above zero.

    References
    ----------
    Weighted least squares, its covariance widened by max(1, chi2/dof) as everywhere here.
    """
    positive("torque", specified_nm)
    for place, visit in enumerate(visits):
        if not math.isfinite(visit.day):
            raise FastenerError(f"visits.{place}.day", "This day is not a finite number.")
        if visit.how == "read":
            positive(f"visits.{place}.mean", math.nan if visit.mean_nm is None else visit.mean_nm)
    begun = max((visit.day for visit in visits if visit.how == "installed"), default=-math.inf)
    read = [visit for visit in visits if visit.how == "read" and visit.day > begun]
    if len({visit.day for visit in read}) < 2:
        return None
    days = [visit.day for visit in read]
    shares = [(visit.mean_nm or 0.0) / specified_nm for visit in read]
    weights = [(specified_nm / tool.standard_uncertainty_nm(visit.mean_nm or 0.0)) ** 2 for visit in read]
    total = math.fsum(weights)
    centre = math.fsum(w * day for w, day in zip(weights, days, strict=True)) / total
    level = math.fsum(w * share for w, share in zip(weights, shares, strict=True)) / total
    spread = math.fsum(w * (day - centre) ** 2 for w, day in zip(weights, days, strict=True))
    slope = math.fsum(w * (day - centre) * share for w, day, share in zip(weights, days, shares, strict=True)) / spread
    chi2 = math.fsum(
        w * (share - level - slope * (day - centre)) ** 2 for w, day, share in zip(weights, days, shares, strict=True)
    )
    freedom = len(read) - 2
    factor = max(1.0, chi2 / freedom) if freedom else 1.0
    return TorqueTrend(len(read), slope * YEAR_DAYS, math.sqrt(factor / spread) * YEAR_DAYS, len(visits) - len(read))
