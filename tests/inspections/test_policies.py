"""Policies: starters marked as common practice, changed by an engineer, with all dates following at once."""

from datetime import date

import pytest
from zeal import zeal_context

from inspections.models import Check, Policy, Visit
from inspections.services.policies import load_policies, write_policy
from plant.recording import recording
from plant.refusals import NotAllowed, Refused, Stale
from tests.factories import FitFactory
from tests.inspections.signed import noon, sign

TODAY = date(2026, 10, 12)
FIRST_TWO = ("alignment", "torque")


@pytest.fixture
def fit(site, mechanic):
    fit = FitFactory(coupling__train__site=site)
    with recording(by=None, at=noon(TODAY)):
        load_policies(site=site, kinds=FIRST_TWO)
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    return fit


def write(person, site, **fields):
    with recording(by=person, at=noon(TODAY)):
        return write_policy(site=site, **fields)


# Common practice, as the specification lists it: after 500 h or 30 days of first running; alignment every 12 months.
def test_starters_are_loaded_once_and_marked_as_common_practice(site):
    with recording(by=None, at=noon(TODAY)):
        assert len(load_policies(site=site, kinds=FIRST_TWO)) == 2
        assert load_policies(site=site, kinds=FIRST_TWO) == []
    rows = {one.check_kind: one for one in Policy.objects.filter(site=site)}
    assert {one.mark for one in rows.values()} == {"common practice"}
    assert (rows["alignment"].every_months, rows["alignment"].mode) == (12, "window")
    assert [(one.first_days, one.first_hours) for one in rows.values()] == [(30, 500), (30, 500)]
    assert rows["torque"].every_months is None


def test_a_policy_that_was_changed_is_not_loaded_over(site, engineer):
    with recording(by=None, at=noon(TODAY)):
        load_policies(site=site, kinds=FIRST_TWO)
    write(engineer, site, check_kind="alignment", every_months=6)
    with recording(by=None, at=noon(TODAY)):
        load_policies(site=site, kinds=FIRST_TWO)
    policy = Policy.objects.get(site=site, check_kind="alignment")
    assert (policy.every_months, policy.mark, policy.first_days) == (6, "site", 30)


def test_changing_a_policy_moves_its_dates_at_once(fit, engineer):
    write(engineer, fit.site, check_kind="alignment", first_days=14, crew_hours=5)
    check = Check.objects.get(coupling=fit.coupling, kind="alignment", settled_on=None)
    assert (check.due_on, check.crew_hours) == (date(2026, 10, 26), 5)


def test_the_policy_of_a_trains_criticality_goes_before_the_one_for_all(fit, engineer):
    write(engineer, fit.site, check_kind="alignment", criticality="A", every_months=3)
    check = Check.objects.get(coupling=fit.coupling, kind="alignment", settled_on=None)
    assert (check.winner, check.due_on) == ("policy", date(2027, 1, 12))
    write(engineer, fit.site, check_kind="alignment", criticality="C", every_months=1)
    check.refresh_from_db()
    assert check.due_on == date(2027, 1, 12)


def test_a_planner_may_not_write_policies(site, planner):
    with pytest.raises(NotAllowed):
        write(planner, site, check_kind="alignment", every_months=6)


def test_a_policy_changed_meanwhile_is_stale(fit, engineer):
    write(engineer, fit.site, check_kind="alignment", every_months=6, expected=1)
    with pytest.raises(Stale):
        write(engineer, fit.site, check_kind="alignment", every_months=9, expected=1)


@pytest.mark.parametrize(
    "fields, field, message",
    [
        ({"every_months": 0}, "every_months", "from 1 to 240"),
        ({"every_months": 241}, "every_months", "from 1 to 240"),
        ({"window_share": 0.6}, "window_share", "from 0 to 50 %"),
        ({"window_share": float("nan")}, "window_share", "from 0 to 50 %"),
        ({"first_days": 0}, "first_days", "from 1 to 3650"),
        ({"first_hours": float("inf")}, "first_hours", "from 1 to 100 000"),
        ({"crew_hours": -1}, "crew_hours", "from 0 to 1000"),
        ({"crew_size": 0}, "crew_size", "from 1 to 100"),
        ({"mode": "sometimes"}, "mode", "not a valid choice"),
        ({"every_months": "often"}, "every_months", "must be an integer"),
        ({"colour": "red"}, "colour", "no such field"),
        ({}, "", "needs an interval"),
    ],
)
def test_a_policy_that_cannot_be_is_refused_beside_its_field(site, engineer, fields, field, message):
    with pytest.raises(Refused) as refusal:
        write(engineer, site, check_kind="alignment", **fields)
    assert message in refusal.value.as_dict()[field]
    assert not Policy.objects.exists()


def test_an_unknown_kind_or_criticality_is_refused(site, engineer):
    with pytest.raises(Refused) as refusal:
        write(engineer, site, check_kind="smell", criticality="D", every_months=1)
    assert set(refusal.value.as_dict()) == {"check_kind", "criticality"}


def test_changing_a_policy_reads_as_often_for_many_couplings_as_for_one(fit, engineer, mechanic):
    for _ in range(6):
        sign(FitFactory(coupling__train__site=fit.site), on=TODAY, by=mechanic, kind="installation", aligned=True)
    # As in a request: a read that repeats for each row is refused there.
    with zeal_context():
        write(engineer, fit.site, check_kind="alignment", first_days=14)
    dates = Check.objects.filter(kind="alignment", settled_on=None).values_list("due_on", "version")
    assert list(dates) == [(date(2026, 10, 26), 2)] * 7
