"""Flags that are open, by age and kind, with who owns each and its evidence one click away."""

from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_POST, require_safe

from inspections.models import Flag, SavedList
from inspections.pages.due import asked_site
from inspections.pages.history_lines import ABOUT_ALIGNMENT, history_of, small_lines
from inspections.reasons import check_sentence, flag_sentence
from inspections.selectors.flaglists import (
    chosen_flags,
    flags_asked,
    flags_asked_for,
    kinds_open,
    owners_of,
    person_of,
    today_of,
)
from inspections.services import flags as services
from plant import access
from plant.models import Area, Site
from plant.pages.context import SheetRequest, render_sheet
from plant.pages.exported import exported
from plant.recording import recording
from plant.refusals import Missing, NotAllowed, Refused
from plant.sitetime import today_at
from plant.words import span

ON_A_PAGE = 50
KEYS = ("site", "area", "kind", "owner", "age")
OWNERS = {"me": gettext_lazy("me"), "nobody": gettext_lazy("nobody"), "others": gettext_lazy("somebody else")}
AGES = {
    "week": gettext_lazy("for a week or longer"),
    "month": gettext_lazy("for a month or longer"),
    "quarter": gettext_lazy("for three months or longer"),
}


@require_safe
@login_required
def flags(request: SheetRequest) -> HttpResponse:
    """The longest open first; the choice stands in the address."""
    return flags_page(request)


@require_POST
@login_required
def flags_chosen(request: SheetRequest) -> HttpResponse:
    """Own or acknowledge every flag ticked; what was refused comes back with its ticks and its reason."""
    uuids = request.POST.getlist("row")[:ON_A_PAGE]
    found = chosen_flags(request.user, uuids)
    act = request.POST.get("act", "")
    try:
        if act not in ("own", "seen"):
            raise Missing()
        if not found:
            raise Refused(_("Tick the flags first, then say what is to be done with them."))
        if len(found) < len(set(uuids)):
            raise Refused(_("Some of them are cleared in the meantime, or are not there: look at the list again."))
        with recording(by=request.user, at=timezone.now()):
            said = _owned(request, found) if act == "own" else _seen(found)
    except Refused as refusal:
        problems = [
            {
                "id": "chosen-owner" if name == "owner" else "",
                "label": _("Dealt with by") if name else "",
                "message": why,
            }
            for name, why in refusal.as_dict().items()
        ]
        return flags_page(request, picked=frozenset(uuids), problems=problems, status=refusal.status)
    messages.success(request, said)
    query = query_of(request)
    return redirect(reverse("flags") + (f"?{query}" if query else ""))


def _owned(request: SheetRequest, found: list[Flag]) -> str:
    given = request.POST.get("owner", "")
    owner = None
    if given:
        owner = person_of(owners_of(found), given)
        if owner is None:
            raise Refused({"owner": _("Choose somebody who has a role at the sites of all of them.")})
    for flag in found:
        services.own_flag(flag=flag, owner=owner)
    n = len(found)
    if owner is None:
        return ngettext("Nobody deals with one flag any more.", "Nobody deals with %(n)s flags any more.", n) % {"n": n}
    said = ngettext("%(who)s deals with one flag.", "%(who)s deals with %(n)s flags.", n)
    return said % {"n": n, "who": owner}


def _seen(found: list[Flag]) -> str:
    """Those that somebody has seen before stay as they are: who saw them first is kept."""
    fresh = [flag for flag in found if flag.acknowledged_at is None]
    if not fresh:
        raise Refused(_("Somebody has seen all of them already."))
    for flag in fresh:
        services.acknowledge_flag(flag=flag)
    n = len(fresh)
    return ngettext("One flag is marked as seen.", "%(n)s flags are marked as seen.", n) % {"n": n}


def query_of(request: SheetRequest) -> str:
    """The part of the address that says what is asked, without the page of it."""
    return urlencode([(key, request.GET[key]) for key in KEYS if request.GET.get(key)])


def flags_page(
    request: SheetRequest,
    *,
    picked: frozenset[str] = frozenset(),
    problems: list[dict[str, str]] | None = None,
    status: int = 200,
) -> HttpResponse:
    """The list, with what was ticked where a batch was refused."""
    now = timezone.now()
    asked = flags_asked_for(request.user, request.GET)
    rows = flags_asked(request.user, asked, now)
    page = Paginator(rows, ON_A_PAGE).get_page(request.GET.get("page"))
    kinds = dict(Flag.Kind.choices)
    count = page.paginator.count
    context: dict[str, Any] = {
        "page": page,
        "rows": _rows(page.object_list, now, today_at(asked.site, now) if asked.site is not None else now.date()),
        "asked": asked,
        "kinds": [(key, kinds.get(key, key), n, free) for key, n, free in kinds_open(request.user, asked.site)],
        "kind_choices": Flag.Kind.choices,
        "owners": OWNERS,
        "ages": AGES,
        "sites": list(Site.objects.visible_to(request.user).order_by("name")),
        "areas": list(Area.objects.visible_to(request.user).filter(site=asked.site)) if asked.site else [],
        "query": query_of(request),
        "may_handle": bool(access.sites_where(request.user, "flag.handle")),
        "people": list(owners_of(page.object_list)),
        "picked": picked,
        "problems": problems or [],
        "lists": list(SavedList.objects.filter(person=request.user, page=SavedList.Page.FLAGS)),
        "may_export": bool(access.sites_where(request.user, "export")),
        "headline": ngettext("One flag is open", "%(n)s flags are open", count) % {"n": count}
        if count
        else _("No flag is open"),
    }
    return render_sheet(request, "inspections/flags.html", context, site=asked.site, status=status)


@require_safe
@login_required
def flags_export(request: SheetRequest, form: str) -> HttpResponseBase:
    """The same rows as a file, of the sites where the reader may take lists away."""
    now = timezone.now()
    asked = flags_asked_for(request.user, request.GET)
    allowed = access.sites_where(request.user, "export")
    elsewhere = asked.site is not None and asked.site.pk not in allowed
    if not request.user.sees_everything and (not allowed or elsewhere):
        raise NotAllowed(_("Your role does not let you take a list away as a file."))
    rows = flags_asked(request.user, asked, now)
    rows = rows if request.user.sees_everything else rows.filter(site_id__in=allowed)
    lines = (
        [
            flag.coupling.tag, flag.coupling.train.area.name, flag.site.name, str(flag.get_kind_display()),
            flag.opened_at, (now - flag.opened_at).days, str(flag.owner or ""), flag_sentence(flag, flag.site.units),
            str(flag.uuid),
        ]
        for flag in rows.iterator(chunk_size=500)
    )  # fmt: skip
    heads = ("coupling", "area", "site", "flag", "opened (UTC)", "days open", "owner", "why", "id")
    return exported(
        request, form, f"flags-{now:%Y-%m-%d}", heads, lines, site=asked.site, note=f"flags, {rows.count()} open"
    )


@require_safe
@login_required
def today(request: SheetRequest) -> HttpResponse:
    """For the mechanic, on a phone: go on with what was begun, who goes where, what is due here this week."""
    site = asked_site(request)
    context: dict[str, Any] = {"sites": list(Site.objects.visible_to(request.user).order_by("name"))}
    if site is None:
        return render_sheet(request, "inspections/today.html", context)
    now = timezone.now()
    mine = today_of(request.user, site, today_at(site, now))
    begun = len(mine.visits)
    context |= {
        "mine": mine,
        "checks": [(check, check_sentence(check, site.units)) for check in mine.checks],
        "flags": [_shown(flag, now) for flag in mine.flags],
        "headline": ngettext("One visit of yours is not signed", "%(n)s visits of yours are not signed", begun)
        % {"n": begun}
        if begun
        else _("Nothing of yours waits for a signature"),
    }
    return render_sheet(request, "inspections/today.html", context, site=site)


def _rows(flags: Any, now: Any, today: date) -> list[dict[str, Any]]:
    """Flags as a list prints them; those that a history says more of with its small line."""
    about = [flag for flag in flags if flag.kind in ABOUT_ALIGNMENT]
    lines = small_lines([flag.coupling for flag in about], today)
    return [
        _shown(flag, now) | {"line": lines[flag.coupling_id] if flag.kind in ABOUT_ALIGNMENT else ""} for flag in flags
    ]


def _shown(flag: Flag, now: Any) -> dict[str, Any]:
    evidence = flag.evidence.get("visit") if isinstance(flag.evidence, dict) else None
    return {
        "flag": flag,
        "why": flag_sentence(flag, flag.site.units),
        "open_for": span(max(0, (now - flag.opened_at).days)),
        "evidence": evidence,
        "history": history_of(flag.kind, flag.coupling),
    }
