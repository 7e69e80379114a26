"""Twelve weeks ahead: the hours planned for each against those the crew has. Also the lists people keep."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST, require_safe

from inspections.models import SavedList
from inspections.pages.due import asked_site, week_words
from inspections.selectors.weeks import Week, weeks_of
from inspections.services.lists import forget_list, keep_list
from plant.access import may
from plant.models import Site
from plant.pages.context import SheetRequest, render_sheet
from plant.recording import recording
from plant.refusals import Missing, Refused
from plant.sitetime import today_at


@require_safe
@login_required
def weeks(request: SheetRequest) -> HttpResponse:
    """Each number opens the checks behind it."""
    site = asked_site(request)
    context: dict[str, Any] = {"sites": list(Site.objects.visible_to(request.user).order_by("name"))}
    if site is None:
        return render_sheet(request, "inspections/weeks.html", context)
    plan = weeks_of(request.user, site, today_at(site, timezone.now()))
    context |= {
        "plan": plan,
        "rows": [(week, week_words(week.monday)) for week in plan.weeks],
        "headline": _headline(plan.weeks, site),
        "may_stop": may(request.user, "stop.write", site),
    }
    return render_sheet(request, "inspections/weeks.html", context, site=site)


def _headline(rows: list[Week], site: Site) -> str:
    if site.crew_hours_week is None:
        hours = sum(week.hours for week in rows)
        return _("%(h)s crew hours are planned in twelve weeks") % {"h": f"{hours:g}"}
    full = [week for week in rows if week.over]
    if not full:
        return _("No week asks for more than the crew has")
    return ngettext(
        "One week asks for more than the crew has", "%(n)s weeks ask for more than the crew has", len(full)
    ) % {"n": len(full)}


@require_POST
@login_required
def lists(request: SheetRequest) -> HttpResponse:
    """Keep a list under a name, or forget it."""
    page = request.POST.get("page", "")
    if page not in SavedList.Page.values:
        raise Missing()
    asked = request.POST.get("asked", "")
    try:
        with recording(by=request.user, at=timezone.now()):
            if request.POST.get("act") == "forget":
                number = request.POST.get("list", "")
                kept = SavedList.objects.filter(person=request.user, page=page)
                found = kept.filter(pk=int(number)).first() if number.isdecimal() and len(number) < 18 else None
                if found is None:
                    raise Missing()
                forget_list(kept=found)
            else:
                asked = keep_list(page=page, name=request.POST.get("name", ""), asked=asked).asked
                messages.success(request, _("The list is kept."))
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        asked = ""
    return redirect(reverse(page) + (f"?{asked}" if asked else ""))
