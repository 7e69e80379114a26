"""PDFs: the certificate of a signed visit, the job card of a coupling, labels for guards."""

from collections.abc import Callable
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from couplings.models import Coupling
from couplings.selectors import coupling_for, couplings_visible_to
from inspections.models import Visit
from inspections.prints import certificate, job_cards, labels
from inspections.prints.jobcard import Job
from inspections.prints.words import paper_of
from inspections.selectors.checks import open_checks
from inspections.selectors.orders import open_orders
from inspections.selectors.visits import visit_for
from plant.pages.context import SheetRequest, own_site, render_sheet
from plant.refusals import Missing

MOST_LABELS = 300


def as_pdf(content: bytes, name: str) -> HttpResponse:
    """Shown by the browser, and saved under a name that says what it is."""
    answer = HttpResponse(content, content_type="application/pdf")
    safe = "".join(letter if letter.isascii() and (letter.isalnum() or letter in "-_.") else "-" for letter in name)
    answer["Content-Disposition"] = f'inline; filename="{safe}.pdf"'
    return answer


def address_of(request: HttpRequest) -> Callable[[Coupling], str]:
    """The whole address of a coupling's page, as the label and the card carry it."""
    return lambda coupling: request.build_absolute_uri(reverse("coupling", args=[coupling.uuid]))


@require_safe
@login_required
def visit_certificate(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """The as-left certificate; a draft has none yet."""
    here = visit_for(request.user, uuid)
    if here.state != Visit.State.SIGNED:
        return redirect("visit", here.uuid)
    address = request.build_absolute_uri(reverse("visit-record", args=[here.uuid]))
    return as_pdf(certificate(here, address=address), f"as-left-{here.coupling.tag}-{here.on:%Y-%m-%d}")


@require_safe
@login_required
def coupling_job_card(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """One coupling: its open checks, and the order that stands open at its train if it is the only one."""
    here = coupling_for(request.user, uuid)
    orders = list(open_orders(here.train)[:2])
    job = Job(here, list(open_checks(here)), orders[0] if len(orders) == 1 else None)
    card = job_cards([job], address_of=address_of(request), at=timezone.now())
    return as_pdf(card, f"job-card-{here.tag}")


@require_safe
@login_required
def coupling_labels(request: SheetRequest) -> HttpResponse:
    """Labels with QR codes for one coupling, an area or the whole site."""
    found = couplings_visible_to(request.user).filter(retired_on__isnull=True)
    if one := request.GET.get("coupling"):
        found = found.filter(uuid=_uuid(one))
    elif area := request.GET.get("area"):
        found = found.filter(train__area__uuid=_uuid(area))
    elif (site := own_site(request)) is not None:
        found = found.filter(site=site)
    rows = list(found.order_by("site", "train__area__name", "tag")[: MOST_LABELS + 1])
    if not rows or len(rows) > MOST_LABELS:
        said = _("There is no coupling here to label.") if not rows else _(
            "More than %(n)s couplings: print the labels area by area."
        ) % {"n": MOST_LABELS}  # fmt: skip
        return render_sheet(request, "inspections/no_print.html", {"said": said}, status=404 if not rows else 422)
    sheet = labels(rows, paper=paper_of(rows[0].site), address_of=address_of(request))
    return as_pdf(sheet, "labels")


def _uuid(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        raise Missing() from None
