"""Claims, leases, slices, attempts: what is done once is committed once, whoever dies or comes late."""

import threading
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import OperationalError, connection

from plant.jobs import Job, register, work
from plant.jobs.claims import ATTEMPTS, FIRST_REST, LEASE, LONGEST_REST, claim
from plant.models import Area, JobRun
from plant.recording import changed
from tests.factories import SiteFactory

NOW = datetime(2026, 10, 12, 3, 0, tzinfo=UTC)
DAY = date(2026, 10, 12)
State = JobRun.State


def row(kind="count", scope="one", **more):
    return JobRun.objects.create(kind=kind, scope=scope, for_date=DAY, **{"not_before": NOW} | more)


def job(run, kind="count"):
    return register(Job(kind, lambda now: [], run))


@pytest.fixture
def counted(jobs, db):
    """A job that notes each run of each slice as an area of a site: three slices, each harmless to lose."""
    site = SiteFactory()

    def run(scope, for_date, now, progress):
        for part in range(int(progress or 0), 3):
            area = Area.objects.create(site=site, name=f"{scope} {part}")
            changed(area)
            if part < 2:
                yield str(part + 1)

    job(run)
    return lambda: sorted(Area.objects.values_list("name", flat=True))


def test_a_run_is_done_slice_by_slice_and_settled(counted):
    run = row()
    assert work(NOW) == 1
    run.refresh_from_db()
    assert counted() == ["one 0", "one 1", "one 2"]
    assert (run.state, run.progress, run.lease, run.leased_until, run.attempts) == (State.DONE, "2", None, None, 0)
    assert work(NOW) == 0


def test_a_run_whose_time_has_not_come_or_whose_kind_nobody_knows_is_left(counted):
    row(scope="later", not_before=NOW + timedelta(seconds=1))
    row(kind="unknown")
    assert work(NOW) == 0


def test_a_claimed_run_is_not_given_to_another(counted):
    row()
    assert claim(NOW) is not None
    assert claim(NOW) is None
    assert claim(NOW + LEASE - timedelta(seconds=1)) is None


def test_a_lease_that_ran_out_is_taken_over_and_goes_on_from_its_progress(counted):
    run = row()
    claim(NOW)
    JobRun.objects.filter(pk=run.pk).update(progress="1")
    work(NOW + LEASE)
    assert counted() == ["one 1", "one 2"]


def test_a_clock_that_was_set_back_does_not_hold_a_run(counted):
    row()
    claim(NOW + timedelta(days=365))
    assert work(NOW) == 1
    assert len(counted()) == 3


def test_a_rest_from_before_the_clock_was_set_back_is_over(counted):
    row(attempts=1, not_before=NOW + timedelta(days=365))
    row(scope="resting", attempts=1, not_before=NOW + LONGEST_REST)
    assert work(NOW) == 1
    assert {name.split()[0] for name in counted()} == {"one"}


def test_a_worker_that_lost_its_lease_undoes_its_slice(jobs, db):
    site = SiteFactory()

    def run(scope, for_date, now, progress):
        Area.objects.create(site=site, name="half done")
        # Meanwhile, as if this worker had slept: another one holds the run.
        JobRun.objects.update(lease="00000000-0000-0000-0000-000000000001")
        yield "1"

    job(run)
    row()
    work(NOW, budget_seconds=0.2)
    # Undoing the slice undid the takeover of this test as well; what matters is that nothing half done was kept.
    assert not Area.objects.exists()
    assert JobRun.objects.get().state == State.RUNNING


def test_a_failing_run_rests_longer_each_time_and_is_given_up_with_its_error(jobs, db):
    calls = []

    def run(scope, for_date, now, progress):
        calls.append(now)
        raise ValueError("the bolt circle is missing")
        yield

    job(run)
    run_ = row()
    now, rests = NOW, []
    for _ in range(ATTEMPTS):
        assert work(now) == 1
        assert work(now) == 0
        run_.refresh_from_db()
        if run_.state == State.WAITING:
            rests.append(round((run_.not_before - now) / FIRST_REST))
            now = run_.not_before
    assert rests == [1, 4, 16, 64]
    assert run_.state == State.FAILED
    assert run_.attempts == ATTEMPTS
    assert "ValueError: the bolt circle is missing" in run_.error
    assert work(now + timedelta(days=365)) == 0
    assert len(calls) == ATTEMPTS


def test_a_run_that_kills_its_worker_each_time_is_given_up(counted):
    run = row()
    now = NOW
    for _ in range(ATTEMPTS):
        assert claim(now) is not None
        now += LEASE
    assert claim(now) is None
    run.refresh_from_db()
    assert run.state == State.FAILED
    assert run.error == "Its worker ended 5 times without an answer; it is not tried again."
    assert counted() == []


def test_one_poisoned_run_does_not_keep_the_others_waiting(counted):
    def poison(scope, for_date, now, progress):
        raise RuntimeError("poison")
        yield

    job(poison, kind="poison")
    row(kind="poison")
    row(scope="after")
    assert work(NOW) == 2
    assert len(counted()) == 3


def test_slices_that_were_committed_make_the_attempts_begin_again(jobs, db):
    def run(scope, for_date, now, progress):
        if not progress:
            yield "half"
        raise ValueError("the second half")

    job(run)
    run_ = row(attempts=3)
    work(NOW)
    run_.refresh_from_db()
    assert (run_.progress, run_.attempts, run_.state) == ("half", 1, State.WAITING)


def test_work_stops_after_the_slice_in_hand_and_goes_on_later(counted):
    row()
    asked = []

    def stopping():
        asked.append(1)
        return len(asked) > 1

    work(NOW, stopping=stopping)
    run = JobRun.objects.get()
    assert counted() == ["one 0"]
    assert (run.state, run.progress, run.lease, run.attempts) == (State.WAITING, "1", None, 0)
    work(NOW)
    assert counted() == ["one 0", "one 1", "one 2"]


def test_a_database_that_is_away_is_passed_on_to_the_loop(jobs, db):
    def run(scope, for_date, now, progress):
        raise OperationalError("server closed the connection")
        yield

    job(run)
    row()
    with pytest.raises(OperationalError):
        work(NOW)
    run_ = JobRun.objects.get()
    assert (run_.state, run_.lease, run_.attempts) == (State.WAITING, None, 1)
    assert run_.not_before == pytest.approx(NOW + FIRST_REST, abs=timedelta(seconds=5))


@pytest.mark.django_db(transaction=True)
def test_of_many_workers_at_once_each_run_gets_one(jobs):
    site = SiteFactory()

    def run(scope, for_date, now, progress):
        changed(Area.objects.create(site=site, name=scope))
        return
        yield

    job(run)
    for number in range(12):
        row(scope=f"run {number}")
    begin = threading.Barrier(4)

    def worker():
        begin.wait()
        try:
            work(NOW)
        finally:
            connection.close()

    threads = [threading.Thread(target=worker) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert Area.objects.count() == 12  # a name twice at a site would have been refused, so none was done twice
    assert set(JobRun.objects.values_list("state", "attempts")) == {(State.DONE, 1)}
