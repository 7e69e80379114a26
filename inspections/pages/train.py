"""Trains by their history: a list with a small line for each coupling, a page with all that drift says of one."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from inspections.models import Leg
from inspections.pages.history_lines import small_lines
from inspections.pages.train_parts import WAYS, parts_of
from inspections.selectors.drift import legs_visible_to
from inspections.selectors.train_drift import couplings_on, couplings_to_read, train_for
from inspections.services import drift
from inspections.train_words import heading
from plant import units
from plant.access import may
from plant.models import Area, Site, Train
from plant.pages.context import SheetRequest, of_site, own_site, render_sheet
from plant.recording import recording
from plant.refusals import Missing, Refused
from plant.sitetime import today_at

ON_A_PAGE = 50


@require_safe
@login_required
def trains(request: SheetRequest) -> HttpResponse:
    """Every coupling in service by area and train, its history small, on one scale."""
    sites = list(Site.objects.visible_to(request.user).order_by("name"))
    site = next((one for one in sites if str(one.uuid) == request.GET.get("site")), own_site(request))
    if site is None:
        return render_sheet(request, "inspections/trains.html", {"sites": []})
    today = today_at(site, timezone.now())
    areas = list(Area.objects.visible_to(request.user).filter(site=site).order_by("name"))
    area = next((one for one in areas if str(one.uuid) == request.GET.get("area")), None)
    order = request.GET.get("sort", "")
    page = Paginator(couplings_to_read(request.user, site, area, order), ON_A_PAGE).get_page(request.GET.get("page"))
    lines = small_lines(page.object_list, today)
    context = {
        "rows": [(one, lines[one.pk]) for one in page.object_list],
        "page": page,
        "sites": sites,
        "areas": areas,
        "area": area,
        "sort": order,
        **of_site(site),
    }
    return render_sheet(request, "inspections/trains.html", context, site=site)


@require_safe
@login_required
def train(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """What moves, in words; history and forecast; what lies behind them."""
    return train_page(request, train_for(request.user, uuid))


@require_POST
@login_required
def leave_out(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Leave a stretch between two visits out of the forecast, with the reason."""

    def act(leg: Leg, seen: int | None) -> None:
        drift.leave_out(leg=leg, reason=request.POST.get("reason", ""), expected=seen)

    return _done(request, uuid, act)


@require_POST
@login_required
def count_again(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Take one back into the forecast."""
    return _done(request, uuid, lambda leg, seen: drift.count_again(leg=leg, expected=seen))


def _done(request: SheetRequest, uuid: UUID, act: Callable[[Leg, int | None], Any]) -> HttpResponse:
    leg = legs_visible_to(request.user).filter(uuid=uuid).select_related("coupling__train").first()
    if leg is None:
        raise Missing()
    seen = request.POST.get("seen", "")
    try:
        with recording(by=request.user, at=timezone.now()):
            act(leg, int(seen) if seen.isdigit() else None)
    except Refused as refusal:
        here = train_for(request.user, leg.coupling.train.uuid)
        refused = {"of": leg.uuid, "said": refusal.as_dict(), "reason": request.POST.get("reason", "")}
        return train_page(request, here, refused=refused, status=422)
    return redirect(reverse("train", args=[leg.coupling.train.uuid]) + f"#legs-{leg.coupling.uuid}")


def train_page(
    request: SheetRequest, here: Train, *, refused: dict[str, Any] | None = None, status: int = 200
) -> HttpResponse:
    """The page of one train; `refused` is what leaving a stretch out was refused for."""
    today = today_at(here.site, timezone.now())
    parts = parts_of(request.user, couplings_on(request.user, here), request.GET.dict(), today)
    wrong = any(part.look.get("error") or part.trial.get("error") for part in parts)
    context = {
        "train": here,
        "headline": heading(here.tag, [(part.view, part.past) for part in parts]),
        "parts": parts,
        "several": len(parts) > 1,
        "may_leave_out": may(request.user, "leg.write", here.site),
        "refused": refused or {},
        "gap_unit": units.label_of("gap", here.site.units),
        "ways": [(way, words) for way, words in zip(WAYS, (_("up"), _("down"), _("right"), _("left")), strict=True)],
    }
    if wrong and status == 200:
        status = 422
    return render_sheet(request, "inspections/train.html", context, site=here.site, status=status)
