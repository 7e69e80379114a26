"""Keeping how the areas of a site stand, month by month; counted again at any time with the same answer."""

from collections import Counter
from datetime import date, timedelta
from typing import Any

from couplings.models import Fit
from inspections.models import StandingMonth
from inspections.selectors.fleet import (
    CLOSE,
    COLUMNS,
    IN,
    OUT,
    Stand,
    first_of,
    month_end,
    months_back,
    overdue_on,
    standing_on,
)
from plant.models import Site
from plant.recording import current

MONTHS = 13  # the current one and twelve before it
LATE_DAYS = 7  # so long into a month visits of the last one are still being signed
MOST_CHANGES = 40
_DAY = timedelta(days=1)
_RANK = {IN: 0, CLOSE: 1, OUT: 2}


def months_to_count(*, site: Site, today: date, everything: bool = False) -> list[date]:
    """Which months a night counts: the current one, the last one in the first days of a month, and any that is missing.

    A month before anything was fitted is not counted.
    """
    first = Fit.objects.filter(coupling__site=site, fitted_on__lte=today).order_by("fitted_on").first()
    if first is None:
        return []
    wanted = [months_back(today, back) for back in range(MONTHS)]
    wanted = [month for month in wanted if month >= first_of(first.fitted_on)]
    if everything:
        return wanted
    kept = set(StandingMonth.objects.filter(site=site, month_on__in=wanted).values_list("month_on", flat=True))
    fresh = {wanted[0], months_back(today, 1)} if today.day <= LATE_DAYS else {wanted[0]}
    return [month for month in wanted if month in fresh or month not in kept]


def count_month(*, site: Site, month_on: date, today: date) -> list[StandingMonth]:
    """Count one month of a site from the signed records and keep a row per area; twice gives the same rows."""
    until = min(month_end(month_on), today)
    stands = standing_on([site], until)
    before = {one.uuid: one for one in standing_on([site], first_of(month_on) - _DAY)}
    overdue = overdue_on([site], until)
    by_area: dict[int, list[Stand]] = {area: [] for area in overdue}
    for one in stands:
        by_area.setdefault(one.area_id, []).append(one)
    StandingMonth.objects.filter(site=site, month_on=month_on).exclude(area_id__in=by_area).delete()
    rows = []
    for area_id, some in by_area.items():
        states = Counter(one.state for one in some)
        values: dict[str, Any] = {column: states[state] for state, column in COLUMNS.items()}
        row, _made = StandingMonth.objects.update_or_create(
            area_id=area_id,
            month_on=month_on,
            defaults=values
            | {
                "site": site,
                "until_on": until,
                "fitted": len(some),
                "why_not": dict(Counter(one.why for one in some if one.why)),
                "overdue": overdue[area_id],
                "changes": _changes(some, before),
                "counted_at": current().at,
            },
        )
        rows.append(row)
    return rows


def _changes(stands: list[Stand], before: dict[Any, Stand]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for one in stands:
        earlier = before.get(one.uuid)
        was = earlier.state if earlier is not None else None
        if was == one.state:
            continue
        found.append({"coupling": str(one.uuid), "tag": one.tag, "was": was, "now": one.state})
    # What got worse first: a list that is cut must not hide it.
    found.sort(key=lambda one: (-_RANK.get(str(one["now"]), 1.5), one["tag"]))
    return found[:MOST_CHANGES]
