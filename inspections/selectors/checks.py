"""Checks that are due, with every row a list prints beside them."""

from datetime import date, datetime

from django.db.models import Q, QuerySet
from django.utils import timezone

from couplings.models import Coupling
from inspections.forecasting.duedates import state_of
from inspections.models import Check
from plant.models import Area, Person, Site, Train
from plant.sitetime import today_at

__all__ = ["CHECK_STATES", "checks_due", "checks_visible_to", "open_checks", "state_at"]

CHECK_STATES = [
    ("not due", "not due"), ("due", "due"), ("overdue", "overdue"), ("deferred", "deferred"), ("done", "done"),
    ("cancelled", "cancelled"), ("out of service", "out of service"),
]  # fmt: skip


def state_at(check: Check, today: date) -> str:
    """One of CHECK_STATES; it comes of the day and is never stored. The check comes with its coupling's train."""
    if check.settled_on is not None:
        return check.outcome
    if check.coupling.train.service != Train.Service.IN:
        return "out of service"
    if check.deferred_until == check.due_on and today < check.due_on:
        return "deferred"
    return state_of(today, check.opens_on, check.closes_on)


def checks_visible_to(person: Person) -> QuerySet[Check]:
    """Every check at the reader's sites, settled ones included."""
    rows: QuerySet[Check] = Check.objects.visible_to(person)
    return rows.select_related("site", "coupling__train__area", "deferred_by", "owner")


def checks_due(
    person: Person,
    until: date,
    *,
    site: Site | None = None,
    area: Area | None = None,
    overdue_only: bool = False,
    at: datetime | None = None,
) -> QuerySet[Check]:
    """Open checks due by a day, the longest due first; rows print without further queries.

    Trains out of service or uncoupled and retired couplings don't come due, so they are left out. Overdue is asked of
    each site's own today at the instant `at` (now).
    """
    rows = checks_visible_to(person).filter(
        settled_on__isnull=True,
        due_on__lte=until,
        coupling__retired_on__isnull=True,
        coupling__train__service=Train.Service.IN,
    )
    if site is not None:
        rows = rows.filter(site=site)
    if area is not None:
        rows = rows.filter(coupling__train__area=area)
    if overdue_only:
        rows = rows.filter(_overdue(person, site, at or timezone.now()))
    return rows.order_by("due_on", "id")


def open_checks(coupling: Coupling) -> QuerySet[Check]:
    """What this coupling has to have done next, soonest first; nothing while its train is out of service."""
    rows = Check.objects.filter(coupling=coupling, settled_on__isnull=True, coupling__train__service=Train.Service.IN)
    return rows.select_related("site", "coupling__train", "deferred_by", "owner").order_by("due_on", "id")


def _overdue(person: Person, site: Site | None, instant: datetime) -> Q:
    sites = [site] if site is not None else list(Site.objects.visible_to(person))
    by_day: dict[date, list[int]] = {}
    for one in sites:
        by_day.setdefault(today_at(one, instant), []).append(one.pk)
    found = Q(pk__in=[])
    for today, ids in by_day.items():
        found |= Q(site_id__in=ids, closes_on__lt=today)
    return found
