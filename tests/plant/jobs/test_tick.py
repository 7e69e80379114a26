"""What becomes due when: once per site, date and kind, whatever the clocks and however many ask."""

import threading
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection

from inspections.tasks import nightly_due
from plant.jobs import JOBS, Occasion, purge, tick, work
from plant.jobs.registry import Job, register
from plant.models import Attempt, Event, IdempotencyKey, JobRun, Webhook
from tests.factories import PersonFactory, SiteFactory

NOW = datetime(2026, 10, 12, 9, 0, tzinfo=UTC)


def nights(now):
    return [(one.for_date.isoformat(), one.not_before.astimezone(UTC).isoformat()) for one in nightly_due(now)]


def runs_of_a_year(zone, begin, hours):
    """What ticks every half hour would write down."""
    SiteFactory(name=zone, zone=zone)
    found = {}
    for step in range(hours * 2):
        for one in nightly_due(begin + timedelta(minutes=30 * step)):
            found.setdefault((one.scope, one.for_date), one.not_before)
    return found


def test_the_night_begins_at_two_by_the_sites_own_clock(db):
    SiteFactory(zone="Europe/Oslo")
    assert nights(datetime(2026, 10, 11, 23, 59, tzinfo=UTC)) == []
    assert nights(datetime(2026, 10, 12, 0, 0, tzinfo=UTC)) == [("2026-10-12", "2026-10-12T00:00:00+00:00")]


def test_a_site_fourteen_hours_ahead_has_its_own_date(db):
    SiteFactory(zone="Pacific/Kiritimati")
    assert nights(datetime(2026, 10, 11, 12, 0, tzinfo=UTC)) == [("2026-10-12", "2026-10-11T12:00:00+00:00")]


# The dates of the changes are the zone database's: Oslo 29 March and 25 October 2026, Lord Howe, by half an hour,
# 5 April: 01:30 to 02:00 comes twice there, 02:00 itself after both.
@pytest.mark.parametrize(
    "zone, begin, for_date, at",
    [
        ("Europe/Oslo", "2026-03-28T12:00", "2026-03-29", "2026-03-29T01:00"),  # 02:00 is left out: 03:00 summer time
        ("Europe/Oslo", "2026-10-24T12:00", "2026-10-25", "2026-10-25T00:00"),  # 02:00 comes twice: the first
        ("Australia/Lord_Howe", "2026-04-04T00:00", "2026-04-05", "2026-04-04T15:30"),
        ("America/Chicago", "2026-03-08T00:00", "2026-03-08", "2026-03-08T08:00"),
    ],
)
def test_every_night_has_one_run_also_when_the_clocks_change(db, zone, begin, for_date, at):
    found = runs_of_a_year(zone, datetime.fromisoformat(begin).replace(tzinfo=UTC), 72)
    at_ = {for_: instant.astimezone(UTC) for (_, for_), instant in found.items()}
    assert at_[date.fromisoformat(for_date)] == datetime.fromisoformat(at).replace(tzinfo=UTC)
    days = sorted(at_)
    assert days == [days[0] + timedelta(days=step) for step in range(len(days))]


def test_the_leap_day_has_a_night(db):
    found = runs_of_a_year("Europe/Oslo", datetime(2028, 2, 28, 0, tzinfo=UTC), 60)
    assert [for_date.isoformat() for _, for_date in sorted(found)] == ["2028-02-28", "2028-02-29", "2028-03-01"]


def test_a_tick_is_harmless_twice(db):
    SiteFactory()
    assert tick(NOW) == 5  # the site's night, how its areas stand, the week's group and life fits, and the clearing
    assert tick(NOW) == 0
    assert tick(NOW + timedelta(minutes=1)) == 0
    assert sorted(JobRun.objects.values_list("kind", flat=True)) == [
        "group-fits", "life-fits", "nightly", "purge", "standing",
    ]  # fmt: skip


def test_the_next_day_is_due_again(db):
    SiteFactory()
    tick(NOW)
    work(NOW)
    tick(NOW + timedelta(days=1))
    assert JobRun.objects.filter(kind="nightly").count() == 2
    assert JobRun.objects.filter(state="waiting").count() == 3


def test_a_clock_set_back_makes_no_second_run_of_a_date(db):
    SiteFactory()
    tick(NOW)
    work(NOW)
    tick(NOW - timedelta(hours=3))
    assert JobRun.objects.filter(kind="nightly").count() == 1


@pytest.mark.django_db(transaction=True)
def test_five_beats_at_once_make_one_row():
    SiteFactory()
    begin = threading.Barrier(5)
    failed = []

    def beat():
        begin.wait()
        try:
            for _ in range(3):
                tick(NOW)
        except Exception as error:
            failed.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=beat) for _ in range(5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    assert JobRun.objects.filter(kind="nightly").count() == 1


def test_a_kind_is_registered_once(jobs):
    register(Job("night", lambda now: [], lambda *given: iter(())))
    with pytest.raises(ValueError, match="named night already"):
        register(Job("night", lambda now: [], lambda *given: iter(())))


def test_both_kinds_of_work_are_registered_when_the_site_starts():
    assert set(JOBS) >= {"nightly", "purge"}


def test_the_same_scope_named_twice_is_one_run(jobs, db):
    register(Job("night", lambda now: [Occasion("one", NOW.date(), NOW)] * 2, lambda *given: iter(())))
    assert tick(NOW) == 1


def test_answers_are_forgotten_after_thirty_days_and_done_runs_after_ninety(db):
    person = PersonFactory()
    for days in (29, 31):
        IdempotencyKey.objects.create(person=person, key=f"{days}", fingerprint="f", at=NOW - timedelta(days=days))
    for days, state in ((89, "done"), (91, "done"), (92, "failed")):
        then = NOW - timedelta(days=days)
        JobRun.objects.create(
            kind="nightly", scope="site:0", for_date=then.date(), state=state, not_before=then, finished_at=then
        )
    tick(NOW)
    work(NOW)
    assert list(IdempotencyKey.objects.values_list("key", flat=True)) == ["29"]
    kept = JobRun.objects.filter(scope="site:0").order_by("for_date")
    assert list(kept.values_list("state", flat=True)) == ["failed", "done"]


def test_what_webhooks_were_sent_is_forgotten_after_ninety_days_and_what_was_set_aside_after_a_year(db, monkeypatch):
    monkeypatch.setattr(purge, "DELIVERIES_AT_ONCE", 2)  # so that it takes several slices
    site = SiteFactory()
    hook = Webhook.objects.create(site=site, name="Orders", url="https://plant.example/told", secret="whsec_eA==")
    for no, (days, state) in enumerate(
        [(89, "sent"), (91, "sent"), (92, "sent"), (99, "sent"), (364, "aside"), (366, "aside"), (500, "waiting")]
    ):
        then = NOW - timedelta(days=days)
        event = Event.objects.create(site=site, no=no, kind="check.due", at=then)
        settled_at = None if state == "waiting" else then
        row = hook.deliveries.create(event=event, lane="l", no=no, state=state, next_at=then, settled_at=settled_at)
        row.tries.create(at=then, status=204)
    hook.deliveries.create(lane="test", no=0, state="sent", next_at=NOW, settled_at=NOW - timedelta(days=91))
    # A day on which nothing waits to be sent, so that the clearing is all that happens.
    Webhook.objects.filter(pk=hook.pk).update(active=False)
    tick(NOW)
    work(NOW)
    assert list(hook.deliveries.order_by("no").values_list("no", "state")) == [
        (0, "sent"), (4, "aside"), (6, "waiting"),
    ]  # fmt: skip
    assert Attempt.objects.count() == 3
    assert Event.objects.count() == 7
