"""Wear, running looks, lubricant, elements and follow-ups: what asks for them, and which signed work does them."""

from datetime import date, timedelta

import pytest

from inspections.models import Check, Flag, OtherWork, Visit
from inspections.reasons import check_sentence
from inspections.services.policies import load_policies, write_policy
from plant.models import Meter, MeterReading
from plant.recording import recording
from tests.factories import FitFactory
from tests.inspections.signed import noon, sign

TODAY = date(2026, 10, 12)


@pytest.fixture
def fit(site):
    return FitFactory(coupling__train__site=site, coupling__train__criticality="A", fitted_on=TODAY)


def policies(site, *kinds, **fields):
    with recording(by=None, at=noon(TODAY)):
        load_policies(site=site, kinds=kinds)
        for kind in kinds if fields else ():
            write_policy(site=site, check_kind=kind, **fields)


def open_of(fit):
    return {one.kind: one for one in Check.objects.filter(coupling=fit.coupling, settled_on=None)}


def written(site, kind, at=TODAY, **fields):
    with recording(by=None, at=noon(at)):
        return write_policy(site=site, check_kind=kind, **fields)


# The marks and figures are those of the starters' file: common practice.
def test_the_starters_have_every_kind_but_the_element_whose_life_a_site_must_say(site):
    with recording(by=None, at=noon(TODAY)):
        loaded = load_policies(site=site)
    assert {one.check_kind for one in loaded} == {"alignment", "torque", "wear", "look", "lubricant", "follow-up"}
    assert {one.mark for one in loaded} == {"common practice"}
    looks = {one.criticality: one.every_months for one in loaded if one.check_kind == "look"}
    assert looks == {"A": 1, "B": 3, "C": 6}


def test_wear_is_asked_for_a_year_after_the_fit_and_done_by_grades(fit, mechanic):
    policies(fit.site, "wear")
    assert open_of(fit)["wear"].due_on == date(2027, 10, 12)
    sign(fit, on=date(2027, 9, 20), by=mechanic, worn=True)
    assert Check.objects.get(coupling=fit.coupling, outcome="done").kind == "wear"
    # Done inside the window of 10 %, so it counts from the due date.
    assert open_of(fit)["wear"].due_on == date(2028, 10, 12)


def test_an_alignment_alone_does_not_do_the_wear_check(fit, mechanic):
    policies(fit.site, "wear")
    sign(fit, on=date(2027, 9, 20), by=mechanic, aligned=True)
    assert open_of(fit)["wear"].due_on == date(2027, 10, 12)


def test_the_running_look_goes_by_the_trains_criticality(fit):
    policies(fit.site, "look")
    check = open_of(fit)["look"]
    assert (check.due_on, check.needs_stop) == (date(2026, 11, 12), False)


def test_the_lubricant_is_asked_for_only_where_the_family_has_one(fit):
    policies(fit.site, "lubricant")
    assert open_of(fit) == {}
    family = fit.sheet_version.sheet.family
    family.lubricated = True
    family.save()
    written(fit.site, "lubricant", every_months=6)
    assert open_of(fit)["lubricant"].due_on == date(2027, 4, 12)


def test_an_element_is_due_by_its_own_age_and_done_by_a_new_one(fit):
    written(fit.site, "element", every_months=24)
    assert open_of(fit) == {}
    fit.elements.create(site=fit.site, part_number="E-80", fitted_on=date(2026, 3, 31))
    written(fit.site, "element", every_months=23)
    check = open_of(fit)["element"]
    # The last day of February is the 29th in a leap year.
    assert (check.winner, check.due_on) == ("element-age", date(2028, 2, 29))
    assert "fitted on 31 March 2026" in check_sentence(check)


def test_run_hours_since_it_was_last_done_bring_a_check_forward(fit):
    meter = Meter.objects.create(site=fit.site, train=fit.coupling.train)
    MeterReading.objects.create(meter=meter, at=noon(TODAY - timedelta(days=100)), hours=1000)
    MeterReading.objects.create(meter=meter, at=noon(TODAY), hours=1000 + 100 * 24)
    written(fit.site, "wear", every_months=12, every_hours=1200)
    check = open_of(fit)["wear"]
    # 1200 h at 24 h a day are 50 days from the end of 12 October.
    assert (check.winner, check.due_on, check.runner_up) == ("run-hours", date(2026, 12, 2), "policy")
    assert "every 1200\u00a0h of running" in check_sentence(check)


def test_standby_leaves_the_calendar_and_a_replaced_meter_is_no_negative_running(fit):
    meter = Meter.objects.create(site=fit.site, train=fit.coupling.train)
    MeterReading.objects.create(meter=meter, at=noon(TODAY - timedelta(days=100)), hours=5000)
    MeterReading.objects.create(meter=meter, at=noon(TODAY), hours=5000)
    written(fit.site, "wear", every_months=12, every_hours=1200)
    assert open_of(fit)["wear"].winner == "policy"
    MeterReading.objects.create(meter=meter, at=noon(TODAY + timedelta(days=10)), hours=3)
    written(fit.site, "wear", every_months=12, every_hours=1300)
    assert open_of(fit)["wear"].winner == "policy"


def test_hours_that_were_not_read_for_sixty_days_are_called_estimated(fit):
    meter = Meter.objects.create(site=fit.site, train=fit.coupling.train)
    MeterReading.objects.create(meter=meter, at=noon(TODAY - timedelta(days=200)), hours=1000)
    MeterReading.objects.create(meter=meter, at=noon(TODAY - timedelta(days=60)), hours=1000 + 140 * 24)
    written(fit.site, "wear", every_months=12, every_hours=1200)
    assert "Hours estimated" in check_sentence(open_of(fit)["wear"])


@pytest.mark.parametrize("kind, words", [("foundation", "work on the foundation"), ("pipe", "work on the pipes")])
def test_work_on_foundation_or_pipes_asks_for_alignment_and_torque_once(fit, mechanic, kind, words):
    sign(fit, on=TODAY, by=mechanic, aligned=True, torqued=True)
    OtherWork.objects.create(
        site=fit.site, coupling=fit.coupling, kind=kind, on=TODAY + timedelta(days=5), by=mechanic, at=noon(TODAY)
    )
    policies(fit.site, "alignment", "torque")
    checks = open_of(fit)
    assert {(one.winner, one.due_on) for one in checks.values()} == {("first-days", date(2026, 11, 16))}
    assert f"after {words} on 17 October 2026" in check_sentence(checks["torque"])
    sign(fit, on=date(2026, 11, 15), by=mechanic, aligned=True, torqued=True)
    assert {kind: one.winner for kind, one in open_of(fit).items()} == {"alignment": "policy"}


def test_a_policy_may_leave_other_work_alone(fit, mechanic):
    OtherWork.objects.create(site=fit.site, coupling=fit.coupling, kind="pipe", on=TODAY, at=noon(TODAY))
    written(fit.site, "torque", first_days=30)
    assert open_of(fit) == {}


def test_a_visit_that_moved_the_machine_asks_for_the_first_running_again(fit, mechanic):
    policies(fit.site, "alignment")
    sign(fit, on=TODAY, by=mechanic, aligned=True, found=True)
    check = open_of(fit)["alignment"]
    assert (check.winner, check.due_on) == ("first-days", date(2026, 11, 11))
    assert "after the re-alignment" in check_sentence(check)


def test_what_was_found_opens_a_follow_up_with_its_own_date(fit, mechanic):
    policies(fit.site, "alignment", "follow-up")
    sign(fit, on=TODAY, by=mechanic, aligned=True, verdict="out of tolerance")
    checks = open_of(fit)
    # The check itself is done and has its next date; the finding has another.
    assert checks["alignment"].due_on == date(2027, 10, 12)
    assert (checks["follow-up"].due_on, checks["follow-up"].winner) == (date(2026, 11, 11), "finding")
    assert "out of tolerance, found on 12 October 2026" in check_sentence(checks["follow-up"])
    sign(fit, on=date(2026, 11, 2), by=mechanic, torqued=True)
    assert open_of(fit)["follow-up"].pk == checks["follow-up"].pk
    sign(fit, on=date(2026, 11, 3), by=mechanic, aligned=True)
    assert "follow-up" not in open_of(fit)
    assert Check.objects.get(pk=checks["follow-up"].pk).outcome == "done"


def test_a_follow_up_that_finds_the_same_again_is_done_and_another_opens(fit, mechanic):
    policies(fit.site, "follow-up")
    sign(fit, on=TODAY, by=mechanic, aligned=True, verdict="out of tolerance")
    first = open_of(fit)["follow-up"]
    sign(fit, on=date(2026, 11, 3), by=mechanic, aligned=True, verdict="out of tolerance")
    second = open_of(fit)["follow-up"]
    assert (second.pk != first.pk, second.due_on) == (True, date(2026, 12, 3))


def test_a_flag_cleared_by_hand_takes_its_follow_up_away(fit, mechanic, engineer):
    from inspections.services.flags import clear_flag

    policies(fit.site, "follow-up")
    sign(fit, on=TODAY, by=mechanic, aligned=True, verdict="out of tolerance")
    with recording(by=engineer, at=noon(TODAY)):
        clear_flag(flag=Flag.objects.get(coupling=fit.coupling), cause="the reading was of the neighbour")
    assert open_of(fit) == {}
    gone = Check.objects.get(coupling=fit.coupling, kind="follow-up")
    assert (gone.outcome, gone.cause) == ("cancelled", "what was found stands no more")


def test_an_installation_settles_no_kind_it_did_not_do(fit, mechanic):
    policies(fit.site, "wear", "lubricant", "look")
    before = {kind: one.pk for kind, one in open_of(fit).items()}
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    assert {kind: one.pk for kind, one in open_of(fit).items()} == before
