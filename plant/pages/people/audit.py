"""What happened at the door, for the keeper: searched by person and by kind."""

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from plant.models import AuditEntry
from plant.pages.context import SheetRequest, render_sheet
from plant.pages.people.register import sites_kept
from plant.selectors.audit import audit_matching


@require_safe
@login_required
def audit(request: SheetRequest) -> HttpResponse:
    sites_kept(request.user)
    kind = request.GET.get("kind", "") if request.GET.get("kind") in AuditEntry.Kind.values else ""
    text = request.GET.get("q", "").strip()[:100]
    page = Paginator(audit_matching(request.user, text=text, kind=kind), 50).get_page(request.GET.get("page"))
    count = page.paginator.count
    context = {
        "headline": ngettext("One entry", "%(n)s entries", count) % {"n": count},
        "page": page,
        "kinds": AuditEntry.Kind.choices,
        "kind": kind,
        "text": text,
    }
    return render_sheet(request, "plant/people/audit.html", context)
