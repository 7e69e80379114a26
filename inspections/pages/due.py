"""The planner's list: what, where, by when, and why; the whole question stands in the address."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpResponse, HttpResponseBase
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_safe

from couplings.models import Instrument
from couplings.selectors import calibrations_due
from inspections.models import Check, CheckKind, SavedList
from inspections.pages.history_lines import small_lines
from inspections.reasons import calibration_words, check_sentence
from inspections.selectors.due import (
    KEYS,
    SPANS,
    Asked,
    asked_for,
    checks_asked,
    group_of,
    group_sums,
    weeks_from,
)
from plant import access
from plant.models import Area, Site, Train
from plant.pages.context import SheetRequest, of_site, own_site, render_sheet
from plant.pages.exported import exported
from plant.refusals import Missing
from plant.sitetime import today_at
from plant.words import day

ON_A_PAGE = 50
WORDS = {
    "days": {
        28: gettext_lazy("within 4 weeks"),
        84: gettext_lazy("within 12 weeks"),
        366: gettext_lazy("within a year"),
    },
    "machine": {"stop": gettext_lazy("needing a stop"), "running": gettext_lazy("done while running")},
    "owner": {"me": gettext_lazy("owned by me"), "nobody": gettext_lazy("owned by nobody")},
    "sort": {
        "date": gettext_lazy("date"),
        "train": gettext_lazy("train"),
        "kind": gettext_lazy("what is to do"),
        "criticality": gettext_lazy("criticality"),
        "hours": gettext_lazy("crew hours"),
    },
    "group": {"": gettext_lazy("overdue first"), "week": gettext_lazy("by week"), "area": gettext_lazy("by area")},
}  # fmt: skip


@dataclass(frozen=True)
class Group:
    name: str
    number: int
    hours: float
    rows: list[tuple[Check, str, str]] = field(default_factory=list)


@require_safe
@login_required
def due(request: SheetRequest) -> HttpResponse:
    """Overdue first, then by date, unless the address asks otherwise."""
    return due_page(request)


@require_safe
@login_required
def due_export(request: SheetRequest, form: str) -> HttpResponseBase:
    """The same rows by the same filters, as a file; all of them, not a page."""
    site = asked_site(request)
    if site is None:
        raise Missing()
    access.require(request.user, "export", site)
    asked = asked_for(request.user, site, today_at(site, timezone.now()), request.GET)
    rows = checks_asked(request.user, asked)
    return exported(
        request, form, f"due-{asked.today:%Y-%m-%d}", EXPORT_HEADS, _export_rows(rows, asked),
        site=site, note=f"due list, {rows.count()} checks",
    )  # fmt: skip


EXPORT_HEADS = (
    "coupling", "train", "area", "criticality", "check", "opens", "due", "window closes", "overdue", "machine",
    "people", "hours each", "crew hours", "week from", "why", "id",
)  # fmt: skip


def _export_rows(rows: Any, asked: Asked) -> Iterator[list[Any]]:
    for check in rows.iterator(chunk_size=500):
        train = check.coupling.train
        yield [
            check.coupling.tag, train.tag, train.area.name, train.criticality, str(check.get_kind_display()),
            check.opens_on, check.due_on, check.closes_on, "yes" if check.late == 0 else "no",
            "needs a stop" if check.needs_stop else "while running", check.crew_size, check.crew_hours,
            check.asked_hours, check.week_on, check_sentence(check, asked.site.units), str(check.uuid),
        ]  # fmt: skip


def asked_site(request: SheetRequest) -> Site | None:
    """The site that the address names, or else the reader's first."""
    text = request.GET.get("site", "")
    sites = Site.objects.visible_to(request.user)
    return next((one for one in sites if str(one.uuid) == text), None) or own_site(request)


def query_of(query: Mapping[str, str]) -> str:
    """The part of an address that says what is asked, without the page of it."""
    from urllib.parse import urlencode

    return urlencode([(key, query[key]) for key in KEYS if query.get(key)])


def due_page(
    request: SheetRequest,
    *,
    picked: frozenset[str] = frozenset(),
    problems: list[dict[str, str]] | None = None,
    typed: Mapping[str, str] | None = None,
    to_see: bool = False,
    status: int = 200,
) -> HttpResponse:
    """The list, with what was ticked and typed where a batch was refused, or its risk has to be read first."""
    sites = list(Site.objects.visible_to(request.user).order_by("name"))
    site = next((one for one in sites if str(one.uuid) == request.GET.get("site")), own_site(request))
    if site is None:
        return render_sheet(request, "inspections/due.html", {"groups": [], "sites": []})
    today = today_at(site, timezone.now())
    asked = asked_for(request.user, site, today, request.GET)
    rows = checks_asked(request.user, asked)
    late = {row["late"]: row["number"] for row in _late(rows)}
    sums = group_sums(rows, asked)
    page = Paginator(rows, ON_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "headline": _headline(late.get(0, 0), late.get(1, 0)),
        "groups": _groups(page.object_list, asked, sums),
        "page": page,
        "hours": sum(hours for _number, hours in sums.values()),
        "asked": asked,
        "query": query_of(request.GET),
        "sites": sites,
        "areas": list(Area.objects.visible_to(request.user).filter(site=site)),
        "trains": list(Train.objects.visible_to(request.user).filter(site=site).order_by("tag").only("uuid", "tag")),
        "kinds": CheckKind.choices,
        "criticalities": Train.Criticality.choices,
        "words": WORDS,
        "spans": SPANS,
        "weeks": weeks_from(today),
        "calibrations": [
            (due, calibration_words(due, today))
            for due in calibrations_due(Instrument.objects.visible_to(request.user).filter(site=site), asked.until)
        ],
        "lists": list(SavedList.objects.filter(person=request.user, page=SavedList.Page.DUE)),
        "may_plan": access.may(request.user, "check.plan", site),
        "may_order": access.may(request.user, "order.write", site),
        "may_export": access.may(request.user, "export", site),
        "picked": picked,
        "problems": problems or [],
        "typed": typed or {},
        "to_see": to_see,
        **of_site(site),
    }
    if request.htmx and not request.htmx.history_restore_request and request.method == "GET":
        return render_sheet(request, "inspections/due.html#list", context, site=site)
    return render_sheet(request, "inspections/due.html", context, site=site, status=status)


def _late(rows: Any) -> Any:
    from django.db.models import Count

    return rows.order_by().values("late").annotate(number=Count("pk"))


def _groups(rows: Any, asked: Asked, sums: dict[Any, tuple[int, float]]) -> list[Group]:
    found: dict[Any, Group] = {}
    # What comes due of wear or lubricant is not drawn with alignment's history.
    lines = small_lines([one.coupling for one in rows if one.kind == CheckKind.ALIGNMENT], asked.today)
    for check in rows:
        key = group_of(check, asked)
        if key not in found:
            found[key] = Group(_name(check, key, asked), *sums.get(key, (0, 0.0)))
        line = lines[check.coupling_id] if check.kind == CheckKind.ALIGNMENT else ""
        found[key].rows.append((check, check_sentence(check, asked.site.units), line))
    return list(found.values())


def _name(check: Check, key: Any, asked: Asked) -> str:
    if asked.group == "area":
        return check.coupling.train.area.name
    if asked.group == "week":
        return week_words(key)
    return _("Overdue") if key == 0 else _("Due by %(day)s") % {"day": day(asked.until, weekday=False)}


def week_words(monday: date) -> str:
    """Week 42, from 12 October: ISO 8601 numbers weeks by their Thursday."""
    return _("Week %(n)s, from %(day)s") % {
        "n": monday.isocalendar().week,
        "day": day(monday, weekday=False, year=False),
    }


def _headline(overdue: int, coming: int) -> str:
    if not overdue and not coming:
        return _("Nothing is due")
    late = (
        ngettext("One is overdue", "%(n)s are overdue", overdue) % {"n": overdue} if overdue else _("None is overdue")
    )
    return late + ", " + (ngettext("one falls due", "%(n)s fall due", coming) % {"n": coming})
