"""The weeks ahead of a site: what is planned for each, what falls due there unplanned, and which stops lie in it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from django.db.models import Count, F, QuerySet, Sum
from django.db.models.functions import TruncWeek

from inspections.selectors.checks import checks_due
from inspections.selectors.due import monday_of, weeks_from
from inspections.selectors.stops import stops_between
from plant.models import Person, Site, Stop

AHEAD_DAYS = 366


@dataclass(frozen=True)
class Week:
    """Of one week: checks planned for it with their hours, and checks due in it that are in no week yet."""

    monday: date
    number: int
    hours: float
    loose: int
    loose_hours: float
    crew_hours: float | None
    stops: list[Stop] = field(default_factory=list)

    @property
    def over(self) -> bool:
        return self.crew_hours is not None and self.hours > self.crew_hours

    @property
    def too_many(self) -> float:
        """Hours planned beyond what the crew has."""
        return max(0.0, self.hours - (self.crew_hours or 0.0))

    @property
    def free(self) -> float | None:
        return None if self.crew_hours is None else self.crew_hours - self.hours


@dataclass(frozen=True)
class Plan:
    weeks: list[Week]
    left: int  # planned for a week that is over, and not done
    late: int  # overdue and in no week


def weeks_of(person: Person, site: Site, today: date) -> Plan:
    """The plan of a site in a number of queries that does not grow."""
    rows = checks_due(person, today + timedelta(days=AHEAD_DAYS), site=site).order_by()
    rows = rows.annotate(asked_hours=F("crew_hours") * F("crew_size"))
    planned = _sums(rows.filter(week_on__isnull=False), "week_on")
    unplanned = rows.filter(week_on__isnull=True)
    loose = _sums(unplanned.annotate(monday=TruncWeek("due_on")), "monday")
    mondays = weeks_from(today)
    stops = list(stops_between(site, mondays[0], mondays[-1] + timedelta(days=6)).visible_to(person))
    weeks = [
        Week(
            monday,
            *planned.get(monday, (0, 0.0)),
            *loose.get(monday, (0, 0.0)),
            site.crew_hours_week,
            [one for one in stops if one.begins_on < monday + timedelta(days=7) and one.ends_on >= monday],
        )
        for monday in mondays
    ]
    left = sum(number for week_on, (number, _hours) in planned.items() if week_on < monday_of(today))
    return Plan(weeks, left, unplanned.filter(closes_on__lt=today).count())


def _sums(rows: QuerySet[Any], column: str) -> dict[date, tuple[int, float]]:
    sums = rows.values(column).annotate(number=Count("pk"), hours=Sum("asked_hours"))
    return {row[column]: (row["number"], row["hours"]) for row in sums}
