"""When the life of its kind asks for an element's replacement: when the chance that it failed is what is accepted.

Only where the site's policy for elements names a chance, and where the records gave a law: a bound or a curve dates
nothing. The chance counts from the last look at wear, or from the day the element was fitted.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from math import floor, isfinite

from inspections.forecasting.duedates import Life
from inspections.forecasting.running import HORIZON_DAYS, Running, counted, reaches_on
from inspections.forecasting.weibull_limits import reaches_risk
from inspections.models import LifeFit

LAWS = (LifeFit.Basis.OWN, LifeFit.Basis.FAMILY)


def life_fits_of(site_id: int) -> dict[str, LifeFit]:
    """The laws in force at a site, by part number, in one query."""
    rows = LifeFit.objects.filter(site_id=site_id, current=True, basis__in=LAWS, eta__isnull=False, beta__isnull=False)
    return {row.part_number: row for row in rows.order_by("failures", "pk")}


def asked_by_life(
    fit: LifeFit, risk: float, element_on: date, looked_on: Sequence[date], running: Running
) -> Life | None:
    """The day by which the chance reaches the risk; None where the meter does not say, or it is beyond twenty years."""
    begin = max([on for on in looked_on if on > element_on], default=element_on)
    assert fit.eta is not None
    assert fit.beta is not None
    if fit.by_hours:
        first, last = (counted(running, float(day.toordinal())) for day in (element_on, begin))
        if first is None or last is None or last < first:
            return None
        left = float(reaches_risk(last - first, risk, fit.eta, fit.beta))
        due_on = reaches_on(running, begin, left)
        if due_on is None:
            return None
    else:
        left = float(reaches_risk((begin - element_on).days, risk, fit.eta, fit.beta))
        if not isfinite(left) or left > HORIZON_DAYS:
            return None
        due_on = begin + timedelta(days=floor(left))
    numbers = {
        "life_risk": risk,
        "life_from": begin.isoformat(),
        "life_element_on": element_on.isoformat(),
        "life_failures": fit.failures,
    }
    return Life(due_on, begin, numbers)
