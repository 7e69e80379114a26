"""How the couplings of a site stand on a day, from the signed records, and the months kept of it.

Counted is every coupling that had been fitted by that day and was not retired. It stands as the last signed survey of
what is fitted says, the as-left before the as-found; where there is none it is not known, which counts against.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.db.models import F, Max, Q, QuerySet, Sum

from couplings.models import Coupling, Fit
from inspections.models import Check, StandingMonth, Survey, SurveyResult, Visit
from plant.models import Person, Site, Train

IN, CLOSE = SurveyResult.Verdict.IN.value, SurveyResult.Verdict.CLOSE.value
OUT, UNKNOWN = SurveyResult.Verdict.OUT.value, SurveyResult.Verdict.UNKNOWN.value
STATES = (IN, CLOSE, OUT, UNKNOWN)
# The column of StandingMonth that counts each state.
COLUMNS = {IN: "in_tolerance", CLOSE: "too_close", OUT: "out", UNKNOWN: "not_known"}

# Why a coupling's standing is not known.
NEVER, REFITTED, UNJUDGED, EMPTY = "never-measured", "refitted", "not-judged", "nothing-fitted"


@dataclass(frozen=True)
class Stand:
    """One coupling on one day."""

    uuid: UUID
    tag: str
    train: str
    site_id: int
    area_id: int
    area: str
    state: str
    why: str = ""
    on: date | None = None
    used: float | None = None
    pk: int = 0


def standing_on(sites: Iterable[Site], day: date) -> list[Stand]:
    """Every coupling counted at the end of a day, by tag; three questions, however many couplings."""
    ids = [site.pk for site in sites]
    fits: dict[int, tuple[int, date | None]] = {}
    fitted = Fit.objects.filter(coupling__site__in=ids, fitted_on__lte=day).order_by("fitted_on", "pk")
    for pk, coupling_id, removed_on in fitted.values_list("pk", "coupling_id", "removed_on"):
        fits[coupling_id] = (pk, removed_on)
    last = _last_surveys(ids, day)
    there = Coupling.objects.filter(Q(retired_on__isnull=True) | Q(retired_on__gt=day), site__in=ids)
    rows = there.order_by("tag", "pk").values_list(
        "pk", "uuid", "tag", "train__tag", "site_id", "train__area_id", "train__area__name"
    )
    stands = []
    for pk, uuid, tag, train, site_id, area_id, area in rows:
        if pk not in fits:
            continue
        fit_id, removed_on = fits[pk]
        survey = last.get(pk)
        said: dict[str, Any] = {"state": UNKNOWN}
        if removed_on is not None and removed_on <= day:
            said["why"] = EMPTY
        elif survey is None:
            said["why"] = NEVER
        elif survey[0] != fit_id:
            said |= {"why": REFITTED, "on": survey[1]}
        else:
            said |= {"state": survey[2] or UNKNOWN, "on": survey[1], "used": survey[3]}
            if said["state"] == UNKNOWN:
                said["why"] = UNJUDGED
        stands.append(Stand(uuid, tag, train, site_id, area_id, area, pk=pk, **said))
    return stands


def _last_surveys(sites: Sequence[int], day: date) -> dict[int, tuple[int, date, str | None, float | None]]:
    """By coupling, the last survey in force: its fit, day, verdict and tolerance used.

    In the order in which the flag of out of tolerance asks: the later visit, in it the as-left, of those the last.
    """
    rows = (
        Survey.objects.filter(
            site__in=sites, visit__state=Visit.State.SIGNED, record=F("visit__record"), visit__on__lte=day
        )
        .exclude(as_left=False, as_found=False)
        .order_by("visit__on", "visit_id", "as_left", "number")
        .values_list("visit__coupling_id", "visit__fit_id", "visit__on", "result__verdict", "result__tolerance_used")
    )
    return {coupling: (fit, on, verdict, used) for coupling, fit, on, verdict, used in rows}


def overdue_on(sites: Iterable[Site], day: date) -> Counter[int]:
    """By area, checks past the last day of their window at that day, by the dates their rows have now.

    What was moved or deferred since counts by its new date, so a month counted again later may say less than the month
    that was kept.
    """
    rows = (
        Check.objects.filter(
            Q(settled_on__isnull=True) | Q(settled_on__gt=day),
            Q(coupling__retired_on__isnull=True) | Q(coupling__retired_on__gt=day),
            site__in=[site.pk for site in sites],
            closes_on__lt=day,
            coupling__train__service=Train.Service.IN,
        )
        .order_by()
        .values_list("coupling__train__area_id", flat=True)
    )
    return Counter(rows)


def kept_for(person: Person, site: Site | None = None) -> QuerySet[StandingMonth]:
    """The months kept of the sites that the reader sees as a whole."""
    rows = StandingMonth.objects.all()
    if not person.sees_everything:
        rows = rows.filter(site_id__in=person.whole_site_ids())
    return rows.filter(site=site) if site is not None else rows


_SUMS = {name: Sum(name) for name in ("fitted", "in_tolerance", "too_close", "out", "not_known", "overdue")}


def months_kept(rows: QuerySet[StandingMonth], since: date) -> list[dict[str, Any]]:
    """Sums by month, oldest first."""
    found: Any = rows.filter(month_on__gte=since).order_by("month_on").values("month_on")
    return list(found.annotate(**_SUMS, until=Max("until_on"), counted=Max("counted_at")))


def areas_kept(rows: QuerySet[StandingMonth], month_on: date) -> list[StandingMonth]:
    """The areas of one month, each with its site."""
    return list(rows.filter(month_on=month_on).select_related("site", "area").order_by("site__name", "area__name"))


def first_of(day: date) -> date:
    return day.replace(day=1)


def months_back(day: date, number: int) -> date:
    """The first of the month so many months before the month of a day."""
    month = day.year * 12 + day.month - 1 - number
    return date(month // 12, month % 12 + 1, 1)


def month_end(month_on: date) -> date:
    return months_back(month_on, -1) - timedelta(days=1)
