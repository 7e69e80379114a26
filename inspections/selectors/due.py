"""The due list as somebody asked for it: an address read, and the checks that answer it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Case, Count, F, QuerySet, Sum, Value, When
from django.db.models.functions import TruncWeek

from inspections.models import Check, CheckKind
from inspections.selectors.checks import checks_due
from plant.models import Area, Person, Site, Train

SPANS = (28, 84, 366)
SORTS = ("date", "train", "kind", "criticality", "hours")
GROUPS = ("", "week", "area")
STOPS = ("stop", "running")
OWNERS = ("me", "nobody")
# What an address of the list may hold; anything else is neither read nor kept.
KEYS = ("site", "area", "train", "kind", "criticality", "machine", "owner", "week", "days", "sort", "group")

_ORDER = {
    "date": ("due_on",),
    "train": ("coupling__train__tag", "due_on"),
    "kind": ("kind", "due_on"),
    "criticality": ("coupling__train__criticality", "due_on"),
    "hours": ("-asked_hours", "due_on"),
}


@dataclass(frozen=True)
class Asked:
    """What the reader wants to see. Whatever in an address means nothing is left out of account."""

    site: Site
    today: date
    area: Area | None = None
    train: Train | None = None
    kind: str = ""
    criticality: str = ""
    machine: str = ""
    owner: str = ""
    week: str = ""  # a Monday, "none" for not planned yet
    days: int = SPANS[0]
    sort: str = "date"
    group: str = ""

    @property
    def until(self) -> date:
        return self.today + timedelta(days=self.days)

    @property
    def week_on(self) -> date | None:
        return date.fromisoformat(self.week) if self.week not in ("", "none") else None


def asked_for(person: Person, site: Site, today: date, query: Mapping[str, str]) -> Asked:
    """Read an address of the due list of a site."""
    days = query.get("days", "")
    return Asked(
        site=site,
        today=today,
        area=_row(Area.objects.visible_to(person).filter(site=site), query.get("area", "")),
        train=_row(Train.objects.visible_to(person).filter(site=site), query.get("train", "")),
        kind=_one_of(query.get("kind", ""), CheckKind.values),
        criticality=_one_of(query.get("criticality", ""), Train.Criticality.values),
        machine=_one_of(query.get("machine", ""), STOPS),
        owner=_one_of(query.get("owner", ""), OWNERS),
        week=_week(query.get("week", "")),
        days=int(days) if days in {str(span) for span in SPANS} else SPANS[0],
        sort=_one_of(query.get("sort", ""), SORTS) or "date",
        group=_one_of(query.get("group", ""), GROUPS),
    )


def checks_asked(person: Person, asked: Asked) -> QuerySet[Check]:
    """The checks that answer, in the order asked for; `asked_hours` are people times hours, `late` 0 where overdue."""
    rows = checks_due(person, asked.until, site=asked.site, area=asked.area)
    if asked.train is not None:
        rows = rows.filter(coupling__train=asked.train)
    if asked.kind:
        rows = rows.filter(kind=asked.kind)
    if asked.criticality:
        rows = rows.filter(coupling__train__criticality=asked.criticality)
    if asked.machine:
        rows = rows.filter(needs_stop=asked.machine == "stop")
    if asked.owner:
        rows = rows.filter(owner=person) if asked.owner == "me" else rows.filter(owner__isnull=True)
    if asked.week:
        rows = rows.filter(week_on=asked.week_on)
    rows = rows.annotate(
        asked_hours=F("crew_hours") * F("crew_size"),
        late=Case(When(closes_on__lt=asked.today, then=Value(0)), default=Value(1)),
        monday=TruncWeek("due_on"),
    )
    by_group = {"": ("late",), "week": ("monday",), "area": ("coupling__train__area__name",)}[asked.group]
    return rows.order_by(*by_group, *_ORDER[asked.sort], "id")


def group_of(check: Any, asked: Asked) -> Any:
    """Which group of the list a row stands in: 0 and 1 for overdue and due, a Monday, or an area's id."""
    if asked.group == "week":
        return check.monday
    return check.coupling.train.area_id if asked.group == "area" else check.late


def group_sums(rows: QuerySet[Check], asked: Asked) -> dict[Any, tuple[int, float]]:
    """Of every group of the whole list, not of the page in hand: how many checks, and how many crew hours."""
    column = {"": "late", "week": "monday", "area": "coupling__train__area_id"}[asked.group]
    sums = rows.order_by().values(column).annotate(number=Count("pk"), hours=Sum("asked_hours"))
    return {row[column]: (row["number"], row["hours"]) for row in sums}


def chosen_checks(person: Person, uuids: Iterable[str]) -> list[Check]:
    """Open checks by their ids, those of them that the reader may see, as a list prints them."""
    known = [uuid for uuid in (_uuid(one) for one in uuids) if uuid is not None]
    rows: QuerySet[Check] = Check.objects.visible_to(person).filter(uuid__in=known, settled_on__isnull=True)
    return list(
        rows.select_related(
            "site",
            "coupling__train__area",
            "coupling__site",
            "coupling__driver_machine",
            "coupling__driven_machine",
            "coupling__grade",
        ).order_by("due_on", "id")
    )


def monday_of(day: date) -> date:
    return day - timedelta(days=day.weekday())


def weeks_from(today: date, number: int = 12) -> list[date]:
    """The Mondays of this week and those after it."""
    return [monday_of(today) + timedelta(weeks=step) for step in range(number)]


def _week(text: str) -> str:
    if text == "none":
        return text
    try:
        return monday_of(date.fromisoformat(text)).isoformat()
    except (ValueError, OverflowError):
        return ""


def _one_of(text: str, choices: Iterable[str]) -> str:
    return text if text in set(choices) else ""


def _row(rows: Any, text: str) -> Any:
    uuid = _uuid(text)
    return rows.filter(uuid=uuid).first() if uuid is not None else None


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
