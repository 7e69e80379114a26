"""One visit: its steps in the order of the work, each saved as typed; isolation; and what was signed."""

import json
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from couplings.calculations import rings
from couplings.calculations.picture import picture_of
from couplings.engineering.wear import DO_NOT_RUN
from couplings.selectors import instruments_at, limits_of
from inspections import rules
from inspections.models import Entry, HandOver, Visit
from inspections.pages.phone import pictures, survey_data
from inspections.pages.whatif import whatif_of
from inspections.pages.worker import kept_for
from inspections.selectors.hold_points import hold_points
from inspections.selectors.photos import photos_of, title_of
from inspections.selectors.summary import Summary, summary_of
from inspections.selectors.visits import StepState, draft_result, read_entry, steps_of, visit_for
from inspections.services import drafts, orders
from inspections.steps import STEPS
from inspections.steps.judging import Judged
from inspections.steps.upright import upright
from plant.access import may
from plant.pages.context import SheetRequest, render_sheet
from plant.pages.fields import id_of, problems_of, shown_groups
from plant.recording import recording
from plant.refusals import Missing, Refused

NOT_FIELDS = frozenset({"csrfmiddlewaretoken", "seen", "was", "compared", "as_sheet"})
STATES = {
    "open": _("nothing entered"),
    "begun": _("begun"),
    "complete": _("complete"),
    "excused": _("not measured, with reason"),
    "wrong": _("something to mend"),
    "spared": _("nothing to enter"),
}


@require_safe
@login_required
def visit(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """The steps of a draft; a signed visit shows its record instead."""
    here = visit_for(request.user, uuid)
    if here.state == Visit.State.SIGNED:
        return redirect("visit-record", here.uuid)
    return overview(request, here)


def overview(request: SheetRequest, here: Visit, errors: Mapping[str, str] | None = None, **more: Any) -> HttpResponse:
    """The page of a draft, with what was refused: `errors` of the isolation, `more` of what else stands there."""
    summary = summary_of(here)
    points = hold_points(here)
    rows = [
        {
            "state": state,
            "said": STATES[state.state],
            "why": state.step.why_spared(here) if state.state == "spared" else "",
            "verdicts": _verdicts(summary, state),
            "url": _step_url(here, state),
        }
        for state in summary.states
    ]
    rounds = [entry.number for entry in here.entries.all() if entry.step == "alignment"]
    context = {
        "visit": here,
        "coupling": here.coupling,
        "order": here.work_order,
        "rows": rows,
        "next_round": max(rounds, default=0) + 1 if STEPS["alignment"].asked(here) else 0,
        "stopped": here.kind in rules.STOPPED,
        "points": points,
        "waiting": len([one for one in points if one.witness is None]),
        "may_witness": may(request.user, "visit.witness", here.site),
        "photos": [(one, title_of(one)) for one in photos_of(here)],
        "photo_steps": [(state.key, state.title) for state in summary.states if state.applies and state.step.filled],
        "notes": list(HandOver.objects.filter(visit=here).select_related("by")),
        "crew": list(here.work_order.crew.all()) if here.work_order is not None else [],
        "may_fill": here.state == Visit.State.DRAFT and may(request.user, "visit.fill", here.site),
        "may_isolate": may(request.user, "order.isolate", here.site),
        "errors": errors or {},
        "problems": [{"id": f"f-{name}" if name else "", "message": said} for name, said in (errors or {}).items()],
        "permit": request.POST.get("permit", ""),
        "no_permit_reason": request.POST.get("no_permit_reason", ""),
        **more,
    }
    status = 422 if errors or more else 200
    return kept_for(request, render_sheet(request, "inspections/visit.html", context, site=here.site, status=status))


def _verdicts(summary: Summary, state: StepState) -> list[tuple[Entry, str | None]]:
    """What each survey of a step says so far."""
    if not state.step.surveys:
        return []
    return [
        (entry, judged.verdict if (judged := summary.judged.get((entry.step, entry.number))) is not None else None)
        for entry in state.entries
    ]


def _step_url(here: Visit, state: StepState) -> str:
    if state.key == "isolation":
        return reverse("visit", args=[here.uuid]) + "#isolation"
    if state.key == "signature":
        return reverse("visit-sign", args=[here.uuid])
    number = max((entry.number for entry in state.entries), default=1) if state.step.numbered else 0
    return step_url(here, state.key, number)


def step_url(here: Visit, step: str, number: int = 0) -> str:
    """Where a step of a visit is filled in."""
    if number:
        return reverse("visit-round", args=[here.uuid, step, number])
    return reverse("visit-step", args=[here.uuid, step])


@require_POST
@login_required
def isolation(request: SheetRequest, uuid: UUID, act: str) -> HttpResponse:
    """Isolate by permit or reason, say it was tried dead, or say it is off again."""
    here = visit_for(request.user, uuid)
    if here.work_order is None:
        raise Missing()
    try:
        with recording(by=request.user, at=timezone.now()):
            if act == "isolate":
                orders.isolate(
                    order=here.work_order,
                    permit=request.POST.get("permit", ""),
                    no_permit_reason=request.POST.get("no_permit_reason", ""),
                )
            elif act == "verify":
                orders.verify_isolation(order=here.work_order)
            elif act == "remove":
                orders.remove_isolation(order=here.work_order)
            else:
                raise Missing()
    except Refused as refusal:
        return overview(request, visit_for(request.user, uuid), refusal.as_dict())
    return redirect(reverse("visit", args=[here.uuid]) + "#isolation")


@require_POST
@login_required
def drop(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Give up a draft."""
    here = visit_for(request.user, uuid)
    with recording(by=request.user, at=timezone.now()):
        drafts.drop_visit(visit=here)
    return redirect("coupling", here.coupling.uuid)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def step(request: SheetRequest, uuid: UUID, key: str, number: int = 0) -> HttpResponse:
    """One step: a plain form, saved as typed; with htmx each field saves itself and the result follows."""
    here = visit_for(request.user, uuid)
    row = STEPS.get(key)
    if row is None or not row.filled or key == "signature" or row.numbered != bool(number):
        raise Missing()
    if not rules.asks(here.kind, key):
        raise Missing()
    if request.method != "POST":
        if here.state != Visit.State.DRAFT:
            return redirect("visit", here.uuid)
        return _step_page(request, here, key, number)
    changed, seen = _changed(request)
    pressed = _pressed(request, here, key, number)
    changed |= pressed
    try:
        with recording(by=request.user, at=timezone.now()):
            saved = drafts.save_entry(visit=here, step=key, number=number, fields=changed, seen=seen, keep_rest=True)
    except Refused as refusal:
        return _step_page(request, here, key, number, refused=refusal.as_dict(), unsaved=changed)
    here, clashes = visit_for(request.user, uuid), saved.clashes
    if request.htmx and "method" in changed:
        return HttpResponse(headers={"HX-Refresh": "true"})  # another method asks for other fields
    if clashes or request.htmx:
        return _step_page(request, here, key, number, clashes=clashes)
    entry = _entry(here, key, number)
    if entry is not None and entry.errors:
        return _step_page(request, here, key, number)
    if row.surveys or "compared" in request.POST or (pressed and not read_entry(here, key, number).complete):
        return redirect(step_url(here, key, number) + "#result")
    return redirect("visit", here.uuid)


def _changed(request: SheetRequest) -> tuple[dict[str, str], int]:
    """What this hand changed since the page was shown, and the version it was shown from."""
    try:
        was = json.loads(request.POST.get("was", "{}"))
        seen = int(request.POST.get("seen", "0"))
    except ValueError:
        was, seen = {}, 0
    given = {name: str(text) for name, text in request.POST.items() if name not in NOT_FIELDS}
    return {name: text for name, text in given.items() if text != was.get(name, "")}, seen


def _pressed(request: SheetRequest, here: Visit, key: str, number: int) -> dict[str, str]:
    """What the button that was pressed enters; nothing where it was the plain one."""
    name = request.POST.get("as_sheet", "")
    if not name:
        return {}
    entry = _entry(here, key, number)
    offers = STEPS[key].offers(here, entry.typed if entry is not None else {})
    return next((dict(one.fields) for one in offers if one.name == name), {})


def _entry(here: Visit, key: str, number: int) -> Entry | None:
    return next((one for one in here.entries.all() if (one.step, one.number) == (key, number)), None)


def _step_page(
    request: SheetRequest,
    here: Visit,
    key: str,
    number: int,
    *,
    clashes: Mapping[str, Any] | None = None,
    refused: Mapping[str, str] | None = None,
    unsaved: Mapping[str, str] | None = None,
) -> HttpResponse:
    row, entry, system = STEPS[key], _entry(here, key, number), here.site.units
    typed = dict(entry.typed) if entry is not None else _beginning(here, row.surveys)
    kept = dict(entry.typed) if entry is not None else {}
    typed |= dict(unsaved or {})
    read = read_entry(here, key, number) if entry is not None else None
    errors = {name.removeprefix("fields."): said for name, said in (refused or {}).items()}
    errors |= read.errors if read is not None else {}
    fields = row.fields(here, typed)
    method = typed.get("method", "")
    judged = draft_result(here, key, number) if row.surveys and entry is not None else None
    whatif = whatif_of(here, judged, request.GET.dict(), system) if judged is not None else None
    context = {
        "visit": here,
        "coupling": here.coupling,
        "order": here.work_order,
        "step": row,
        "number": number,
        "entry": entry,
        "was": json.dumps({one.name: kept.get(one.name, "") for one in fields}),
        "groups": shown_groups(
            fields,
            typed,
            errors,
            system,
            instruments_for(request.user, here),
            rings(method, typed, system) if method and row.surveys else {},
            pictures=pictures(method, typed) if row.surveys else {},
        ),
        "script_data": survey_data(request.user, here, key, number, typed, judged)
        if row.surveys and not request.htmx
        else None,
        "problems": problems_of(fields, errors),
        "missing": problems_of(fields, read.missing) if read is not None else [],
        "stop": DO_NOT_RUN if read is not None and DO_NOT_RUN in read.warnings else "",
        "warnings": [one for one in read.warnings if one != DO_NOT_RUN] if read is not None else [],
        "findings": read.found if read is not None else [],
        "notes": read.notes if read is not None else [],
        "excused": read.excused if read is not None and read.complete else "",
        "judged": judged,
        "advice": judged.feet if judged is not None else (),
        "picture": _picture(here, judged, system) if judged is not None and not judged.surveyed.compass else None,
        "compass": upright(here.coupling),
        "whatif": whatif,
        "clashes": _clashes(fields, clashes or {}),
        "next": _next(here, key, number),
        "told": row.tells(here, typed),
        "offers": row.offers(here, typed),
        "isolation_stands": here.from_paper
        or (here.work_order is not None and here.work_order.verified_at is not None),
        "url": step_url(here, key, number),
    }
    status = 412 if clashes else 422 if errors or (whatif and whatif["problems"]) else 200
    if not request.htmx:
        return kept_for(request, render_sheet(request, "inspections/step.html", context, site=here.site, status=status))
    # The page keeps its fields; it is told what it now shows and what others entered meanwhile.
    shows = {name: str(text) for name, text in request.POST.items() if name not in NOT_FIELDS}
    known = {name: text for name, text in shows.items() if name not in (clashes or {})}
    # What was refused is not kept yet: it has to differ from what was, so that the next save sends it again.
    context["was"] = json.dumps(known | {name: kept.get(name, "") for name in unsaved or {}})
    answer = render_sheet(request, "inspections/step.html#live", context, site=here.site, status=status)
    others = {
        id_of(name): text
        for name, text in kept.items()
        if name in shows and shows[name] != text and name not in (clashes or {}) and name not in (unsaved or {})
    }
    if others:
        answer["HX-Trigger-After-Swap"] = json.dumps({"asleft:entered": others})
    return answer


def _beginning(here: Visit, surveys: bool) -> dict[str, str]:
    """A new round is read as the last one was: method, who stood still, from where, and where the dials sit."""
    if not surveys:
        return {}
    earlier = [one for one in here.entries.all() if STEPS[one.step].surveys and one.typed.get("method")]
    if not earlier:
        return {}
    last = max(earlier, key=lambda one: one.at)
    same = ("method", "stationary", "viewed_from")
    places = (
        ".x",
        ".swing_radius",
        ".distance",
        ".sag",
        ".sag_u",
        ".u",
        ".half",
        ".surface",
        ".carried_by",
        ".instrument",
    )
    return {
        name: text
        for name, text in last.typed.items()
        if name in same or name.endswith(places) or name.startswith("feet")
    }


def instruments_for(person: Any, here: Visit) -> list[tuple[str, str]]:
    """Instruments of the visit's site as a field offers them."""
    return [(str(one.uuid), f"{one.get_kind_display()}: {one}") for one in instruments_at(person, here.site)]


def _picture(here: Visit, judged: Judged, system: str) -> Any:
    names = {"driver": here.coupling.driver_machine.name, "driven": here.coupling.driven_machine.name}
    stationary = judged.surveyed.stationary
    return picture_of(
        judged.misalignment,
        judged.target,
        judged.flex_planes_mm,
        limits_of(here.coupling, here.sheet_version).limits,
        [one.move for one in judged.feet],
        stationary=names[stationary],
        movable=names[judged.surveyed.movable],
        system=system,
    )


def _clashes(fields: list[Any], clashes: Mapping[str, Any]) -> list[dict[str, Any]]:
    labels = {one.name: f"{one.group}, {one.label}" if one.group else one.label for one in fields}
    return [{"name": name, "label": labels.get(name, name), **both} for name, both in clashes.items()]


def _next(here: Visit, key: str, number: int) -> dict[str, str]:
    """The step after this one that has something to enter."""
    keys = [state.key for state in steps_of(here) if state.applies and state.step.filled and state.key != "isolation"]
    following = keys[keys.index(key) + 1] if key in keys and keys.index(key) + 1 < len(keys) else "signature"
    if following == "signature":
        return {"title": STEPS["signature"].title, "url": reverse("visit-sign", args=[here.uuid])}
    return {
        "title": STEPS[following].title,
        "url": step_url(here, following, 1 if STEPS[following].numbered else 0),
    }
