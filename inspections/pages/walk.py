"""A walk past running machines: one screen per coupling, and the next by itself."""

from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from couplings.models import Coupling, Fit
from inspections.models import Visit
from inspections.selectors.passing import last_look
from inspections.selectors.walks import Walk, areas_to_walk, walk_of
from inspections.services.walks import look_in_passing
from inspections.steps import STEPS
from inspections.steps.passing import LOOKED, RUNNING_LOOK
from plant.access import may
from plant.pages.context import SheetRequest, render_sheet
from plant.pages.fields import problems_of, shown_groups
from plant.recording import recording
from plant.refusals import Missing, Refused


@require_safe
@login_required
def walks(request: SheetRequest) -> HttpResponse:
    """Which area to walk through."""
    return render_sheet(request, "inspections/walks.html", {"areas": list(areas_to_walk(request.user))})


@require_safe
@login_required
def walk(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """The next coupling of the walk that was not looked at today; at the end, what was found."""
    here = walk_of(request.user, uuid, timezone.now())
    if not here.left:
        return render_sheet(request, "inspections/walk_done.html", {"walk": here}, site=here.area.site)
    return _screen(request, here, here.left[0], {}, {})


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def walk_one(request: SheetRequest, uuid: UUID, coupling: UUID) -> HttpResponse:
    """One coupling of the walk: one press signs that it is as it was, another what differs.

    What is signed names its coupling, so that a second press cannot sign the next one.
    """
    here = walk_of(request.user, uuid, timezone.now())
    one = next((row for row in here.couplings if row.uuid == coupling), None)
    if one is None:
        raise Missing()
    if request.method != "POST":
        return _screen(request, here, one, {}, {})
    look = _look_at(one, here)
    names = {row.name for row in STEPS["running-look"].fields(look, {})}
    typed = {name: str(text) for name, text in request.POST.items() if name in names}
    try:
        with recording(by=request.user, at=timezone.now()):
            look_in_passing(coupling=one, fields=_whole(look, typed, "same" in request.POST))
    except Refused as refusal:
        errors = {name.removeprefix("fields."): said for name, said in refusal.as_dict().items()}
        return _screen(request, here, one, typed, errors)
    return redirect("walk", here.area.uuid)


def _whole(look: Visit, typed: dict[str, str], same: bool) -> dict[str, str]:
    """What is signed: what differs as typed, the rest of what was seen as last time."""
    given = {name: text for name, text in typed.items() if text.strip()}
    if given.get("not_measured"):
        return given
    offered = STEPS["running-look"].offers(look, {})[0].fields
    if same:
        # The one button says that what is seen is as before; figures read today are kept beside it.
        return {name: text for name, text in given.items() if name not in (*LOOKED, "odd")} | offered
    return {name: text for name, text in (offered | given).items() if text} if given else {}


def _look_at(one: Coupling, here: Walk) -> Visit:
    """The visit as it will be begun, for what its form asks."""
    fit = Fit.objects.filter(coupling=one, removed_on__isnull=True).select_related("sheet_version").first()
    assert fit is not None
    return Visit(
        site=here.area.site, coupling=one, fit=fit, sheet_version=fit.sheet_version, kind="running", on=here.on
    )


def _screen(
    request: SheetRequest, here: Walk, one: Coupling, typed: dict[str, str], errors: dict[str, str]
) -> HttpResponse:
    look = _look_at(one, here)
    fields = STEPS["running-look"].fields(look, typed)
    context = {
        "walk": here,
        "coupling": one,
        "place": here.place_of(one),
        "last": last_look(look),
        "offer": STEPS["running-look"].offers(look, {})[0],
        "caution": RUNNING_LOOK.caution,
        "groups": shown_groups(fields, typed, errors, here.area.site.units),
        "problems": problems_of(fields, errors),
        "differs": bool(errors or typed),
        "may_fill": may(request.user, "visit.fill", one.site) and may(request.user, "visit.sign", one.site),
    }
    return render_sheet(request, "inspections/walk.html", context, site=here.area.site, status=422 if errors else 200)
