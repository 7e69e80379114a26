"""What a calendar shows: checks by their due dates, and the outings a person is on."""

from datetime import date, timedelta

from django.db.models import QuerySet

from inspections.models import CalendarAddress, Check, WorkOrder
from inspections.selectors.checks import checks_due
from plant.models import Person, Site

AHEAD = timedelta(days=400)
MOST = 2000


def calendars_of(person: Person) -> QuerySet[CalendarAddress]:
    return CalendarAddress.objects.filter(person=person).select_related("site")


def calendar_for(secret: str) -> CalendarAddress | None:
    """The feed behind a secret address, if its owner may still sign in and still reads that site."""
    found = (
        CalendarAddress.objects.filter(digest=CalendarAddress.digest_of(secret))
        .select_related("person", "site")
        .first()
    )
    if found is None or not found.person.is_active:
        return None
    if found.site_id is not None and not Site.objects.visible_to(found.person).filter(pk=found.site_id).exists():
        return None
    return found


def shown_in(address: CalendarAddress, today: date) -> tuple[list[Check], list[WorkOrder]]:
    """Open checks up to 400 days ahead, overdue ones included, and planned open orders the person is on."""
    checks = checks_due(address.person, today + AHEAD, site=address.site)
    checks = checks.select_related("coupling__driver_machine", "coupling__driven_machine")[:MOST]
    orders = WorkOrder.objects.visible_to(address.person).filter(
        state=WorkOrder.State.OPEN, planned_on__isnull=False, crew__person=address.person
    )
    if address.site is not None:
        orders = orders.filter(site=address.site)
    return list(checks), list(orders.select_related("site", "train__area").distinct().order_by("planned_on")[:MOST])
