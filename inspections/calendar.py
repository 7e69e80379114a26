"""Checks, outings, calibrations that end and planned stops as a calendar after RFC 5545."""

from collections.abc import Callable, Iterable
from datetime import date, datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _
from icalendar import Calendar, Event, vDuration

from couplings.selectors import CalibrationDue
from inspections.models import Check, WorkOrder
from inspections.reasons import check_sentence
from plant.models import Stop

REFRESH = timedelta(hours=1)


def calendar_of(
    name: str,
    checks: Iterable[Check],
    orders: Iterable[WorkOrder],
    calibrations: Iterable[CalibrationDue] = (),
    stops: Iterable[Stop] = (),
    *,
    address_of: Callable[[Any], str],
    at: datetime,
) -> bytes:
    """The feed. Each check is a day without hours, free in the owner's calendar, with its reason and its page.

    A check keeps its UID for life and its version is the SEQUENCE, so a moved date moves the entry.
    """
    feed = Calendar()
    feed.add("prodid", "-//Asleft//due checks//EN")
    feed.add("version", "2.0")
    feed.add("calscale", "GREGORIAN")
    feed.add("method", "PUBLISH")
    feed.add("name", name)
    feed.add("x-wr-calname", name)
    feed.add("refresh-interval", vDuration(REFRESH), parameters={"VALUE": "DURATION"})
    for check in checks:
        feed.add_component(_check(check, address_of, at))
    for order in orders:
        feed.add_component(_order(order, at))
    for due in calibrations:
        feed.add_component(_calibration(due, at))
    for stop in stops:
        feed.add_component(_stop(stop, at))
    return bytes(feed.to_ical())


def _check(check: Check, address_of: Callable[[Any], str], at: datetime) -> Event:
    coupling = check.coupling
    said = check_sentence(check, check.site.units)
    if check.closes_on != check.due_on:
        said += " " + _("Overdue after %(on)s.") % {"on": check.closes_on.isoformat()}
    stop = _("needs a stop") if check.needs_stop else _("while running")
    entry = _day(f"check-{check.uuid}@asleft", check.due_on, at)
    entry.add("summary", f"{coupling.tag} {check.get_kind_display()} ({stop})")
    entry.add("description", f"{said}\n{check.crew_size} × {check.crew_hours:g} h")
    entry.add("location", f"{check.site}, {coupling.train.area.name}, {coupling.train.tag}")
    entry.add("url", address_of(coupling))
    entry.add("sequence", check.version)
    entry.add("categories", [str(check.get_kind_display())])
    return entry


def _order(order: WorkOrder, at: datetime) -> Event:
    assert order.planned_on is not None
    entry = _day(f"order-{order.uuid}@asleft", order.planned_on, at)
    entry.add("summary", " ".join(one for one in (order.train.tag, order.number, order.title) if one))
    entry.add("location", f"{order.site}, {order.train.area.name}")
    entry.add("sequence", order.version)
    return entry


def _calibration(due: CalibrationDue, at: datetime) -> Event:
    """On the last day on which the instrument may measure."""
    assert due.ends_on is not None
    entry = _day(f"calibration-{due.instrument.uuid}@asleft", due.ends_on, at)
    entry.add("summary", _("%(instrument)s: calibration ends") % {"instrument": due.instrument})
    entry.add("location", str(due.instrument.site))
    entry.add("sequence", due.instrument.version)
    return entry


def _stop(stop: Stop, at: datetime) -> Event:
    """All its days as one entry."""
    entry = _day(f"stop-{stop.uuid}@asleft", stop.begins_on, at, last_on=stop.ends_on)
    where = stop.train.tag if stop.train is not None else str(stop.area or _("the whole site"))
    entry.add("summary", _("Stop: %(name)s, %(where)s") % {"name": stop.name, "where": where})
    entry.add("location", str(stop.site))
    entry.add("sequence", stop.version)
    return entry


def _day(uid: str, on: date, at: datetime, last_on: date | None = None) -> Event:
    entry = Event()
    entry.add("uid", uid)
    entry.add("dtstamp", at)
    entry.add("dtstart", on)
    entry.add("dtend", (last_on or on) + timedelta(days=1))
    entry.add("transp", "TRANSPARENT")
    return entry
