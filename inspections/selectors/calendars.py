"""What a calendar shows: checks by their due dates, and the outings a person is on."""

from datetime import date, timedelta

from django.db.models import QuerySet

from couplings.models import Instrument
from couplings.selectors import CalibrationDue, calibrations_due
from inspections.models import CalendarAddress, Check, WorkOrder
from inspections.selectors.checks import checks_due
from plant.models import Person, Site, Stop

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


def shown_in(
    address: CalendarAddress, today: date
) -> tuple[list[Check], list[WorkOrder], list[CalibrationDue], list[Stop]]:
    """Open checks up to 400 days ahead, overdue ones included, planned open orders the person is on, calibrations that
    end, and planned stops.
    """
    checks = checks_due(address.person, today + AHEAD, site=address.site)
    checks = checks.select_related("coupling__driver_machine", "coupling__driven_machine")[:MOST]
    orders = WorkOrder.objects.visible_to(address.person).filter(
        state=WorkOrder.State.OPEN, planned_on__isnull=False, crew__person=address.person
    )
    tools = Instrument.objects.visible_to(address.person)
    stops = Stop.objects.visible_to(address.person).filter(ends_on__gte=today, begins_on__lte=today + AHEAD)
    if address.site is not None:
        orders, tools = orders.filter(site=address.site), tools.filter(site=address.site)
        stops = stops.filter(site=address.site)
    return (
        list(checks),
        list(orders.select_related("site", "train__area").distinct().order_by("planned_on")[:MOST]),
        [due for due in calibrations_due(tools, today + AHEAD) if due.ends_on is not None][:MOST],
        list(stops.select_related("site", "area", "train").order_by("begins_on", "pk")[:MOST]),
    )
