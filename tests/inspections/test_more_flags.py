"""Flags for what is left with a reason, loose, over age, in doubt, unread or unmeasured; and who saw them."""

from datetime import date, timedelta

import pytest

from inspections.models import Flag, SurveyResult, Torque, Visit
from inspections.reasons import flag_sentence
from inspections.selectors.flags import chain_of
from inspections.services.checks import recompute_site
from inspections.services.flags import acknowledge_flag, clear_flag, open_flag
from inspections.services.policies import load_policies, write_policy
from inspections.services.visit_flags import flag_visits
from plant.models import Meter, MeterReading
from plant.recording import recording
from plant.refusals import NotAllowed, Refused
from tests.factories import FitFactory, InstrumentFactory
from tests.inspections.signed import amend, noon, sign

TODAY = date(2026, 10, 12)


@pytest.fixture
def fit(site):
    return FitFactory(coupling__train__site=site, fitted_on=date(2024, 1, 1))


def open_of(fit):
    return {one.kind: one for one in Flag.objects.filter(coupling=fit.coupling, cleared_at=None)}


def written(site, kind, **fields):
    with recording(by=None, at=noon(TODAY)):
        return write_policy(site=site, check_kind=kind, **fields)


def night(site, on):
    with recording(by=None, at=noon(on)):
        recompute_site(site=site, today=on)


def again(fit):
    with recording(by=None, at=noon(TODAY)):
        flag_visits(coupling=fit.coupling)


def test_a_visit_signed_with_a_reason_is_flagged_until_the_alignment_is_in_tolerance(fit, mechanic):
    visit = sign(fit, on=TODAY, by=mechanic, aligned=True, verdict="out of tolerance")
    Visit.objects.filter(pk=visit.pk).update(left_so_reason="no shims of that size in the stores")
    again(fit)
    assert "no shims of that size" in flag_sentence(open_of(fit)["left-so"])
    sign(fit, on=TODAY + timedelta(days=3), by=mechanic, aligned=True)
    assert "left-so" not in open_of(fit)


def test_a_joint_below_its_torque_is_loose_and_loose_again_is_said(fit, mechanic):
    sign(fit, on=TODAY, by=mechanic, loose=["hub bolts"])
    assert "hub bolts (position 1 below)" in flag_sentence(open_of(fit)["loose"])
    assert "lost-twice" not in open_of(fit)
    sign(fit, on=TODAY + timedelta(days=30), by=mechanic, loose=["hub bolts"])
    assert "it was so on 12 October 2026 too" in flag_sentence(open_of(fit)["lost-twice"])
    sign(fit, on=TODAY + timedelta(days=60), by=mechanic, torqued=True)
    assert open_of(fit) == {}


def test_an_amendment_that_takes_the_loose_joint_back_clears_the_flag(fit, mechanic):
    visit = sign(fit, on=TODAY, by=mechanic, loose=["hub bolts"])
    amend(visit, by=mechanic, torqued=True)
    assert open_of(fit) == {}


def test_an_element_past_its_age_is_flagged_and_a_new_one_clears_it(fit):
    element = fit.elements.create(site=fit.site, part_number="E-80", fitted_on=date(2024, 10, 12))
    written(fit.site, "element", every_months=24)
    assert "element-age" not in open_of(fit)
    night(fit.site, TODAY + timedelta(days=1))
    said = flag_sentence(open_of(fit)["element-age"])
    assert said == "The element E-80, fitted on 12 October 2024, was to be replaced by 12 October 2026."
    element.fitted_on = TODAY
    element.save()
    night(fit.site, TODAY + timedelta(days=2))
    assert "element-age" not in open_of(fit)


@pytest.mark.parametrize(
    "quality, said",
    [
        ({"closure_mm": 0.09, "closure_sd_mm": 0.02}, "opposite readings differ by 0.09 mm"),
        ({"return_to_zero_mm": -0.2}, "came back 0.20 mm off"),
    ],
)
def test_readings_in_doubt_are_flagged(fit, mechanic, quality, said):
    visit = sign(fit, on=TODAY, by=mechanic)
    _survey(visit, quality)
    again(fit)
    assert said in flag_sentence(open_of(fit)["readings"])


def test_a_coarse_instrument_may_not_close_better_than_it_reads(fit, mechanic):
    visit = sign(fit, on=TODAY, by=mechanic)
    _survey(visit, {"closure_mm": 0.09, "closure_sd_mm": 0.05})
    again(fit)
    assert open_of(fit) == {}


def _survey(visit, quality):
    survey = visit.surveys.create(
        site=visit.site, record=visit.record, number=1, as_left=True, method="direct", stationary="driven",
        viewed_from="movable",
    )  # fmt: skip
    SurveyResult.objects.create(
        survey=survey, rule_version="1", covariance=[None] * 10, confidence=0.95, decision="guarded",
        verdict="not known", sheet_verdict="not known", grade_verdict="not known", quality=[quality],
    )  # fmt: skip


def test_an_instrument_out_of_calibration_is_flagged_until_checked_with_another(fit, mechanic):
    wrench = InstrumentFactory(site=fit.site, kind="torque-set", name="Click wrench", serial="T-9")
    visit = sign(fit, on=TODAY, by=mechanic)
    Torque.objects.create(
        visit=visit, record=visit.record, joint="hub bolts", how="set", torque_nm=45, instrument=wrench,
        out_of_calibration=True,
    )  # fmt: skip
    again(fit)
    assert "Click wrench T-9" in flag_sentence(open_of(fit)["instrument"])
    sign(fit, on=TODAY + timedelta(days=1), by=mechanic, torqued=True)
    assert open_of(fit) == {}


def test_a_meter_not_read_for_half_a_year_is_flagged_where_dates_go_by_hours(fit):
    meter = Meter.objects.create(site=fit.site, train=fit.coupling.train)
    for days, hours in ((400, 1000), (179, 3000)):
        MeterReading.objects.create(meter=meter, at=noon(TODAY - timedelta(days=days)), hours=hours)
    written(fit.site, "wear", every_months=120, every_hours=100_000)
    assert "hours-estimated" not in open_of(fit)
    night(fit.site, TODAY + timedelta(days=1))
    assert "last read on 16 April 2026" in flag_sentence(open_of(fit)["hours-estimated"])
    MeterReading.objects.create(meter=meter, at=noon(TODAY), hours=4000)
    night(fit.site, TODAY + timedelta(days=1))
    assert "hours-estimated" not in open_of(fit)


def test_a_meter_never_read_is_flagged_only_where_a_policy_goes_by_hours(fit):
    written(fit.site, "wear", every_months=120)
    assert "hours-estimated" not in open_of(fit)
    written(fit.site, "wear", every_hours=4000)
    assert "never read" in flag_sentence(open_of(fit)["hours-estimated"])


def test_an_installation_whose_alignment_was_not_measured_is_flagged(fit, mechanic):
    with recording(by=None, at=noon(TODAY)):
        load_policies(site=fit.site, kinds=("alignment",))
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, torqued=True)
    assert "Installed on 12 October 2026" in flag_sentence(open_of(fit)["survey-missing"])
    sign(fit, on=TODAY + timedelta(days=1), by=mechanic, aligned=True)
    assert "survey-missing" not in open_of(fit)


def test_out_of_service_nothing_is_asked_for(fit, mechanic):
    written(fit.site, "wear", every_hours=4000)
    train = fit.coupling.train
    train.service = "out"
    train.save()
    night(fit.site, TODAY + timedelta(days=1))
    assert open_of(fit) == {}


def test_who_saw_it_first_and_when_stays(fit, engineer):
    with recording(by=None, at=noon(TODAY)):
        flag = open_flag(coupling=fit.coupling, kind=Flag.Kind.OUT, evidence={})
    with recording(by=engineer, at=noon(TODAY)):
        acknowledge_flag(flag=flag)
    assert (flag.acknowledged_by, flag.acknowledged_at) == (engineer, noon(TODAY))
    with recording(by=engineer, at=noon(TODAY + timedelta(days=1))), pytest.raises(Refused, match="already"):
        acknowledge_flag(flag=flag)


def test_a_mechanic_does_not_acknowledge(fit, mechanic):
    with recording(by=None, at=noon(TODAY)):
        flag = open_flag(coupling=fit.coupling, kind=Flag.Kind.OUT, evidence={})
    with recording(by=mechanic, at=noon(TODAY)), pytest.raises(NotAllowed):
        acknowledge_flag(flag=flag)


@pytest.mark.parametrize("kind", ["overdue", "element-age", "hours-estimated", "survey-missing"])
def test_what_the_dates_say_is_not_cleared_by_hand(fit, engineer, kind):
    with recording(by=None, at=noon(TODAY)):
        flag = open_flag(coupling=fit.coupling, kind=kind, evidence={})
    with recording(by=engineer, at=noon(TODAY)), pytest.raises(Refused, match="clears itself"):
        clear_flag(flag=flag, cause="looks fine")


def test_a_condition_that_comes_back_names_every_one_before_it(fit, mechanic):
    for days in (0, 20, 40):
        sign(fit, on=TODAY + timedelta(days=days), by=mechanic, loose=["hub bolts"])
        sign(fit, on=TODAY + timedelta(days=days + 10), by=mechanic, torqued=True)
    last = Flag.objects.filter(coupling=fit.coupling, kind="loose").order_by("-pk").first()
    assert [one.opened_at.date() for one in chain_of(last)] == [date(2026, 11, 1), TODAY]
    assert not Flag.objects.filter(kind="lost-twice").exists()


def test_what_somebody_cleared_with_a_cause_opens_no_other_flag_until_something_new_is_found(fit, mechanic, engineer):
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.PERIODIC, aligned=True, verdict="out of tolerance")
    flag = Flag.objects.get(coupling=fit.coupling, kind="out-of-tolerance", cleared_at=None)
    with recording(by=engineer, at=noon(TODAY)):
        clear_flag(flag=flag, cause="the limits of the old data sheet")
    # A visit that measured nothing, and the night, ask the same survey again.
    sign(fit, on=TODAY + timedelta(days=1), by=mechanic, torqued=True)
    night(fit.site, TODAY + timedelta(days=2))
    assert not Flag.objects.filter(coupling=fit.coupling, kind="out-of-tolerance", cleared_at=None).exists()
    sign(fit, on=TODAY + timedelta(days=3), by=mechanic, aligned=True, verdict="out of tolerance")
    again = Flag.objects.get(coupling=fit.coupling, kind="out-of-tolerance", cleared_at=None)
    assert again.previous == flag


def test_what_a_later_visit_cleared_opens_again_when_an_amendment_takes_that_visit_back(fit, mechanic):
    sign(fit, on=TODAY, by=mechanic, aligned=True, verdict="out of tolerance")
    later = sign(fit, on=TODAY + timedelta(days=1), by=mechanic, aligned=True)
    assert not Flag.objects.filter(coupling=fit.coupling, kind="out-of-tolerance", cleared_at=None).exists()
    amend(later, by=mechanic, torqued=True)
    assert Flag.objects.get(coupling=fit.coupling, kind="out-of-tolerance", cleared_at=None).previous is not None
