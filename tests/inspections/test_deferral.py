"""Deferring, pinning, cancelling, owning and dating one check: what happens, what is told, what is refused."""

from datetime import date, timedelta

import pytest

from inspections.models import Check, Flag, Visit
from inspections.reasons import check_sentence
from inspections.selectors.checks import checks_due, state_at
from inspections.selectors.outings import outings_at
from inspections.services.checks import recompute_site
from inspections.services.deferral import (
    cancel_check,
    defer_check,
    own_check,
    pin_check,
    take_date,
    withdraw_deferral,
)
from inspections.services.flags import open_flag
from inspections.services.other_work import report_other_work, take_back_other_work
from inspections.services.policies import load_policies, write_policy
from plant.models import Event
from plant.recording import recording
from plant.refusals import NotAllowed, Refused, Stale
from plant.services.register import change_site
from tests.factories import CouplingFactory, FitFactory
from tests.inspections.signed import noon, sign

TODAY = date(2026, 10, 12)


@pytest.fixture
def fit(site, mechanic):
    made = FitFactory(coupling__train__site=site, fitted_on=TODAY)
    with recording(by=None, at=noon(TODAY)):
        load_policies(site=site, kinds=("alignment", "torque"))
    sign(made, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    return made


@pytest.fixture
def check(fit):
    """Due on 11 November 2026, its window 8 to 14 November."""
    return Check.objects.get(coupling=fit.coupling, kind="alignment", settled_on=None)


def act(by, service, at=TODAY, **given):
    with recording(by=by, at=noon(at)):
        return service(**given)


def night(site, on):
    with recording(by=None, at=noon(on)):
        recompute_site(site=site, today=on)


def told(fit):
    return list(Event.objects.filter(lane=fit.coupling.uuid).order_by("no").values_list("kind", flat=True))


def test_a_deferred_check_is_due_on_the_new_day_and_says_from_when_and_why(fit, check, planner):
    act(planner, defer_check, check=check, until=date(2026, 12, 20), reason="no stop before Christmas")
    check.refresh_from_db()
    assert (check.opens_on, check.due_on, check.closes_on) == (date(2026, 12, 20),) * 3
    assert (check.deferred_by, check.deferred_at) == (planner, noon(TODAY))
    assert "(no stop before Christmas), was due 11 November 2026" in check_sentence(check)
    assert state_at(check, date(2026, 12, 1)) == "deferred"
    assert [state_at(check, date(2026, 12, day)) for day in (20, 21)] == ["due", "overdue"]
    event = Event.objects.get(kind="check.deferred")
    assert (event.payload["was_due_on"], event.payload["due_on"]) == ("2026-11-11", "2026-12-20")
    assert "check.rescheduled" not in told(fit)


def test_a_deferred_check_is_not_overdue_before_its_day_and_is_told_again_on_it(fit, check, site, planner):
    act(planner, defer_check, check=check, until=date(2026, 12, 20), reason="no stop")
    night(site, date(2026, 12, 1))
    assert told(fit).count("check.due") == 1  # the torque check's
    night(site, date(2026, 12, 20))
    night(site, date(2026, 12, 21))
    assert told(fit).count("check.due") == 2
    assert told(fit).count("check.overdue") == 2
    assert check not in checks_due(planner, date(2026, 12, 19))


def test_work_done_while_deferred_settles_the_check_and_the_next_counts_as_ever(fit, check, mechanic, planner):
    act(planner, defer_check, check=check, until=date(2026, 12, 20), reason="no stop")
    sign(fit, on=date(2026, 11, 20), by=mechanic, aligned=True)
    check.refresh_from_db()
    assert (check.outcome, check.settled_on) == ("done", date(2026, 11, 20))
    following = Check.objects.get(coupling=fit.coupling, kind="alignment", settled_on=None)
    assert (following.winner, following.deferred_until) == ("policy", None)


def test_a_withdrawn_deferral_brings_the_old_day_back(fit, check, planner):
    act(planner, defer_check, check=check, until=date(2026, 12, 20), reason="no stop")
    act(planner, withdraw_deferral, check=check)
    check.refresh_from_db()
    assert (check.due_on, check.deferred_until, check.deferred_reason) == (date(2026, 11, 11), None, "")
    assert told(fit).count("check.rescheduled") == 1


def test_a_deferral_is_moot_when_the_check_comes_later_anyway(fit, check, planner, engineer):
    act(planner, defer_check, check=check, until=date(2026, 11, 20), reason="no stop")
    act(engineer, write_policy, site=fit.site, check_kind="alignment", first_days=60, first_hours=None)
    check.refresh_from_db()
    assert check.due_on == date(2026, 12, 11)
    assert "was due" not in check_sentence(check)


def test_a_cancelled_check_leaves_out_that_one_date(fit, check, mechanic, planner):
    sign(fit, on=date(2026, 11, 11), by=mechanic, aligned=True)
    regular = Check.objects.get(coupling=fit.coupling, kind="alignment", settled_on=None)
    act(planner, cancel_check, check=regular, reason="the train is rebuilt that month", at=date(2026, 11, 12))
    regular.refresh_from_db()
    assert (regular.outcome, regular.cause, regular.skipped) == ("cancelled", "the train is rebuilt that month", True)
    following = Check.objects.get(coupling=fit.coupling, kind="alignment", settled_on=None)
    assert following.due_on == regular.due_on.replace(year=regular.due_on.year + 1)
    assert "cancelled" in check_sentence(following)
    night(fit.site, date(2026, 11, 13))
    assert Check.objects.filter(coupling=fit.coupling, kind="alignment", settled_on=None).get().pk == following.pk


def test_a_cancelled_first_running_check_does_not_come_back(fit, check, planner):
    act(planner, cancel_check, check=check, reason="run in at the workshop")
    following = Check.objects.get(coupling=fit.coupling, kind="alignment", settled_on=None)
    assert following.winner == "policy"


def test_a_pin_stands_until_it_is_taken_out(fit, check, planner):
    act(planner, pin_check, check=check, on=date(2026, 11, 9))
    night(fit.site, TODAY + timedelta(days=1))
    check.refresh_from_db()
    assert check.pinned_on == date(2026, 11, 9)
    act(planner, pin_check, check=check, on=None)
    check.refresh_from_db()
    assert check.pinned_on is None


def test_a_check_has_an_owner_with_a_role_at_the_site(check, planner, mechanic, stranger):
    assert act(planner, own_check, check=check, owner=mechanic).owner == mechanic
    with pytest.raises(Refused, match="no role at the site"):
        act(planner, own_check, check=check, owner=stranger)


def test_a_site_whose_dates_another_system_owns_takes_its_dates_and_proposes_ours(fit, check, site, planner):
    site.dates_owner = "orders"
    site.save()
    check.refresh_from_db()
    act(planner, take_date, check=check, on=date(2026, 11, 30))
    check.refresh_from_db()
    assert (check.due_on, check.closes_on) == (date(2026, 11, 30), date(2026, 11, 30))
    assert "by the work-order system; our own date would be 11 November 2026" in check_sentence(check)
    assert told(fit).count("check.rescheduled") == 1
    act(planner, take_date, check=check, on=None)
    check.refresh_from_db()
    assert check.due_on == date(2026, 11, 11)


def test_other_work_brings_a_check_and_taking_it_back_takes_the_check_away(fit, planner, mechanic):
    later = date(2027, 1, 10)
    sign(fit, on=date(2026, 11, 11), by=mechanic, aligned=True, torqued=True)
    with recording(by=planner, at=noon(later)):
        work = report_other_work(coupling=fit.coupling, kind="pipe", on=date(2027, 1, 9))
    found = Check.objects.get(coupling=fit.coupling, kind="torque", settled_on=None)
    assert (found.winner, found.due_on) == ("first-days", date(2027, 2, 8))
    with recording(by=planner, at=noon(later)):
        take_back_other_work(work=work)
    assert not Check.objects.filter(coupling=fit.coupling, kind="torque", settled_on=None).exists()


def test_checks_of_one_train_whose_windows_overlap_are_one_outing(fit, check, site, planner):
    other = FitFactory(coupling=CouplingFactory(train__site=site, tag="FAR-1"), fitted_on=date(2026, 1, 1))
    with recording(by=None, at=noon(TODAY)):
        recompute_site(site=site, today=TODAY)
    found = outings_at(site, date(2026, 12, 31))
    assert [one.train.pk for one in found] == [fit.coupling.train_id]
    (outing,) = found
    assert [one.kind for one in outing.checks] == ["alignment", "torque"]
    # 2 people for 3 h and 2 people for 1 h: the starters' figures.
    assert (outing.crew_hours, outing.needs_stop, outing.hours_by_craft) == (8, True, {"mechanical": 8})
    assert (outing.from_on, outing.until_on) == (date(2026, 11, 8), date(2026, 11, 14))
    act(planner, defer_check, check=check, until=date(2026, 12, 20), reason="no stop")
    assert [len(one.checks) for one in outings_at(site, date(2026, 12, 31))] == [1, 1]
    assert other.coupling.train_id != fit.coupling.train_id


def test_outings_are_read_in_two_questions_however_many_there_are(site, mechanic, fit, django_assert_max_num_queries):
    for _ in range(5):
        sign(FitFactory(coupling__train__site=site), on=TODAY, by=mechanic, kind="installation", aligned=True)
    # The checks with everything beside them, and the parts that element replacements need.
    with django_assert_max_num_queries(2):
        assert len(outings_at(site, date(2027, 12, 31))) == 6


# What is refused, with its message.


@pytest.mark.parametrize(
    "given, field, message",
    [
        ({"until": date(2026, 11, 11), "reason": "x"}, "until", "due on 11 November 2026 anyway"),
        ({"until": date(2026, 10, 1), "reason": "x"}, "until", "anyway"),
        ({"until": date(2027, 2, 10), "reason": "x"}, "until", "until 9 February 2027 at most"),
        ({"until": date(2026, 12, 1), "reason": "  "}, "reason", "Say why it can wait."),
        ({"until": date(2026, 12, 1), "reason": "x" * 201}, "reason", "at most 200 characters"),
    ],
)
def test_a_deferral_that_cannot_be_is_refused_beside_its_field(check, planner, given, field, message):
    with pytest.raises(Refused) as refusal:
        act(planner, defer_check, check=check, **given)
    assert message in refusal.value.as_dict()[field]
    check.refresh_from_db()
    assert check.deferred_until is None


def test_a_deferral_to_a_day_gone_by_is_refused(check, planner):
    with pytest.raises(Refused, match="still to come"):
        act(planner, defer_check, at=date(2026, 12, 5), check=check, until=date(2026, 12, 1), reason="x")


def test_a_policy_may_allow_no_deferral(check, planner, engineer):
    act(engineer, write_policy, site=check.site, check_kind="alignment", defer_days=0)
    with pytest.raises(Refused, match="no longer than its due date"):
        act(planner, defer_check, check=check, until=date(2026, 12, 1), reason="x")


def test_dates_that_another_system_owns_are_not_deferred_here(check, site, planner):
    site.dates_owner = "orders"
    site.save()
    check.refresh_from_db()
    with pytest.raises(Refused, match="work-order system owns the dates"):
        act(planner, defer_check, check=check, until=date(2026, 12, 1), reason="x")


def test_our_own_dates_are_not_taken_from_outside(check, planner):
    with pytest.raises(Refused, match="dates are set here"):
        act(planner, take_date, check=check, on=date(2026, 12, 1))


def test_a_date_beyond_all_years_is_refused(check, site, planner):
    site.dates_owner = "orders"
    site.save()
    check.refresh_from_db()
    with pytest.raises(Refused, match="between the years 2000 and 2100"):
        act(planner, take_date, check=check, on=date(1900, 1, 1))


def test_what_follows_do_not_run_is_neither_deferred_nor_cancelled(fit, planner):
    with recording(by=None, at=noon(TODAY)):
        load_policies(site=fit.site, kinds=("follow-up",))
        open_flag(coupling=fit.coupling, kind=Flag.Kind.DO_NOT_RUN, evidence={"on": "2026-10-12", "found": []})
    follow = Check.objects.get(coupling=fit.coupling, kind="follow-up")
    with pytest.raises(Refused, match="cannot be deferred"):
        act(planner, defer_check, check=follow, until=date(2026, 12, 1), reason="x")
    with pytest.raises(Refused, match="clear that flag"):
        act(planner, cancel_check, check=follow, reason="x")


@pytest.mark.parametrize(
    "on, message", [(date(2026, 10, 11), "still to come"), (date(2026, 11, 15), "defer it first, with the reason")]
)
def test_a_pin_outside_the_window_is_refused(check, planner, on, message):
    with pytest.raises(Refused, match=message):
        act(planner, pin_check, check=check, on=on)


def test_a_check_is_not_left_out_without_a_reason(check, planner):
    with pytest.raises(Refused, match="Say why it is left out"):
        act(planner, cancel_check, check=check, reason="")


@pytest.mark.parametrize("service, given", [(withdraw_deferral, {}), (pin_check, {"on": None})])
def test_a_settled_check_stays_as_it_is(check, planner, service, given):
    act(planner, cancel_check, check=check, reason="x")
    with pytest.raises(Refused, match="settled already"):
        act(planner, service, check=check, **given)


def test_what_is_not_deferred_has_nothing_to_take_back(check, planner):
    with pytest.raises(Refused, match="is not deferred"):
        act(planner, withdraw_deferral, check=check)


def test_two_planners_at_once_do_not_overwrite_each_other(check, planner):
    seen = check.version
    act(planner, pin_check, check=check, on=date(2026, 11, 9), expected=seen)
    with pytest.raises(Stale):
        act(planner, defer_check, check=check, until=date(2026, 12, 1), reason="x", expected=seen)


def test_a_mechanic_does_not_defer(check, mechanic):
    with pytest.raises(NotAllowed):
        act(mechanic, defer_check, check=check, until=date(2026, 12, 1), reason="x")


@pytest.mark.parametrize(
    "given, field, message",
    [
        ({"kind": "roof", "on": TODAY}, "kind", "foundation, pipe"),
        ({"kind": "pipe", "on": TODAY + timedelta(days=1)}, "on", "still to come"),
        ({"kind": "pipe", "on": TODAY, "note": "x" * 201}, "note", "at most 200"),
    ],
)
def test_other_work_that_cannot_be_is_refused_beside_its_field(fit, planner, given, field, message):
    with recording(by=planner, at=noon(TODAY)), pytest.raises(Refused) as refusal:
        report_other_work(coupling=fit.coupling, **given)
    assert message in refusal.value.as_dict()[field]


def test_a_date_of_the_other_system_counts_no_longer_once_the_site_owns_its_dates_again(fit, check, keeper, planner):
    act(keeper, change_site, site=fit.site, dates_owner="orders")
    act(planner, take_date, check=check, on=date(2026, 11, 30))
    act(keeper, change_site, site=fit.site, dates_owner="here")
    check.refresh_from_db()
    assert check.due_on == date(2026, 11, 11)
    night(fit.site, TODAY)
    assert told(fit).count("check.rescheduled") == 2
    act(keeper, change_site, site=fit.site, dates_owner="orders")
    check.refresh_from_db()
    assert check.due_on == date(2026, 11, 30)


def test_another_time_zone_of_the_site_is_another_today_at_once(fit, check, keeper, site):
    """At noon UTC of the day before, it is that day already at UTC+14."""
    night(site, check.opens_on - timedelta(days=2))
    assert "check.due" not in told(fit)
    act(keeper, change_site, at=check.opens_on - timedelta(days=1), site=site, zone="Pacific/Kiritimati")
    assert told(fit).count("check.due") == 2  # alignment and torque open on the same day
