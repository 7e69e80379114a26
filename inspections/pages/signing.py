"""Looking a visit over and signing it; the signed record; amending it."""

import json
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from inspections import rules
from inspections.models import HandOver, RunUp, Visit, Witness
from inspections.pages.visit import instruments_for, step_url
from inspections.selectors.comparison import changes_of
from inspections.selectors.hold_points import typed_version
from inspections.selectors.photos import photos_of, title_of
from inspections.selectors.summary import Summary, summary_of
from inspections.selectors.surveys import lines_of
from inspections.selectors.visits import machine_facts, surveys_of, visit_for
from inspections.selectors.wear import wear_facts
from inspections.services.amendments import NOT_AMENDED, amend_visit
from inspections.services.signing import sign_visit
from inspections.steps import STEPS
from plant.access import may
from plant.pages.context import SheetRequest, render_sheet
from plant.pages.fields import id_of, problems_of, shown_groups
from plant.recording import recording
from plant.refusals import Missing, Refused


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def sign(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """What is missing, what is out, and the signature."""
    here = visit_for(request.user, uuid)
    if here.state != Visit.State.DRAFT:
        if request.method == "POST" and here.state == Visit.State.SIGNED and here.signed_by != request.user:
            messages.info(
                request, _("%(by)s was faster and signed it; nothing was signed twice.") % {"by": here.signed_by}
            )
        return redirect("visit", here.uuid)
    if request.method == "POST":
        seen, typed = request.POST.get("seen", ""), request.POST.get("typed", "")
        try:
            with recording(by=request.user, at=timezone.now()):
                sign_visit(
                    visit=here,
                    left_so_reason=request.POST.get("left_so_reason", ""),
                    expected=int(seen) if seen.isdigit() else None,
                    typed_at=int(typed) if typed.isdigit() else None,
                )
            return redirect("visit-record", here.uuid)
        except Refused as refusal:
            return _sign_page(request, visit_for(request.user, uuid), refusal.as_dict())
    return _sign_page(request, here, {})


def _sign_page(request: SheetRequest, here: Visit, errors: dict[str, str]) -> HttpResponse:
    summary = summary_of(here)
    left = summary.judged.get(summary.as_left) if summary.as_left is not None else None
    reason = request.POST.get("left_so_reason", "")
    wanting = {one.field for one in summary.missing}
    context = {
        "visit": here,
        "coupling": here.coupling,
        "order": here.work_order,
        "summary": summary,
        "missing": _missing(here, summary),
        "left": left,
        "asks_left": STEPS["as-left"].asked(here),
        "reason": reason,
        "reason_error": errors.get("left_so_reason", ""),
        "others": [said for name, said in errors.items() if name != "left_so_reason" and name not in wanting],
        "typed_version": typed_version(here),
        "may_sign": may(request.user, "visit.sign", here.site),
    }
    return render_sheet(request, "inspections/sign.html", context, site=here.site, status=422 if errors else 200)


def _missing(here: Visit, summary: Summary) -> list[dict[str, str]]:
    found = []
    for one in summary.missing:
        if one.step == "isolation":
            url = reverse("visit", args=[here.uuid]) + "#isolation"
        elif one.step == "signature":
            url = "#f-left_so_reason"
        else:
            url = step_url(here, one.step, one.number or (1 if STEPS[one.step].numbered else 0))
            url += f"#{id_of(one.name)}" if one.name else ""
        title = STEPS[one.step].title + (f", round {one.number}" if one.number else "")
        found.append({"url": url, "title": title, "sentence": one.sentence})
    return found


@require_safe
@login_required
def record(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """What was signed, its place in the chain, and every amendment beside it."""
    here = visit_for(request.user, uuid)
    if here.state != Visit.State.SIGNED:
        return redirect("visit", here.uuid)
    return record_page(request, here)


def record_page(request: SheetRequest, here: Visit, **refused: Any) -> HttpResponse:
    """The page of a signed visit; `refused` is what was wrong with a photo added to it."""
    surveys = [(survey, survey.result, lines_of(survey.result)) for survey in surveys_of(here)]
    left = next((row for row in surveys if row[0].as_left), None)
    assert here.record is not None
    photos = photos_of(here)
    run_ups = list(RunUp.objects.filter(visit=here).select_related("record__signed_by").order_by("record__number"))
    context = {
        "visit": here,
        "coupling": here.coupling,
        "order": here.work_order,
        "surveys": surveys,
        "compass": any(row[0].positions for row in surveys),
        "left": left,
        "asks_left": STEPS["as-left"].asked(here),
        "excused": _excused(here),
        "photos": [(one, title_of(one)) for one in photos if not one.after_signing],
        "added": [(one, title_of(one)) for one in photos if one.after_signing],
        "may_add_photo": may(request.user, "visit.fill", here.site),
        "photo_steps": [(key, row.title) for key, row in STEPS.items() if row.filled and row.asked(here)],
        "runs_up": here.kind in rules.STOPPED,
        "run_ups": run_ups,
        "waits_for_run_up": may(request.user, "visit.accept", here.site) and not any(one.settles for one in run_ups),
        "witnesses": list(Witness.objects.filter(visit=here).select_related("by")),
        "notes": list(HandOver.objects.filter(visit=here).select_related("by")),
        "placement": here.record.placements.first(),
        "set_screws": here.record.setscrews.all(),
        "torques": here.record.torques.select_related("instrument"),
        "element": here.record.elementfacts.first(),
        "machine": machine_facts(here.record),
        **wear_facts(here.record),
        "records": [
            (one, changes_of(one, here, here.site.units))
            for one in here.records.select_related("signed_by", "amends").order_by("number")
        ],
        "amendable": [
            {"title": title, "url": reverse("visit-amend", args=[here.uuid, name])}
            for name, title in _amendable(here).items()
        ]
        if may(request.user, "visit.amend", here.site)
        else [],
        **refused,
    }
    return render_sheet(request, "inspections/record.html", context, site=here.site, status=422 if refused else 200)


def _excused(here: Visit) -> list[tuple[str, str]]:
    """Steps that were not done or measured, with the reason that was signed."""
    return [
        (STEPS[name.partition(".")[0]].title, fields["not_measured"])
        for name, fields in _typed(here).items()
        if fields.get("not_measured", "").strip() and name.partition(".")[0] in STEPS
    ]


def _typed(here: Visit) -> dict[str, dict[str, str]]:
    assert here.record is not None
    rows = json.loads(here.record.text)["steps"]
    return {f"{one['step']}.{one['number']}" if one["number"] else one["step"]: dict(one["typed"]) for one in rows}


def _amendable(here: Visit) -> dict[str, str]:
    """Steps that can be replaced, by name, those typed before with their rounds."""
    found: dict[str, str] = {}
    for key, row in STEPS.items():
        if key in NOT_AMENDED or not row.asked(here):
            continue
        if row.numbered:
            rounds = sorted(int(name.partition(".")[2]) for name in _typed(here) if name.startswith(f"{key}."))
            found |= {f"{key}.{number}": f"{row.title}, round {number}" for number in rounds}
        else:
            found[key] = row.title
    return found


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def amend(request: SheetRequest, uuid: UUID, name: str) -> HttpResponse:
    """Replace one whole step of a signed visit, with the reason; the old text stands beside the new."""
    here = visit_for(request.user, uuid)
    titles = _amendable(here) if here.state == Visit.State.SIGNED else {}
    if name not in titles or not may(request.user, "visit.amend", here.site):
        raise Missing()
    typed, errors = _typed(here).get(name, {}), {}
    if request.method == "POST":
        given = {field: text for field, text in request.POST.items() if field.startswith("step:")}
        typed = {field.removeprefix("step:"): str(text) for field, text in given.items()}
        try:
            with recording(by=request.user, at=timezone.now()):
                amend_visit(
                    visit=here,
                    steps={name: typed},
                    reason=request.POST.get("reason", ""),
                    left_so_reason=request.POST.get("left_so_reason", ""),
                )
            return redirect("visit-record", here.uuid)
        except Refused as refusal:
            errors = {field.removeprefix(f"steps.{name}.").removeprefix("fields."): said
                      for field, said in refusal.as_dict().items()}  # fmt: skip
    return _amend_page(request, here, name, titles[name], typed, errors)


def _amend_page(
    request: SheetRequest, here: Visit, name: str, title: str, typed: dict[str, str], errors: dict[str, str]
) -> HttpResponse:
    fields = STEPS[name.partition(".")[0]].fields(here, typed)
    context: dict[str, Any] = {
        "visit": here,
        "coupling": here.coupling,
        "order": here.work_order,
        "title": title,
        "groups": shown_groups(
            fields, typed, errors, here.site.units, instruments_for(request.user, here), prefix="step:"
        ),
        "problems": problems_of(fields, errors),
        "reason": request.POST.get("reason", ""),
        "reason_error": errors.get("reason", ""),
        "left_so_reason": request.POST.get("left_so_reason", here.left_so_reason),
        "left_so_error": errors.get("left_so_reason", ""),
    }
    return render_sheet(request, "inspections/amend.html", context, site=here.site, status=422 if errors else 200)
