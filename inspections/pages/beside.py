"""What others add to a visit: a witness at a hold point, a note to the next shift, the run-up accepted later."""

from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from inspections.models import Visit
from inspections.pages.visit import overview
from inspections.selectors.visits import visit_for
from inspections.services.runups import accept_run_up
from inspections.services.witnessing import hand_over, witness_step
from inspections.steps.runup import RUN_UP
from plant.access import may
from plant.pages.context import SheetRequest, render_sheet
from plant.pages.fields import problems_of, shown_groups
from plant.recording import recording
from plant.refusals import Refused


@require_POST
@login_required
def witness(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Say that one looked on at a hold point."""
    here = visit_for(request.user, uuid)
    step, what = request.POST.get("step", ""), request.POST.get("what", "")
    try:
        with recording(by=request.user, at=timezone.now()):
            witness_step(visit=here, step=step, what=what)
    except Refused as refusal:
        return overview(request, visit_for(request.user, uuid), witness_refused=refusal.sentence)
    return redirect(reverse("visit", args=[here.uuid]) + "#points")


@require_POST
@login_required
def note(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Leave a note for the next shift."""
    here = visit_for(request.user, uuid)
    text, to = request.POST.get("text", ""), request.POST.get("to", "")
    try:
        with recording(by=request.user, at=timezone.now()):
            hand_over(visit=here, text=text, to=to)
    except Refused as refusal:
        errors = refusal.as_dict()
        errors = {"text": errors.pop("", "")} | errors if "" in errors else errors
        return overview(request, visit_for(request.user, uuid), note_errors=errors, note_text=text, note_to=to)
    return redirect(reverse("visit", args=[here.uuid]) + "#notes")


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def run_up(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """What the machine did when it ran up, and whether that is accepted."""
    here = visit_for(request.user, uuid)
    if here.state != Visit.State.SIGNED:
        return redirect("visit", here.uuid)
    typed: dict[str, str] = {}
    errors: dict[str, str] = {}
    if request.method == "POST":
        names = {row.name for row in RUN_UP.fields(here, {})}
        typed = {name: str(text) for name, text in request.POST.items() if name in names}
        try:
            with recording(by=request.user, at=timezone.now()):
                accept_run_up(visit=here, fields=typed)
            return redirect("visit-record", here.uuid)
        except Refused as refusal:
            errors = {name.removeprefix("fields."): said for name, said in refusal.as_dict().items()}
    fields = RUN_UP.fields(here, typed)
    context = {
        "visit": here,
        "coupling": here.coupling,
        "order": here.work_order,
        "caution": RUN_UP.caution,
        "groups": shown_groups(fields, typed, errors, here.site.units),
        "problems": problems_of(fields, errors),
        "may_accept": may(request.user, "visit.accept", here.site),
    }
    return render_sheet(request, "inspections/run_up.html", context, site=here.site, status=422 if errors else 200)
