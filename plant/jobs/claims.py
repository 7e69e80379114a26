"""Claiming runs under a lease and doing them in slices.

A run is claimed by a conditional UPDATE, so that of many workers one gets it. The lease ends by itself when its holder
dies. Every slice commits together with its progress, on the condition that the lease still stands: a worker that lost
it undoes its slice, so nothing is done twice, and a crash loses at most the slice in hand, which is then done again.
"""

import contextlib
import traceback
import uuid
from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from time import monotonic

import structlog
from django.db import InterfaceError, OperationalError
from django.db.models import F, Q

from plant.jobs.registry import JOBS, PUMPS, Job
from plant.models import JobRun
from plant.recording import recording

LEASE = timedelta(seconds=120)
# Two machines' clocks may differ by this much before one takes the other's lease for a relic.
SKEW = timedelta(seconds=60)
ATTEMPTS = 5
# Between attempts: 15 s, 1 min, 4 min, 16 min.
FIRST_REST = timedelta(seconds=15)
LONGEST_REST = FIRST_REST * 4 ** (ATTEMPTS - 2)
ERROR_LETTERS = 4000

log = structlog.get_logger(__name__)


class LeaseLost(Exception):
    """Somebody else has the run now; what this slice did is undone."""


def work(now: datetime, budget_seconds: float = 30, stopping: Callable[[], bool] = lambda: False) -> int:
    """Claim due runs and do them, one after the other, until nothing is due or the time is used up.

    Parameters
    ----------
    now : datetime
        The instant it begins; what is written later carries the time that has passed since.
    budget_seconds : float
        No new slice begins after that. A run that is not finished goes back and goes on from its progress.
    stopping : callable
        Asked between slices; true ends the work as the used-up time does.

    Returns
    -------
    int
        How many claims were worked on, those of the pumps included. Zero means that nothing was due.
    """
    begun = monotonic()

    def at() -> datetime:
        return now + timedelta(seconds=monotonic() - begun)

    def enough() -> bool:
        return stopping() or monotonic() - begun >= budget_seconds

    worked = 0
    while not enough():
        claimed = claim(at())
        if claimed is None:
            break
        worked += 1
        _do(claimed, at, enough)
    for pump in PUMPS:
        if not enough():
            worked += pump(at(), budget_seconds - (monotonic() - begun), stopping)
    return worked


def waiting(now: datetime) -> Q:
    """Runs that may be claimed: due, and held by nobody.

    A lease further ahead than the longest allowed counts as run out, and a rest longer than the longest as over: the
    clock was set back, and a row must not be held by an hour that will not come for a year.
    """
    free = Q(leased_until__isnull=True) | Q(leased_until__lte=now) | Q(leased_until__gt=now + LEASE + SKEW)
    rested = Q(not_before__lte=now) | Q(attempts__gt=0, not_before__gt=now + LONGEST_REST + SKEW)
    return Q(state__in=[JobRun.State.WAITING, JobRun.State.RUNNING]) & free & rested


def claim(now: datetime) -> JobRun | None:
    """Take the longest waiting run under a new lease; None when there is none."""
    while True:
        open_rows = JobRun.objects.filter(waiting(now), kind__in=list(JOBS)).order_by("not_before", "id")
        found = open_rows.values_list("pk", "attempts").first()
        if found is None:
            return None
        pk, attempts = found
        mine = JobRun.objects.filter(waiting(now), pk=pk, attempts=attempts)
        if attempts >= ATTEMPTS:
            # It took its worker with it each time, so nobody was left to write down why.
            mine.update(
                state=JobRun.State.FAILED,
                lease=None,
                leased_until=None,
                finished_at=now,
                error=f"Its worker ended {attempts} times without an answer; it is not tried again.",
            )
            continue
        lease = uuid.uuid4()
        taken = mine.update(
            state=JobRun.State.RUNNING,
            lease=lease,
            leased_until=now + LEASE,
            attempts=F("attempts") + 1,
            started_at=now,
            finished_at=None,
        )
        if taken:
            return JobRun.objects.get(pk=pk)


def _do(run: JobRun, at: Callable[[], datetime], enough: Callable[[], bool]) -> None:
    job = JOBS[run.kind]
    try:
        if _slices(job, run, at, enough):
            log.info("job done", kind=run.kind, scope=run.scope, for_date=str(run.for_date))
    except LeaseLost:
        log.warning("job taken over by another worker", kind=run.kind, scope=run.scope)
    except (OperationalError, InterfaceError) as error:
        # The database is away or busy: whoever runs the loop waits for it. The lease ends by itself where it cannot be
        # given back; the claim has been counted, so a run that always ends so does not go on for ever.
        with contextlib.suppress(OperationalError, InterfaceError):
            _put_back(run, at(), str(error).strip()[-ERROR_LETTERS:])
        raise
    except Exception as error:
        log.exception("job failed", kind=run.kind, scope=run.scope, attempts=run.attempts)
        _put_back(run, at(), "".join(traceback.format_exception(error))[-ERROR_LETTERS:])


def _slices(job: Job, run: JobRun, at: Callable[[], datetime], enough: Callable[[], bool]) -> bool:
    """Do slice after slice, each committed with its progress; true when the run is finished."""
    slices: Iterator[str] | None = None
    while True:
        with recording(by=None, at=at()):
            if slices is None:
                slices = job.run(run.scope, run.for_date, at(), run.progress)
            try:
                progress = next(slices)
            except StopIteration:
                _hold(run, state=JobRun.State.DONE, lease=None, leased_until=None, finished_at=at(), error="")
                return True
            # What is committed counts: the attempts after it are those at the next slice.
            held: dict[str, object]
            if enough():
                held = {"state": JobRun.State.WAITING, "lease": None, "leased_until": None}
            else:
                held = {"leased_until": at() + LEASE}
            _hold(run, progress=progress[:200], attempts=0, error="", **held)
        if "state" in held:
            return False


def _hold(run: JobRun, **columns: object) -> None:
    if not JobRun.objects.filter(pk=run.pk, lease=run.lease, state=JobRun.State.RUNNING).update(**columns):
        raise LeaseLost


def _put_back(run: JobRun, now: datetime, error: str) -> None:
    """Keep the error, and try again after a rest; after the fifth time leave it for a person."""
    mine = JobRun.objects.filter(pk=run.pk, lease=run.lease)
    attempts = mine.values_list("attempts", flat=True).first()
    if attempts is None:
        return
    free = {"lease": None, "leased_until": None, "error": error}
    # A slice that was committed before this one failed has set the count to nothing; this was one attempt.
    attempts = max(attempts, 1)
    if attempts >= ATTEMPTS:
        mine.update(state=JobRun.State.FAILED, attempts=attempts, finished_at=now, **free)
    else:
        rest = FIRST_REST * 4 ** (attempts - 1)
        mine.update(state=JobRun.State.WAITING, attempts=attempts, not_before=now + rest, **free)


def try_later(kind: str, scope: str, for_date: date, now: datetime, error: str) -> None:
    """Put back a run that is done by its rows and failed in what it does after the commit, such as handing over a mail.

    It rests as after a failed attempt, and is left for a person after the fifth.
    """
    rows = JobRun.objects.filter(kind=kind, scope=scope, for_date=for_date, state=JobRun.State.DONE)
    attempts = rows.values_list("attempts", flat=True).first()
    if attempts is None:
        return
    attempts = max(attempts, 1)
    if attempts >= ATTEMPTS:
        rows.update(state=JobRun.State.FAILED, attempts=attempts, finished_at=now, error=error)
    else:
        rest = FIRST_REST * 4 ** (attempts - 1)
        rows.update(state=JobRun.State.WAITING, attempts=attempts, not_before=now + rest, error=error)
