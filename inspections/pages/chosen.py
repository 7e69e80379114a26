"""What is done with the checks ticked on the due list: a week, job cards, a work order."""

from collections.abc import Callable
from datetime import date

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from inspections.drift_words import looked_sentence
from inspections.models import Check
from inspections.pages.due import due_page, query_of, week_words
from inspections.pages.prints import address_of, as_pdf
from inspections.prints import job_cards
from inspections.prints.jobcard import Job
from inspections.selectors.drift import look_at
from inspections.selectors.due import chosen_checks
from inspections.selectors.orders import only_open_orders
from inspections.services.deferral import defer_check
from inspections.services.orders import open_order
from inspections.services.weeks import put_in_week
from plant.access import require
from plant.pages.context import SheetRequest
from plant.recording import recording
from plant.refusals import Missing, Refused
from plant.words import day

MOST = 200
MOST_CARDS = 50


@require_POST
@login_required
def chosen(request: SheetRequest) -> HttpResponse:
    """One act with everything ticked; what was refused comes back with its ticks and its reason."""
    act = ACTS.get(request.POST.get("act", ""))
    if act is None:
        raise Missing()
    uuids = request.POST.getlist("row")[: MOST + 1]
    checks = chosen_checks(request.user, uuids)
    try:
        if not checks:
            raise Refused(_("Tick the checks first, then say what is to be done with them."))
        if len(uuids) > MOST:
            raise Refused(_("At most %(n)s checks at once.") % {"n": MOST})
        if len(checks) < len(set(uuids)):
            raise Refused(_("Some of them are settled in the meantime, or are not there: look at the list again."))
        return act(request, checks)
    except _ToSee as first:
        lines = [{"id": "", "label": tag, "message": said} for tag, said in first.risks]
        typed = request.POST.dict() | {"seen": request.POST.get("until", "").strip()}
        return due_page(request, picked=frozenset(uuids), problems=lines, typed=typed, to_see=True)
    except Refused as refusal:
        labels = {
            "week": _("Week"),
            "number": _("Number of the work order"),
            "until": _("Until"),
            "reason": _("Because"),
        }
        problems = [
            {"id": f"chosen-{name}" if name in labels else "", "label": labels.get(name, ""), "message": said}
            for name, said in refusal.as_dict().items()
        ]
        return due_page(
            request, picked=frozenset(uuids), problems=problems, typed=request.POST.dict(), status=refusal.status
        )


class _ToSee(Exception):
    """The deferrals may be made and were undone: what they risk has to be read first."""

    def __init__(self, risks: list[tuple[str, str]]) -> None:
        super().__init__(len(risks))
        self.risks = risks


def _week(request: SheetRequest, checks: list[Check]) -> HttpResponse:
    asked = request.POST.get("week", "")
    try:
        week_on = date.fromisoformat(asked) if asked != "none" else None
    except ValueError:
        raise Refused({"week": _("Choose the week.")}) from None
    with recording(by=request.user, at=timezone.now()):
        put_in_week(checks=checks, week_on=week_on)
    n = len(checks)
    if week_on is None:
        said = ngettext("One check is in no week any more.", "%(n)s checks are in no week any more.", n) % {"n": n}
    else:
        said = ngettext("One check is planned: %(week)s.", "%(n)s checks are planned: %(week)s.", n)
        said %= {"n": n, "week": week_words(week_on)}
    messages.success(request, said)
    return _back(request)


def _defer(request: SheetRequest, checks: list[Check]) -> HttpResponse:
    try:
        until = date.fromisoformat(request.POST.get("until", "").strip())
    except ValueError:
        raise Refused({"until": _("Write the day as 2026-10-12.")}) from None
    seen = request.POST.get("seen", "") == until.isoformat()
    with recording(by=request.user, at=timezone.now()):
        risks = []
        for check in checks:
            try:
                defer_check(check=check, until=until, reason=request.POST.get("reason", ""))
                if not seen and (looked := look_at(check, until)) is not None:
                    risks.append((check.coupling.tag, looked_sentence(looked)))
            except Refused as refusal:
                # All of them or none; the sentence says which one stands in the way.
                who = f"{check.coupling.tag}, {check.get_kind_display()}: "
                raise Refused({name: who + said for name, said in refusal.as_dict().items()}) from refusal
        if risks:
            raise _ToSee(risks)
    n = len(checks)
    said = ngettext("One check is deferred until %(day)s.", "%(n)s checks are deferred until %(day)s.", n)
    messages.success(request, said % {"n": n, "day": day(until)})
    return _back(request)


def _cards(request: SheetRequest, checks: list[Check]) -> HttpResponse:
    by_coupling: dict[int, list[Check]] = {}
    for check in checks:
        by_coupling.setdefault(check.coupling_id, []).append(check)
    if len(by_coupling) > MOST_CARDS:
        raise Refused(_("At most %(n)s job cards in one PDF: tick fewer couplings.") % {"n": MOST_CARDS})
    orders = only_open_orders([check.coupling.train_id for check in checks])
    jobs = [Job(some[0].coupling, some, orders.get(some[0].coupling.train_id)) for some in by_coupling.values()]
    return as_pdf(job_cards(jobs, address_of=address_of(request), at=timezone.now()), "job-cards")


def _order(request: SheetRequest, checks: list[Check]) -> HttpResponse:
    train = checks[0].coupling.train
    require(request.user, "order.write", train.site_id)
    if any(check.coupling.train_id != train.pk for check in checks):
        raise Refused(_("A work order is for one train: tick checks of one train only."))
    kinds = sorted({str(check.get_kind_display()) for check in checks})
    weeks = {check.week_on for check in checks}
    planned_on = weeks.pop() if len(weeks) == 1 else None
    with recording(by=request.user, at=timezone.now()):
        order = open_order(
            train=train, number=request.POST.get("number", ""), title=", ".join(kinds)[:120], planned_on=planned_on
        )
    messages.success(request, _("Work order %(n)s is open at %(train)s.") % {"n": order.number, "train": train.tag})
    return _back(request)


def _back(request: SheetRequest) -> HttpResponse:
    query = query_of(request.GET)
    return redirect(reverse("due") + (f"?{query}" if query else ""))


ACTS: dict[str, Callable[[SheetRequest, list[Check]], HttpResponse]] = {
    "week": _week,
    "defer": _defer,
    "cards": _cards,
    "order": _order,
}
