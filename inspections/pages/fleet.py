"""How the couplings stand, for whoever answers for them: the sentence, the months, the areas, and what changed."""

from collections import Counter
from collections.abc import Sequence
from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpResponse, HttpResponseBase
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from couplings.models import Coupling
from inspections.models import StandingMonth, Visit
from inspections.pages.costs import fleet_costs
from inspections.pages.history_lines import small_lines
from inspections.selectors.fleet import (
    CLOSE,
    COLUMNS,
    EMPTY,
    IN,
    NEVER,
    OUT,
    REFITTED,
    STATES,
    UNJUDGED,
    UNKNOWN,
    areas_kept,
    first_of,
    kept_for,
    month_end,
    months_back,
    months_kept,
    standing_on,
)
from plant import access
from plant.drawings.months import MonthBar, months_pictures
from plant.models import Area, Person, Site
from plant.pages.context import SheetRequest, own_site, render_sheet
from plant.pages.exported import exported
from plant.refusals import NotAllowed
from plant.sitetime import today_at
from plant.words import cardinal

ON_A_PAGE = 50
WHYS = {
    NEVER: gettext_lazy("never measured"),
    REFITTED: gettext_lazy("refitted and not measured since"),
    UNJUDGED: gettext_lazy("measured, with nothing to judge it by"),
    EMPTY: gettext_lazy("nothing fitted now"),
}
SHORT = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_BETTER = {IN: 0, CLOSE: 1, OUT: 2}


@require_safe
@login_required
def fleet(request: SheetRequest) -> HttpResponse:
    """From the months kept, never from all records: a year costs what a month costs."""
    sites = _sites(request.user)
    site = next((one for one in sites if str(one.uuid) == request.GET.get("site")), None)
    if site is None and len(sites) == 1:
        site = sites[0]
    today = today_at(site or own_site(request), timezone.now()) if sites else timezone.now().date()
    this = first_of(today)
    rows = kept_for(request.user, site)
    months = months_kept(rows, months_back(today, 12))
    now = months[-1] if months and months[-1]["month_on"] == this else None
    areas = areas_kept(rows, this) if now else []
    context: dict[str, Any] = {
        "sites": sites,
        "chosen": site,
        "now": now,
        "headline": _headline(now, months),
        "of": {"site": str(site.uuid)} if site else {},
        "list": _opener({"site": str(site.uuid)} if site else {}),
    }
    if now is not None:
        asked = context["of"]
        year = [month for month in months if month["month_on"] > months_back(today, 12)]
        narrow, wide = months_pictures(_bars(year, this), _("Share of couplings not in tolerance, by month."))
        context |= {
            "narrow": mark_safe(narrow),
            "wide": mark_safe(wide),
            "year": year,
            "state_rows": [
                (state, [(month[column], _address(asked, state, month["month_on"], this)) for month in year])
                for state, column in COLUMNS.items()
            ],
            "all_row": [(month["fitted"], _address(asked, "", month["month_on"], this)) for month in year],
            "due": reverse("due") + (f"?{urlencode(asked)}" if asked else ""),
            "this": this,
            "links": {state: _address(asked, state, this, this) for state in STATES},
            "ago": months[0] if months[0]["month_on"] == months_back(today, 12) else None,
            "whys": _whys(areas, asked, this),
            "areas": [(row, _area_links(row, this)) for row in areas],
            "several": site is None,
            "changes": _changes(areas),
            "last_month": months_back(today, 1),
            "signed_since": _signed_since(request.user, site, now["counted"]),
        }
        context |= fleet_costs(site, today)
        context["more"] = now["in_tolerance"] - context["ago"]["in_tolerance"] if context["ago"] else None
    return render_sheet(request, "inspections/fleet.html", context, site=site)


@require_safe
@login_required
def fleet_couplings(request: SheetRequest) -> HttpResponse:
    """The couplings behind one number of the fleet page."""
    asked = _asked(request)
    stands = asked["stands"]
    context = {key: value for key, value in asked.items() if key != "stands"}
    page = Paginator(stands, ON_A_PAGE).get_page(request.GET.get("page"))
    shown = Coupling.objects.filter(pk__in=[one.pk for one in page.object_list])
    context |= {
        "page": page,
        # A month that is over is not drawn with what came after it.
        "lines": {} if asked["past"] else small_lines(shown, asked["day"]),
        "counts": Counter(one.state for one in stands),
        "whys": WHYS,
        "may_export": bool(access.sites_where(request.user, "export")),
        "query": urlencode({key: value for key, value in request.GET.items() if key != "page"}),
    }
    return render_sheet(request, "inspections/fleet_couplings.html", context, site=asked["site"])


@require_safe
@login_required
def fleet_export(request: SheetRequest, form: str) -> HttpResponseBase:
    """The same rows as a file."""
    asked = _asked(request, "export")
    rows = (
        [
            one.tag, one.train, one.area, one.state, str(WHYS.get(one.why, "")), one.on,
            None if one.used is None else round(one.used, 4), str(one.uuid),
        ]
        for one in asked["stands"]
    )  # fmt: skip
    heads = ("coupling", "train", "area", "stands", "why not known", "measured", "tolerance used", "id")
    return exported(
        request, form, f"fleet-{asked['day']:%Y-%m-%d}", heads, rows,
        site=asked["site"], note=f"fleet, {len(asked['stands'])} couplings",
    )  # fmt: skip


def _sites(person: Person) -> list[Site]:
    return [site for site in Site.objects.visible_to(person).order_by("name") if person.reads_whole(site.pk)]


def _asked(request: SheetRequest, action: str = "read") -> dict[str, Any]:
    sites = _sites(request.user)
    site = next((one for one in sites if str(one.uuid) == request.GET.get("site")), None)
    if action != "read" and not sites:
        raise NotAllowed(_("Your role does not let you take a list away as a file."))
    if action != "read":
        for one in [site] if site else sites:
            access.require(request.user, action, one)
    today = today_at(site or own_site(request), timezone.now()) if sites else timezone.now().date()
    month_on = _month(request.GET.get("month", ""), today)
    day = month_end(month_on) if month_on else today
    state = request.GET.get("state", "")
    why = request.GET.get("why", "")
    area = next(
        (one for one in Area.objects.visible_to(request.user) if str(one.uuid) == request.GET.get("area")), None
    )
    stands = standing_on([site] if site else sites, day)
    return {
        "site": site or (sites[0] if len(sites) == 1 else None),
        "day": day,
        "past": bool(month_on),
        "state": state if state in STATES else "",
        "why": why if why in WHYS else "",
        "area": area,
        "stands": [
            one
            for one in stands
            if (state not in STATES or one.state == state)
            and (why not in WHYS or one.why == why)
            and (area is None or one.area_id == area.pk)
        ],
    }


def _month(text: str, today: date) -> date | None:
    """The first of a month that is over; None for the current one or what is no month."""
    try:
        month_on = first_of(date.fromisoformat(text))
    except ValueError:
        return None
    return month_on if date(2000, 1, 1) <= month_on < first_of(today) else None


def _address(asked: dict[str, str], state: str, month_on: date, this: date, **more: str) -> str:
    query = asked | {"state": state} | more
    if month_on != this:
        query["month"] = month_on.isoformat()
    return f"{reverse('fleet-couplings')}?{urlencode(query)}"


def _opener(asked: dict[str, str]) -> str:
    return reverse("fleet-couplings") + (f"?{urlencode(asked)}" if asked else "")


def _area_links(row: StandingMonth, this: date) -> dict[str, str]:
    asked = {"site": str(row.site.uuid), "area": str(row.area.uuid)}
    links = {column: _address(asked, state, this, this) for state, column in COLUMNS.items()}
    due = urlencode({"site": str(row.site.uuid), "area": str(row.area.uuid)})
    return links | {"all": _opener(asked), "overdue": f"{reverse('due')}?{due}"}


def _bars(months: Sequence[dict[str, Any]], this: date) -> list[MonthBar]:
    """Twelve months up to this one; a month that was not kept stays empty."""
    kept = {month["month_on"]: month for month in months}
    bars = []
    for back in range(11, -1, -1):
        month_on = months_back(this, back)
        name, month = SHORT[month_on.month - 1], kept.get(month_on)
        if month is None or not month["fitted"]:
            bars.append(MonthBar(name, None))
            continue
        share = {column: 100 * month[column] / month["fitted"] for column in COLUMNS.values()}
        bars.append(MonthBar(name, share["out"], share["too_close"], share["not_known"]))
    return bars


def _whys(areas: Sequence[StandingMonth], asked: dict[str, str], this: date) -> list[tuple[int, str, str]]:
    sums: Counter[str] = Counter()
    for row in areas:
        sums.update(row.why_not)
    return [
        (sums[why], str(words), _address(asked, UNKNOWN, this, this, why=why))
        for why, words in WHYS.items()
        if sums[why]
    ]


def _changes(areas: Sequence[StandingMonth]) -> list[tuple[str, list[dict[str, Any]]]]:
    """What stands otherwise than a month before, under Worse, Better and New."""
    groups: dict[str, list[dict[str, Any]]] = {_("Worse"): [], _("Better"): [], _("New"): [], _("No longer known"): []}
    worse, better, new, lost = groups
    for row in areas:
        for one in row.changes:
            was, now = _BETTER.get(one["was"]), _BETTER.get(one["now"])
            if was is None:
                if now is not None:
                    groups[new].append(one)
            elif now is None:
                groups[lost].append(one)
            else:
                groups[worse if now > was else better].append(one)
    return [(name, some) for name, some in groups.items() if some]


def _signed_since(person: Person, site: Site | None, at: Any) -> int:
    rows = Visit.objects.visible_to(person).filter(state=Visit.State.SIGNED, signed_at__gt=at)
    return (rows.filter(site=site) if site is not None else rows).count()


def _headline(now: dict[str, Any] | None, months: Sequence[dict[str, Any]]) -> str:
    if now is None:
        return _("The fleet is counted for the first time tonight")
    if not now["fitted"]:
        return _("No coupling is fitted yet")
    share = now["in_tolerance"] / now["fitted"]
    said = _share_words(share)
    earlier = [month for month in months[:-1] if month["fitted"]]
    if not earlier:
        return said
    change = share - earlier[0]["in_tolerance"] / earlier[0]["fitted"]
    if change >= 0.01:
        return _("%(said)s, more than in %(month)s") % {"said": said, "month": _month_words(earlier[0]["month_on"])}
    if change <= -0.01:
        return _("%(said)s, fewer than in %(month)s") % {"said": said, "month": _month_words(earlier[0]["month_on"])}
    return _("%(said)s, as in %(month)s") % {"said": said, "month": _month_words(earlier[0]["month_on"])}


def _share_words(share: float) -> str:
    tenths = round(10 * share)
    if share == 1:
        return _("Every coupling is in tolerance")
    if tenths == 10:
        return _("More than nine in ten couplings are in tolerance")
    if share == 0:
        return _("No coupling is known to be in tolerance")
    if tenths == 0:
        return _("Fewer than one in ten couplings are in tolerance")
    said = _("%(n)s in ten couplings are in tolerance") % {"n": cardinal(tenths)}
    return said[0].upper() + said[1:]


def _month_words(month_on: date) -> str:
    return f"{month_on:%B %Y}"
