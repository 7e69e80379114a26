"""Background work as people read it: per kind what ran, what runs, what waits and what failed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Max, Q, QuerySet
from django.utils.translation import gettext as _

from plant.access import sites_where
from plant.jobs import JOBS
from plant.models import JobRun, Person, Site

ACTION = "jobs.handle"


@dataclass(frozen=True)
class Kind:
    """One kind of work: how often it is done, and its runs in numbers."""

    kind: str
    title: str
    when: str
    last_at: Any
    next_at: Any
    waiting: int
    running: int
    failed: int


def runs_for(person: Person) -> QuerySet[JobRun]:
    """Runs about the sites this person keeps or engineers, their people, and the whole installation."""
    rows = JobRun.objects.all()
    if person.sees_everything:
        return rows
    sites = sites_where(person, ACTION)
    if not sites:
        return rows.none()
    people = Person.objects.filter(memberships__site_id__in=sites).values_list("pk", flat=True)
    scopes = ["all", *(f"site:{pk}" for pk in sites), *(f"person:{pk}" for pk in set(people))]
    return rows.filter(scope__in=scopes)


def failed_runs(person: Person) -> QuerySet[JobRun]:
    return runs_for(person).filter(state=JobRun.State.FAILED).order_by("-finished_at", "-pk")


def kinds_for(person: Person) -> list[Kind]:
    """Every kind there is, also one that never ran; one question for all numbers."""
    state = JobRun.State
    found: dict[str, Any] = {
        row["kind"]: row
        for row in runs_for(person)
        .order_by()
        .values("kind")
        .annotate(
            last_at=Max("finished_at", filter=Q(state=state.DONE)),
            last_due=Max("not_before"),
            waiting=Count("pk", filter=Q(state=state.WAITING)),
            running=Count("pk", filter=Q(state=state.RUNNING)),
            failed=Count("pk", filter=Q(state=state.FAILED)),
        )
    }
    nothing: dict[str, Any] = {"last_at": None, "last_due": None, "waiting": 0, "running": 0, "failed": 0}
    kinds = []
    for key, job in JOBS.items():
        row = found.get(key, nothing)
        next_at = row["last_due"]
        # What is due once a day comes again a day after it was due last.
        if next_at is not None and not row["waiting"]:
            next_at = next_at + job.every if job.every else None
        counts = (row["waiting"], row["running"], row["failed"])
        kinds.append(Kind(key, str(job.title or key), str(job.when), row["last_at"], next_at, *counts))
    return kinds


def scope_names(runs: list[JobRun]) -> dict[int, str]:
    """What each run is about, in words: a site's or a person's name."""
    ids: dict[str, set[int]] = {"site": set(), "person": set()}
    for run in runs:
        what, _colon, pk = run.scope.partition(":")
        if what in ids and pk.isdecimal():
            ids[what].add(int(pk))
    names = {f"site:{one.pk}": one.name for one in Site.objects.filter(pk__in=ids["site"])}
    names |= {f"person:{one.pk}": str(one) for one in Person.objects.filter(pk__in=ids["person"])}
    return {run.pk: names.get(run.scope, _("the whole installation")) for run in runs}


def run_words(run: JobRun) -> str:
    """One failed run in a line: what, for which day, and the last line of what it said."""
    job = JOBS.get(run.kind)
    return _("%(what)s, for %(day)s: %(error)s") % {
        "what": job.title if job is not None and job.title else run.kind,
        "day": run.for_date.isoformat(),
        "error": last_line(run.error),
    }


def last_line(error: str) -> str:
    lines = [line.strip() for line in error.splitlines() if line.strip()]
    return lines[-1][:200] if lines else _("it said nothing")
