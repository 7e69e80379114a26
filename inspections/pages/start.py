"""The first page: find a coupling by its tag, go on with what was begun, see what today asks for."""

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from couplings.selectors import couplings_matching, couplings_visible_to
from inspections.selectors.checks import checks_due
from inspections.selectors.trains import trains_lately
from inspections.selectors.visits import drafts_of
from plant.pages.context import SheetRequest, own_site, render_sheet
from plant.sitetime import today_at

FOUND_AT_MOST = 20
TRAINS_AT_MOST = 5


@require_safe
@login_required
def start(request: SheetRequest) -> HttpResponse:
    """Search by three letters of the tag; below it my unfinished visits and how much is due."""
    text = request.GET.get("q", "").strip()
    found = list(couplings_matching(request.user, text)[: FOUND_AT_MOST + 1]) if text else []
    site = own_site(request)
    today = today_at(site, timezone.now()) if site else None
    context = {
        "text": text,
        "found": found[:FOUND_AT_MOST],
        "more": len(found) > FOUND_AT_MOST,
        "drafts": list(drafts_of(request.user)[:10]),
        "trains": trains_lately(request.user, TRAINS_AT_MOST),
        "overdue": checks_due(request.user, today, overdue_only=True).count() if today else 0,
    }
    if request.htmx and not request.htmx.history_restore_request:
        return render_sheet(request, "inspections/start.html#found", context)
    return render_sheet(request, "inspections/start.html", context)


@require_safe
@login_required
def couplings(request: SheetRequest) -> HttpResponse:
    """Every coupling the reader may see, by tag."""
    from django.core.paginator import Paginator

    text = request.GET.get("q", "").strip()
    page = Paginator(
        (couplings_matching(request.user, text) if text else couplings_visible_to(request.user)), 50
    ).get_page(request.GET.get("page"))
    context = {"page": page, "text": text, "found": page.object_list}
    return render_sheet(request, "inspections/couplings.html", context)
