"""Whether measured wear grows faster than it did, beyond what its readings leave open."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from inspections.forecasting.legs import ForecastError

SURE = 1.6448536269514722  # standard deviations, one-sided 95 %
YEAR_DAYS = 365.25


@dataclass(frozen=True)
class Growth:
    """Growth of the last two spells between measurements, in the unit measured. [1/year]

    `excess` is by how many standard deviations the later exceeds the earlier; it accelerates beyond `SURE`.
    """

    earlier: float
    later: float
    excess: float

    @property
    def accelerates(self) -> bool:
        return self.later > 0 and self.excess > SURE


def growth(days: Sequence[float], values: Sequence[float], u: Sequence[float]) -> Growth | None:
    """Compare the last two spells of a figure that grows as the part wears.

    Parameters
    ----------
    days : sequence of float
        When it was measured, ascending. [day]
    values, u : sequence of float
        What was measured, and its standard uncertainty. [mm], degrees or [1]

    Returns
    -------
    Growth or None
        None with fewer than three measurements on different days.

    Raises
    ------
    ForecastError
        Columns of different lengths, an uncertainty that is not above zero, days that do not ascend.

    References
    ----------
    Difference of two slopes that share the middle reading: variance u2^2/b^2 + u1^2 (1/a + 1/b)^2 + u0^2/a^2 with the
    spells a and b; linear propagation of uncertainty, JCGM 100, 5.1. 95 % one-sided: our own proposal.
    """
    if not len(days) == len(values) == len(u):
        raise ForecastError("values", "There must be one value and one uncertainty for each day.")
    if any(not (math.isfinite(one) and one > 0) for one in u):
        raise ForecastError("u", "An uncertainty is a number above zero.")
    if any(later <= earlier for earlier, later in itertools.pairwise(days)):
        raise ForecastError("days", "Measurements ascend in time.")
    if len(days) < 3:
        return None
    a, b = days[-2] - days[-3], days[-1] - days[-2]
    earlier, later = (values[-2] - values[-3]) / a, (values[-1] - values[-2]) / b
    spread = math.sqrt((u[-1] / b) ** 2 + (u[-2] * (1 / a + 1 / b)) ** 2 + (u[-3] / a) ** 2)
    return Growth(earlier * YEAR_DAYS, later * YEAR_DAYS, (later - earlier) / spread)
