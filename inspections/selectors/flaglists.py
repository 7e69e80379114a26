"""The flags of a site as somebody asked for them, and what today asks of one person."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Count, Q, QuerySet

from inspections.models import Check, Flag, Visit, WorkOrder
from inspections.selectors.checks import checks_due
from inspections.selectors.due import monday_of
from inspections.selectors.flags import open_flags
from inspections.selectors.orders import orders_visible_to
from inspections.selectors.people import owners_at
from inspections.selectors.visits import drafts_of
from plant.models import Area, Person, Site

OWNERS = ("me", "nobody", "others")
AGES = {"week": 7, "month": 30, "quarter": 90}


@dataclass(frozen=True)
class AskedFlags:
    """What the reader wants to see; whatever in an address means nothing is left out of account."""

    site: Site | None
    area: Area | None = None
    kind: str = ""
    owner: str = ""
    age: str = ""


def flags_asked_for(person: Person, query: Mapping[str, str]) -> AskedFlags:
    """Read an address of the page of flags; without a site it is about every one the reader sees."""
    area = _row(Area.objects.visible_to(person).select_related("site"), query.get("area", ""))
    site = area.site if area is not None else _row(Site.objects.visible_to(person), query.get("site", ""))
    kind, owner, age = (query.get(name, "") for name in ("kind", "owner", "age"))
    return AskedFlags(
        site=site,
        area=area,
        kind=kind if kind in Flag.Kind.values else "",
        owner=owner if owner in OWNERS else "",
        age=age if age in AGES else "",
    )


def flags_asked(person: Person, asked: AskedFlags, now: datetime) -> QuerySet[Flag]:
    """Open flags that answer, the longest open first."""
    rows = open_flags(person=person)
    if asked.site is not None:
        rows = rows.filter(site=asked.site)
    if asked.area is not None:
        rows = rows.filter(coupling__train__area=asked.area)
    if asked.kind:
        rows = rows.filter(kind=asked.kind)
    if asked.owner == "me":
        rows = rows.filter(owner=person)
    elif asked.owner == "nobody":
        rows = rows.filter(owner__isnull=True)
    elif asked.owner == "others":
        rows = rows.filter(owner__isnull=False).exclude(owner=person)
    if asked.age:
        rows = rows.filter(opened_at__lte=now - timedelta(days=AGES[asked.age]))
    return rows


def chosen_flags(person: Person, uuids: Iterable[str]) -> list[Flag]:
    """Open flags by their ids, those of them that the reader may see."""
    known = [uuid for uuid in (_uuid(one) for one in uuids) if uuid is not None]
    return list(open_flags(person=person).filter(uuid__in=known))


def owners_of(flags: Iterable[Flag]) -> QuerySet[Person]:
    """Who may be named as dealing with all of these: whoever works at each of their sites."""
    sites = {flag.site_id: flag.site for flag in flags}
    found: QuerySet[Person] | None = None
    for site in sites.values():
        there = owners_at(site)
        found = there if found is None else found.filter(pk__in=there.values("pk"))
    return found if found is not None else Person.objects.none()


def person_of(people: QuerySet[Person], text: str) -> Person | None:
    """The one of them whose id was sent."""
    found: Person | None = _row(people, text)
    return found


def kinds_open(person: Person, site: Site | None) -> list[tuple[str, int, int]]:
    """Of every kind that is open: how many, and how many of them nobody owns."""
    rows = open_flags(person=person)
    rows = rows.filter(site=site) if site is not None else rows
    sums = rows.order_by().values("kind").annotate(n=Count("pk"), free=Count("pk", filter=Q(owner__isnull=True)))
    return [(row["kind"], row["n"], row["free"]) for row in sums.order_by("-n", "kind")]


@dataclass(frozen=True)
class Today:
    """What one person has in hand at a site."""

    visits: list[Visit]
    orders: list[WorkOrder]
    checks: list[Check]
    more: int
    flags: list[Flag]


MOST = 20


def today_of(person: Person, site: Site, today: date) -> Today:
    """Visits the person began, outings he is on, what is due here this week or planned for it, the flags he owns."""
    sunday = monday_of(today) + timedelta(days=6)
    orders: Any = orders_visible_to(person).filter(crew__person=person, state=WorkOrder.State.OPEN).distinct()
    due = checks_due(person, today + timedelta(days=366), site=site)
    due = due.filter(Q(due_on__lte=sunday) | Q(week_on=monday_of(today)))
    count = due.count()
    return Today(
        visits=list(
            drafts_of(person)
            .filter(Q(in_hand_of=person) | Q(in_hand_of=None, taken_by=person) | Q(work_order__crew__person=person))
            .distinct()[:MOST]
        ),
        orders=sorted(orders[:MOST], key=lambda order: (order.planned_on or date.max, order.pk)),
        checks=list(due[:MOST]),
        more=max(0, count - MOST),
        flags=list(open_flags(person=person, owner=person)[:MOST]),
    )


def _row(rows: Any, text: str) -> Any:
    uuid = _uuid(text)
    return rows.filter(uuid=uuid).first() if uuid is not None else None


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
