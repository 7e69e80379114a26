"""The kinds of background job, as rows; an app adds its own when it is ready."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any


@dataclass(frozen=True)
class Occasion:
    """One run that is due: once per kind, scope and date, not before an instant."""

    scope: str
    for_date: date
    not_before: datetime


@dataclass(frozen=True)
class Job:
    """One kind of background work.

    Parameters
    ----------
    kind : str
        Its name in the rows.
    scopes_due : callable
        The runs due at an instant; asked at every tick, so it names recent ones only.
    run : callable
        ``run(scope, for_date, now, progress)`` yields a short text after each slice of its work, and is given the
        last one when it is taken up again (empty at first). Every slice runs in a recording of its own, committed
        together with that text; a slice must be harmless twice and take well below the lease of 120 s.
    title, when : str
        What it does and how often, as people read it on the page of background work.
    every : timedelta or None
        How long after one run the next is due, where that is always the same.
    """

    kind: str
    scopes_due: Callable[[datetime], Iterable[Occasion]]
    run: Callable[[str, date, datetime, str], Iterator[str]]
    title: Any = ""
    when: Any = ""
    every: timedelta | None = None


JOBS: dict[str, Job] = {}


def register(job: Job) -> Job:
    """Add a kind; the same name twice is a mistake."""
    if job.kind in JOBS and JOBS[job.kind] is not job:
        raise ValueError(f"There is a job named {job.kind} already.")
    JOBS[job.kind] = job
    return job


# Work that has rows of its own instead of runs, such as messages on their way: ``pump(now, budget_seconds, stopping)``
# claims, does and settles what it can, and returns how much that was.
Pump = Callable[[datetime, float, Callable[[], bool]], int]
PUMPS: list[Pump] = []


def register_pump(pump: Pump) -> Pump:
    """Have this called by everything that does runs, after them."""
    if pump not in PUMPS:
        PUMPS.append(pump)
    return pump
