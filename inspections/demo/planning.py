"""What the planner of the invented plant has laid out: stops, weeks, who gets the daily mail, who else is told."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta

from inspections.demo.keeping import PUT_OFF
from inspections.models import Check
from inspections.selectors.checks import checks_due
from inspections.selectors.due import monday_of
from inspections.services.digests import wish_digest
from inspections.services.weeks import put_in_week
from plant.models import Area, Person, Site, Train
from plant.recording import recording
from plant.services.stops import plan_stop
from plant.services.webhooks import change_webhook, register_webhook
from plant.sitetime import today_at

# Name, area ("" for the whole site), begins in so many days, for how many.
STOPS = {
    "Greyfen Works": (
        ("Last yearly stop", "", -300, 5),
        ("Turbine stop", "Turbine hall", 24, 2),
        ("Yearly stop", "", 61, 5),
    ),
    "Saltholm Mill": (("Shut of the machine", "Paper machine", 17, 1), ("Yearly shut", "", 75, 4)),
}
LINE_STOP = "Stop of the refiner line"
# Who asked for the daily mail, at which hour, on which days. Nobody has an address, so that none is ever sent.
MAILS = (("samir", 6, "12345"), ("ana", 7, "12345"), ("ole", 7, "1"))
REACHED_AT = "https://asleft.example"
RECEIVER = (
    "Work orders",
    "https://orders.example.org/told",
    ("check.due", "check.overdue", "check.done", "visit.signed"),
)
PLANNED_DAYS = 28


def lay_out(site: Site, people: Mapping[str, Person], now: datetime) -> None:
    """Stops and weeks as the planner entered them, the receiver as the keeper did: it is switched off."""
    today, planner = today_at(site, now), people["samir"]
    with recording(by=planner, at=now):
        _stops(site, today)
        due = checks_due(planner, today + timedelta(days=PLANNED_DAYS), site=site).filter(due_on__gte=today)
        for check in due.select_related("coupling"):
            put_in_week(checks=[check], week_on=monday_of(check.due_on))
    name, url, kinds = RECEIVER
    with recording(by=people["kim"], at=now):
        hook, _secret = register_webhook(site=site, name=name, url=url, kinds=kinds)
        change_webhook(webhook=hook, active=False)


def ask_for_mails(site: Site, people: Mapping[str, Person], now: datetime) -> None:
    for username, hour, days in MAILS:
        with recording(by=people[username], at=now):
            wish_digest(site=site, hour=hour, days=days, active=True, origin=REACHED_AT)


def _stops(site: Site, today: date) -> None:
    areas = {area.name: area for area in Area.objects.filter(site=site)}
    for name, where, days, length in STOPS[site.name]:
        begins_on = today + timedelta(days=days)
        plan_stop(
            site=site, name=name, area=areas[where] if where else None, begins_on=begins_on,
            ends_on=begins_on + timedelta(days=length - 1),
        )  # fmt: skip
    # What was put off for a stop is put off to one that stands in the plan.
    train = Train.objects.filter(site=site, tag=PUT_OFF).first()
    waits = Check.objects.filter(coupling__train=train, deferred_until__isnull=False, settled_on__isnull=True).first()
    if train is not None and waits is not None and waits.deferred_until is not None:
        plan_stop(site=site, name=LINE_STOP, train=train, begins_on=waits.deferred_until, ends_on=waits.deferred_until)
