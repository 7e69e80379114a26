"""Calendars: a person's secret addresses, and the feed itself, which a calendar program reads without signing in."""

import hashlib
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotModified
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from inspections.calendar import calendar_of
from inspections.selectors.calendars import calendar_for, calendars_of, shown_in
from inspections.services.calendars import end_calendar, note_reading, renew_calendar
from plant.models import Site
from plant.pages.context import SheetRequest, render_sheet
from plant.recording import recording
from plant.refusals import Missing
from plant.sitetime import today_at


@login_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def calendars(request: SheetRequest) -> HttpResponse:
    """The reader's feeds: make, renew, end. A secret address is shown once."""
    sites = {str(site.uuid): site for site in Site.objects.visible_to(request.user).order_by("name")}
    shown = ""
    if request.method == "POST":
        of = request.POST.get("of", "")
        if of and of not in sites:
            raise Missing()
        with recording(by=request.user, at=timezone.now()):
            if request.POST.get("act") == "end":
                for one in calendars_of(request.user).filter(site=sites.get(of)):
                    end_calendar(address=one)
                return redirect("calendars")
            _address, secret = renew_calendar(person=request.user, site=sites.get(of))
        shown = request.build_absolute_uri(reverse("calendar-feed", args=[secret]))
    kept = {one.site_id: one for one in calendars_of(request.user)}
    rows: list[dict[str, Any]] = [{"of": "", "name": _("Every site you read"), "kept": kept.get(None)}]
    rows += [{"of": key, "name": site.name, "kept": kept.get(site.pk)} for key, site in sites.items()]
    return render_sheet(request, "inspections/calendars.html", {"rows": rows, "shown": shown})


@require_safe
def feed(request: HttpRequest, secret: str) -> HttpResponse:
    """The feed behind a secret address; whoever has the address reads it, so it says nothing but what is due."""
    address = calendar_for(secret)
    if address is None:
        raise Http404
    now = timezone.now()
    today = today_at(address.site, now) if address.site is not None else now.date()
    # The stamp is that of the address: the bytes then change only when what they say changes.
    content = calendar_of(
        address.site.name if address.site is not None else _("Asleft: due"),
        *shown_in(address, today),
        address_of=lambda coupling: request.build_absolute_uri(reverse("coupling", args=[coupling.uuid])),
        at=address.made_at,
    )
    with recording(by=None, at=now):
        note_reading(address=address)
    tag = f'"{hashlib.sha256(content).hexdigest()[:32]}"'
    if request.headers.get("If-None-Match") == tag:
        return HttpResponseNotModified(headers={"ETag": tag})
    answer = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    answer["ETag"], answer["Cache-Control"] = tag, "private, max-age=900"
    answer["X-Robots-Tag"], answer["Referrer-Policy"] = "noindex", "no-referrer"
    answer["Content-Disposition"] = 'inline; filename="asleft.ics"'
    return answer
