"""How long elements live and when replacing them pays, for the engineer; which will be needed, for the planner."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse, HttpResponseBase
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_safe

from inspections.life_words import law_words, life_picture, replacement_words
from inspections.pages.due import asked_site
from inspections.selectors.elements import (
    BY_PART,
    GROUPINGS,
    HORIZONS,
    Costs,
    Group,
    Part,
    clock_age,
    costs_of,
    groups_of,
    parts_of,
)
from plant import access
from plant.models import Site
from plant.pages.context import SheetRequest, render_sheet
from plant.pages.exported import exported
from plant.refusals import NotAllowed
from plant.sitetime import today_at

ON_A_PAGE = 40
WORDS = {
    "part": gettext_lazy("by part number"),
    "family": gettext_lazy("by family"),
    "area": gettext_lazy("by area"),
}
SETTINGS = {
    "element_cost": gettext_lazy("cost of one element"),
    "failure_cost": gettext_lazy("what a failure costs besides"),
    "labour_rate": gettext_lazy("cost of one crew hour"),
}


@require_safe
@login_required
def elements(request: SheetRequest) -> HttpResponse:
    """Survival and B10 of each group, or in words why there is none; the best age; removals by reason."""
    site, sites = _asked(request), _sites(request)
    by = request.GET.get("by", BY_PART)
    by = by if by in GROUPINGS else BY_PART
    context: dict[str, Any] = {"sites": sites, "by": by, "words": WORDS}
    if site is None:
        return render_sheet(request, "inspections/elements.html", context)
    found, costs = groups_of(site, today_at(site, timezone.now()), by), costs_of(site)
    context |= {
        "groups": [_shown(group, costs, site) for group in found[:ON_A_PAGE]],
        "left_out": max(0, len(found) - ON_A_PAGE),
        "headline": _headline(found),
        "missing": [SETTINGS[name] for name in costs.missing],
        "costs": costs,
        "hours": f"{costs.hours:g}",
        "may_export": bool(access.may(request.user, "export", site)),
    }
    return render_sheet(request, "inspections/elements.html", context, site=site)


@require_safe
@login_required
def elements_export(request: SheetRequest, form: str) -> HttpResponseBase:
    """One row per group, ages in the unit of its clock."""
    site = _to_export(request)
    by = request.GET.get("by", BY_PART)
    by = by if by in GROUPINGS else BY_PART
    found = groups_of(site, today_at(site, timezone.now()), by)
    heads = (
        by, "family", "clock", "elements", "failed", "running", "basis", "shape", "scale", "B10", "B10 from", "B10 to",
        "best age",
    )  # fmt: skip
    rows = (
        [
            one.name, one.family, "run hours" if one.by_hours else "days", one.estimate.elements, one.estimate.failures,
            one.running, one.estimate.basis, one.estimate.beta, one.estimate.eta, one.estimate.b10,
            *(one.estimate.b10_limits or ("", "")), one.best.age if one.best and one.best.recommended else "",
        ]
        for one in found
    )  # fmt: skip
    return exported(request, form, f"elements-{by}", heads, rows, site=site, note=f"elements, {len(found)} groups")


@require_safe
@login_required
def parts(request: SheetRequest) -> HttpResponse:
    """Elements expected to be needed in 3, 6 and 12 months per part number, beside what lies in store."""
    site = _asked(request)
    context: dict[str, Any] = {"sites": _sites(request)}
    if site is None:
        return render_sheet(request, "inspections/parts.html", context)
    found = parts_of(site, today_at(site, timezone.now()))
    short = sum(one.short for one in found)
    context |= {
        "parts": found,
        "headline": ngettext("One part number is short", "%(n)s part numbers are short", short) % {"n": short}
        if short
        else _("The store holds what a year is expected to need"),
        "may_export": bool(access.may(request.user, "export", site)),
    }
    return render_sheet(request, "inspections/parts.html", context, site=site)


@require_safe
@login_required
def parts_export(request: SheetRequest, form: str) -> HttpResponseBase:
    """One row per part number."""
    site = _to_export(request)
    found = parts_of(site, today_at(site, timezone.now()))
    heads = [
        "part number", "family", "running", "worn out", "in store", "fit to use", "by a fitted law",
        *(f"{what} in {days} days" for days in HORIZONS for what in ("expected", "low", "high")),
    ]  # fmt: skip
    rows = (
        [
            one.part, one.family, one.running, one.worn, one.in_store, one.fit_to_use, one.by_law,
            *(round(value, 2) for need in one.needs for value in (need.expected, need.low, need.high)),
        ]
        for one in found
    )  # fmt: skip
    return exported(request, form, "parts", heads, rows, site=site, note=f"parts, {len(found)} part numbers")


def _sites(request: SheetRequest) -> list[Site]:
    """Sites that the reader has all of: a contractor reads only what belongs to his orders."""
    rows = Site.objects.visible_to(request.user).order_by("name")
    return [site for site in rows if request.user.reads_whole(site.pk)]


def _asked(request: SheetRequest) -> Site | None:
    """The site asked for, where the reader has all of it."""
    site = asked_site(request)
    return site if site is not None and request.user.reads_whole(site.pk) else None


def _to_export(request: SheetRequest) -> Site:
    site = _asked(request)
    if site is None:
        raise NotAllowed(_("Your role does not let you take a list away as a file."))
    access.require(request.user, "export", site)
    return site


def _headline(found: list[Group]) -> str:
    failed = sum(int(one.estimate.failures) for one in found)
    if not found:
        return _("No element is on record yet")
    known = sum(one.estimate.b10_limits is not None for one in found)
    total = sum(int(one.estimate.elements) for one in found)
    said = _("%(failed)s of %(total)s elements failed") % {"failed": failed, "total": total}
    return said if known else _("%(said)s: too few to say how long they live") % {"said": said}


def _shown(group: Group, costs: Costs, site: Site) -> dict[str, Any]:
    estimate, by_hours = group.estimate, group.by_hours
    limits = estimate.b10_limits
    return {
        "group": group,
        "says": law_words(group),
        "plot": mark_safe(life_picture(group)),
        "b10": "" if estimate.b10 is None else clock_age(estimate.b10, by_hours),
        "least": limits is None and estimate.b10 is not None,
        "b10_limits": "" if limits is None else " – ".join(clock_age(one, by_hours) for one in limits),
        "shape": "" if estimate.beta is None else f"{estimate.beta:.1f}",
        "curve": [
            (clock_age(float(age), by_hours), f"{risk:g}", f"{failed:g}", f"{share:.0%}")
            for age, risk, failed, share in zip(
                estimate.curve.age, estimate.curve.at_risk, estimate.curve.failed, estimate.curve.survival, strict=True
            )
        ],
        "removals": [(name or _("no reason written down"), n) for name, n in group.removals],
        "best": replacement_words(group, costs, site.currency),
        "calculation": _calculation(group, costs),
    }


def _calculation(group: Group, costs: Costs) -> str:
    """The calculation of the best age with these numbers in it, where there is a law and costs are set."""
    from urllib.parse import urlencode

    found = group.estimate
    if group.best is None or found.eta is None or found.beta is None or found.covariance is None:
        return ""
    hours = 1.0 if group.by_hours else 24.0
    query = {
        "scale": f"{found.eta * hours:.0f}", "shape": f"{found.beta:.3f}",
        "scale_error": f"{found.covariance[0] ** 0.5 * 100:.1f} %",
        "shape_error": f"{found.covariance[2] ** 0.5 * 100:.1f} %",
        "planned": f"{costs.planned:.0f}", "unplanned": f"{costs.unplanned:.0f}",
    }  # fmt: skip
    return f"{reverse('calculation', args=['replacement-age'])}?{urlencode(query)}"


__all__ = ["Part", "elements", "elements_export", "parts", "parts_export"]
