"""Background work on a page: what ran and when, what comes next, and what failed with a way to try it again."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from plant.access import sites_where
from plant.models import JobRun
from plant.pages.context import SheetRequest, render_sheet
from plant.recording import recording
from plant.refusals import Missing, NotAllowed
from plant.selectors.jobs import ACTION, failed_runs, kinds_for, last_line, runs_for, scope_names
from plant.services.jobs import try_again

MOST = 50


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def jobs(request: SheetRequest) -> HttpResponse:
    """For keepers and engineers; the button puts one failed run back."""
    person = request.user
    if not (person.sees_everything or sites_where(person, ACTION)):
        raise NotAllowed(_("Background work is looked after by keepers and engineers."))
    if request.method == "POST":
        number = request.POST.get("run", "")
        run = runs_for(person).filter(pk=int(number)).first() if number.isdecimal() and len(number) < 18 else None
        if run is None:
            raise Missing()
        with recording(by=person, at=timezone.now()):
            again = try_again(run=run)
        if again:
            messages.success(request, _("It is tried again within a minute."))
        else:
            messages.success(request, _("It was put back already."))
        return redirect("jobs")
    failed = list(failed_runs(person)[:MOST])
    at_work = list(
        runs_for(person)
        .filter(state__in=[JobRun.State.RUNNING, JobRun.State.WAITING])
        .order_by("not_before", "pk")[:MOST]
    )
    kinds = kinds_for(person)
    titles = {one.kind: one.title for one in kinds}
    names = scope_names([*failed, *at_work])
    count = sum(one.failed for one in kinds)
    context = {
        "kinds": kinds,
        "failed": [(run, titles.get(run.kind, run.kind), names[run.pk], last_line(run.error)) for run in failed],
        "at_work": [(run, titles.get(run.kind, run.kind), names[run.pk]) for run in at_work],
        "headline": ngettext("One piece of work failed", "%(n)s pieces of work failed", count) % {"n": count}
        if count
        else _("The background work is done as it should be"),
    }
    return render_sheet(request, "plant/jobs.html", context)
