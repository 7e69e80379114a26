"""Checks follow from signed visits, policies and meters; the night gives the same answer as the signature."""

import threading
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inspections.models import Check, Flag, Policy, Visit
from inspections.selectors.checks import checks_due, open_checks
from inspections.services.checks import after_visit, recompute_coupling, recompute_site, recompute_train
from inspections.services.policies import load_policies
from plant.models import Event, Meter, MeterReading
from plant.recording import recording
from tests.factories import CouplingFactory, FitFactory, SiteFactory, TrainFactory
from tests.inspections.signed import amend, sign

TODAY = date(2026, 10, 12)


def noon(on):
    return datetime(on.year, on.month, on.day, 12, tzinfo=UTC)


@pytest.fixture
def fit(site):
    made = FitFactory(coupling__train__site=site, fitted_on=date(2026, 10, 1))
    with recording(by=None, at=noon(date(2026, 10, 1))):
        load_policies(site=site, kinds=("alignment", "torque"))
    return made


@pytest.fixture
def coupling(fit):
    return fit.coupling


def open_of(coupling):
    return {check.kind: check for check in Check.objects.filter(coupling=coupling, settled_on__isnull=True)}


def told(coupling):
    return list(Event.objects.filter(lane=coupling.uuid).order_by("no").values_list("kind", flat=True))


def night(site, today, **slice_):
    with recording(by=None, at=noon(today)):
        return recompute_site(site=site, today=today, **slice_)


def test_an_installation_asks_for_alignment_and_torque_after_the_first_running(fit, mechanic):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    checks = open_of(fit.coupling)
    assert {kind: (one.winner, one.due_on.isoformat()) for kind, one in checks.items()} == {
        "alignment": ("first-days", "2026-11-11"),
        "torque": ("first-days", "2026-11-11"),
    }
    assert (checks["alignment"].runner_up, checks["alignment"].runner_up_on) == ("policy", date(2027, 10, 12))


def test_run_hours_bring_the_first_check_forward(fit, mechanic):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    meter = Meter.objects.create(site=fit.site, train=fit.coupling.train)
    MeterReading.objects.create(meter=meter, at=noon(date(2026, 8, 1)), hours=1000)
    MeterReading.objects.create(meter=meter, at=noon(TODAY), hours=1000 + 72 * 24)
    with recording(by=None, at=noon(TODAY)):
        recompute_train(train=fit.coupling.train)
    check = open_of(fit.coupling)["alignment"]
    # 500 h at 24 h a day from the end of 12 October.
    assert (check.winner, check.due_on) == ("first-hours", date(2026, 11, 2))
    assert "check.rescheduled" in told(fit.coupling)


def test_a_visit_settles_what_it_did_and_nothing_else(fit, mechanic):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    visit = sign(fit, on=date(2026, 11, 10), by=mechanic, kind=Visit.Kind.ALIGNMENT, aligned=True)
    done = Check.objects.get(coupling=fit.coupling, kind="alignment", outcome="done", settled_by=visit)
    assert done.settled_on == date(2026, 11, 10)
    checks = open_of(fit.coupling)
    assert (checks["alignment"].winner, checks["alignment"].due_on) == ("policy", date(2027, 11, 10))
    assert checks["torque"].due_on == date(2026, 11, 11)
    assert "check.done" in told(fit.coupling)


def test_once_the_first_torque_check_is_done_no_policy_asks_for_another(fit, mechanic):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    sign(fit, on=date(2026, 11, 10), by=mechanic, kind=Visit.Kind.TORQUE, torqued=True)
    assert set(open_of(fit.coupling)) == {"alignment"}


def test_a_check_is_done_whatever_it_found(fit, mechanic):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    sign(fit, on=date(2026, 11, 10), by=mechanic, aligned=True, verdict="out of tolerance")
    assert open_of(fit.coupling)["alignment"].winner == "policy"
    assert Flag.objects.get(coupling=fit.coupling, cleared_at=None).kind == Flag.Kind.OUT


def test_a_visit_before_the_first_running_leaves_its_check_open(fit, mechanic):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    before = open_of(fit.coupling)["alignment"]
    sign(fit, on=date(2026, 10, 14), by=mechanic, aligned=True)
    after = open_of(fit.coupling)["alignment"]
    assert (after.pk, after.due_on, after.winner) == (before.pk, before.due_on, "first-days")


def test_a_visit_entered_late_does_not_settle_what_was_planned_after_it(fit, mechanic):
    sign(fit, on=date(2026, 1, 10), by=mechanic, aligned=True)
    sign(fit, on=date(2026, 9, 10), by=mechanic, aligned=True)
    standing = open_of(fit.coupling)["alignment"]
    sign(fit, on=date(2026, 5, 1), by=mechanic, aligned=True)
    after = open_of(fit.coupling)["alignment"]
    assert (after.pk, after.due_on) == (standing.pk, date(2027, 9, 10))


def test_an_amendment_that_takes_the_work_back_opens_the_check_again(fit, mechanic):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    first = open_of(fit.coupling)["alignment"]
    visit = sign(fit, on=date(2026, 11, 10), by=mechanic, aligned=True)
    amend(visit, by=mechanic, aligned=False)
    again = open_of(fit.coupling)["alignment"]
    assert (again.pk, again.due_on, again.winner) == (first.pk, date(2026, 11, 11), "first-days")
    cancelled = Check.objects.get(coupling=fit.coupling, outcome="cancelled")
    assert cancelled.kind == "alignment"


def test_an_amendment_that_leaves_the_work_standing_changes_no_date(fit, mechanic):
    visit = sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    before = list(Check.objects.order_by("pk").values())
    amend(visit, by=mechanic, aligned=True, torqued=True)
    assert list(Check.objects.order_by("pk").values()) == before


def test_due_and_overdue_are_told_once_for_each_date(fit, site, mechanic):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    for days in range(0, 45):
        night(site, TODAY + timedelta(days=days))
    kinds = told(fit.coupling)
    # One alignment and one torque check, each told due when its window opened and overdue when it had closed.
    assert kinds.count("check.due") == 2
    assert kinds.count("check.overdue") == 2
    assert kinds.count("flag.opened") == 1


def test_the_first_day_of_the_window_is_due_and_its_last_is_not_overdue_yet(fit, site, mechanic):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=False)
    night(site, date(2026, 11, 7))
    assert "check.due" not in told(fit.coupling)
    night(site, date(2026, 11, 8))
    assert "check.due" in told(fit.coupling)
    night(site, date(2026, 11, 14))
    assert "check.overdue" not in told(fit.coupling)
    night(site, date(2026, 11, 15))
    assert "check.overdue" in told(fit.coupling)


def test_a_night_without_news_writes_nothing(fit, site, mechanic, django_assert_max_num_queries):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    night(site, TODAY)
    before = list(Check.objects.order_by("pk").values()), list(Event.objects.order_by("pk").values())
    # Couplings, policies, visits, other work, fits, checks, flags, meters, forecasts, torques; begin and commit.
    with django_assert_max_num_queries(12):
        night(site, TODAY)
    assert (list(Check.objects.order_by("pk").values()), list(Event.objects.order_by("pk").values())) == before


def test_the_night_asks_as_often_for_many_couplings_as_for_one(site, mechanic, django_assert_max_num_queries):
    with recording(by=None, at=noon(TODAY)):
        load_policies(site=site, kinds=("alignment", "torque"))
    for _ in range(8):
        sign(FitFactory(coupling__train__site=site), on=TODAY, by=mechanic, aligned=True, torqued=True)
    night(site, TODAY)
    with django_assert_max_num_queries(12):
        night(site, TODAY)


def test_a_train_out_of_service_does_not_come_due_and_is_overdue_when_it_returns(fit, site, planner, mechanic):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    train = fit.coupling.train
    train.service = "out"
    train.save()
    later = date(2026, 12, 20)
    night(site, later)
    assert {"check.due", "check.overdue", "flag.opened"}.isdisjoint(told(fit.coupling))
    assert list(checks_due(planner, later)) == []
    assert list(open_checks(fit.coupling)) == []
    train.service = "in"
    train.save()
    with recording(by=None, at=noon(later)):
        recompute_train(train=train)
    assert {one.kind for one in checks_due(planner, later, overdue_only=True, at=noon(later))} == {
        "alignment",
        "torque",
    }
    assert told(fit.coupling).count("flag.opened") == 1


def test_an_overdue_flag_clears_when_the_train_goes_out_of_service(fit, site, mechanic):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    night(site, date(2026, 12, 1))
    train = fit.coupling.train
    train.service = "uncoupled"
    train.save()
    night(site, date(2026, 12, 2))
    flag = Flag.objects.get(coupling=fit.coupling)
    assert flag.cleared_at is not None
    assert flag.cause == "the train is uncoupled"


def test_an_overdue_flag_clears_when_all_that_was_overdue_is_done(fit, site, mechanic):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    night(site, date(2026, 12, 1))
    sign(fit, on=date(2026, 12, 1), by=mechanic, aligned=True)
    flag = Flag.objects.get(coupling=fit.coupling)
    assert flag.cleared_at is None
    assert [one["kind"] for one in flag.evidence["checks"]] == ["torque"]
    sign(fit, on=date(2026, 12, 2), by=mechanic, torqued=True)
    flag.refresh_from_db()
    assert flag.cleared_at is not None


def test_a_retired_coupling_has_its_checks_cancelled(fit, site, mechanic):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    fit.coupling.retired_on = TODAY
    fit.coupling.save()
    night(site, TODAY)
    assert open_of(fit.coupling) == {}
    assert told(fit.coupling).count("check.cancelled") == 2


def test_a_policy_that_is_gone_cancels_its_checks(fit, site, mechanic):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    Policy.objects.filter(site=site, check_kind="torque").delete()
    night(site, TODAY)
    assert set(open_of(fit.coupling)) == {"alignment"}


def test_the_due_list_prints_without_further_queries(site, planner, mechanic, django_assert_num_queries):
    with recording(by=None, at=noon(TODAY)):
        load_policies(site=site, kinds=("alignment", "torque"))
    for _ in range(6):
        sign(FitFactory(coupling__train__site=site), on=TODAY, by=mechanic, kind="installation", aligned=True)
    planner.site_ids()
    # One for all rows with coupling, train, area and site.
    with django_assert_num_queries(1):
        rows = [
            (one.coupling.tag, one.coupling.train.tag, one.coupling.train.area.name, one.site.zone, one.due_on)
            for one in checks_due(planner, TODAY + timedelta(days=60))[:50]
        ]
    assert len(rows) == 12  # alignment and torque of each


def test_the_due_list_shows_nobody_another_sites_checks(fit, mechanic, planner, stranger):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    until = TODAY + timedelta(days=60)
    assert checks_due(planner, until).count() == 2
    assert checks_due(stranger, until).count() == 0


def test_overdue_is_asked_of_each_sites_own_day(fit, site, mechanic, planner):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    closes = date(2026, 11, 14)
    # 23:30 UTC on the last day is the next day in Oslo already.
    late = datetime(closes.year, closes.month, closes.day, 23, 30, tzinfo=UTC)
    assert checks_due(planner, closes, overdue_only=True, at=late).count() == 2
    site.zone = "UTC"
    site.save()
    assert checks_due(planner, closes, overdue_only=True, at=late).count() == 0


def test_the_area_narrows_the_due_list(fit, mechanic, planner):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    until, area = TODAY + timedelta(days=60), fit.coupling.train.area
    assert checks_due(planner, until, area=area).count() == 2
    other = TrainFactory(site=fit.site, area__name="Slurry").area
    assert checks_due(planner, until, area=other).count() == 0


COLUMNS = ["kind", "opens_on", "due_on", "closes_on", "winner", "numbers", "runner_up", "runner_up_on"]

events = st.lists(
    st.tuples(st.sampled_from(["installation", "alignment", "torque", "both", "read", "night"]), st.integers(1, 200)),
    min_size=1,
    max_size=7,
)


@settings(max_examples=20, derandomize=True, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(events, st.sampled_from(Policy.Mode.values))
@pytest.mark.django_db
@pytest.mark.long
def test_visit_by_visit_gives_the_same_open_checks_as_computing_it_all_at_once(fit, mechanic, history, mode):
    with transaction.atomic():
        _live_through(fit, mechanic, history, mode)
        transaction.set_rollback(True)


def _live_through(fit, mechanic, history, mode):
    site, today, hours = fit.site, date(2025, 1, 1), 0.0
    Policy.objects.filter(site=site).update(mode=mode)
    one = FitFactory(coupling=CouplingFactory(train=TrainFactory(site=site)), fitted_on=today)
    meter = Meter.objects.create(site=site, train=one.coupling.train)
    for what, days in history:
        today += timedelta(days=days)
        hours += days * 11.0
        if what == "read":
            MeterReading.objects.create(meter=meter, at=noon(today), hours=hours)
            with recording(by=None, at=noon(today)):
                recompute_train(train=one.coupling.train)
        elif what == "night":
            night(site, today)
        else:
            kind = Visit.Kind.INSTALLATION if what == "installation" else Visit.Kind.PERIODIC
            sign(one, on=today, by=mechanic, kind=kind, aligned=what != "torque", torqued=what != "alignment")
    planned = Check.objects.filter(coupling=one.coupling, settled_on=None).order_by("kind")
    stepwise = list(planned.values(*COLUMNS))
    assert stepwise
    night(site, today)
    assert list(planned.values(*COLUMNS)) == stepwise
    with recording(by=None, at=noon(today)):
        recompute_coupling(coupling=one.coupling)
    assert list(planned.values(*COLUMNS)) == stepwise
    # From nothing but the record: open checks thrown away and planned again, for the coupling and for the site.
    planned.delete()
    with recording(by=None, at=noon(today)):
        recompute_coupling(coupling=one.coupling)
    assert list(planned.values(*COLUMNS)) == stepwise
    planned.delete()
    night(site, today)
    assert list(planned.values(*COLUMNS)) == stepwise


def test_a_site_is_gone_through_in_slices(site, mechanic):
    with recording(by=None, at=noon(TODAY)):
        load_policies(site=site, kinds=("alignment", "torque"))
    fits = [FitFactory(coupling__train__site=site, fitted_on=date(2024, 1, 1)) for _ in range(5)]
    after, rounds = 0, 0
    while after is not None:
        after, rounds = night(site, TODAY, after=after, at_most=2), rounds + 1
    assert rounds == 3
    assert Check.objects.filter(coupling__in=[one.coupling for one in fits]).count() == 5


def test_a_draft_or_a_record_that_does_not_feed_its_visit_settles_nothing(fit, mechanic):
    visit = sign(fit, on=TODAY, by=mechanic, aligned=True)
    record = visit.record
    visit.record = None
    with recording(by=None, at=noon(TODAY)), pytest.raises(ValueError, match="feeds"):
        after_visit(visit=visit, record=record)


def test_nothing_is_planned_where_no_policy_was_written(mechanic, other_site):
    fit = FitFactory(coupling__train__site=SiteFactory(name="Third"), fitted_on=date(2020, 1, 1))
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    assert open_of(fit.coupling) == {}


@pytest.mark.django_db(transaction=True)
def test_four_nights_at_once_plan_each_check_once(mechanic):
    site = mechanic.memberships.get().site
    with recording(by=None, at=noon(TODAY)):
        load_policies(site=site, kinds=("alignment", "torque"))
    for _ in range(5):
        FitFactory(coupling__train__site=site, fitted_on=date(2024, 1, 1))
    begin, failed = threading.Barrier(4), []

    def one_night():
        begin.wait()
        try:
            night(site, TODAY)
        except Exception as error:
            failed.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=one_night) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    assert Check.objects.count() == Flag.objects.count() == 5
    assert Event.objects.count() == 15
