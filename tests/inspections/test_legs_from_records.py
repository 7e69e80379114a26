"""Legs follow from signed surveys: which count, in one frame, at one temperature, and what a person says of them."""

from datetime import date, timedelta

import pytest

from couplings.models import Fit, TargetPart
from couplings.services.couplings import set_target
from inspections.forecasting.legs import LEGACY_U
from inspections.models import DriftState, Leg, Visit
from inspections.services.checks import redraw_site
from inspections.services.drift import count_again, leave_out, recompute_drift
from inspections.services.signing import sign_visit
from plant.models import Train
from plant.recording import recording
from plant.refusals import NotAllowed, Refused
from plant.services.meters import record_run_hours
from plant.services.service import set_service
from plant.services.units import install_unit, register_unit
from tests.factories import NOW, FitFactory
from tests.inspections.drifting import ZERO, U, noon, surveyed, write
from tests.inspections.test_signed_frame import exchanged
from tests.inspections.visits import IN_LINE, PRINTED, begin, fill_installation, save

START = date(2024, 10, 1)
MOVED = (0.03, -0.02, 0.1, 0.05)


def year(number):
    return START + timedelta(days=365 * number)


@pytest.fixture
def fit(site):
    return FitFactory(coupling__train__site=site, fitted_on=START)


def installed(fit, by, left=ZERO):
    return surveyed(fit, START, by, left=left, kind=Visit.Kind.INSTALLATION)


def moves(leg):
    return (leg.move_offset_v_mm, leg.move_offset_h_mm, leg.move_slope_v_mrad, leg.move_slope_h_mrad)


def test_a_leg_goes_from_as_left_to_the_next_as_found_and_names_both_visits(fit, mechanic):
    first = installed(fit, mechanic)
    second = surveyed(fit, year(1), mechanic, found=MOVED, left=ZERO)
    leg = Leg.objects.get()
    assert (leg.from_visit, leg.to_visit, leg.from_on, leg.to_on) == (first, second, START, year(1))
    assert moves(leg) == pytest.approx(MOVED)
    assert leg.start_variance == pytest.approx([U**2] * 4)
    assert leg.end_variance == pytest.approx([U**2] * 4)
    assert (leg.used, leg.reset, leg.legacy, leg.hours) == (True, True, False, None)
    # Nobody wrote the hour down: left at the end of its day, found at the beginning of the other.
    assert leg.days == pytest.approx(364.001)


def test_a_survey_that_moved_nothing_ends_a_leg_and_starts_the_next_with_the_same_error(fit, mechanic):
    installed(fit, mechanic)
    surveyed(fit, year(1), mechanic, found=MOVED, same=True)
    surveyed(fit, year(2), mechanic, found=ZERO, same=True)
    assert list(Leg.objects.values_list("reset", flat=True)) == [True, False]
    state = DriftState.objects.get()
    assert (state.legs, state.left_on, state.why_not) == (2, year(2), "no-fit")


def test_one_physical_state_recorded_motor_moved_then_pump_moved_is_a_leg_of_zero(fit, order, mechanic, wrench):
    """The printed survey, and the same dials walked round to the other machine: signed as two visits."""
    Fit.objects.filter(pk=fit.pk).update(fitted_on=date(2026, 10, 1))
    for on, typed, at in ((date(2026, 10, 8), PRINTED, NOW), (date(2026, 10, 12), exchanged(PRINTED), NOW)):
        kind = "installation" if typed is PRINTED else "alignment"
        with recording(by=mechanic, at=at):
            visit = begin(fit, order, mechanic, kind, on=on)
        if kind == "installation":
            fill_installation(visit, mechanic, wrench, left=typed)
        else:
            save(visit, "as-found", typed, mechanic)
            save(visit, "as-left", {"same_as": "as-found"}, mechanic)
        with recording(by=mechanic, at=at):
            sign_visit(visit=visit, left_so_reason="the crew left it so")
    leg = Leg.objects.get()
    assert set(Visit.objects.values_list("surveys__stationary", flat=True)) == {"driven", "driver"}
    assert leg.used
    assert moves(leg) == pytest.approx((0, 0, 0, 0), abs=1e-9)


def test_fifteen_degrees_over_400_mm_of_iron_are_taken_out_of_a_leg_and_make_it_weigh_less(
    fit, order, mechanic, wrench
):
    """The published figure for 15 °C over 400 mm of iron is 0.07 mm; cold and warm, the same shafts."""
    Fit.objects.filter(pk=fit.pk).update(fitted_on=date(2026, 10, 1))
    for machine in (fit.coupling.driver_machine, fit.coupling.driven_machine):
        machine.foot_planes.update(support_height_mm=400)
    with recording(by=mechanic, at=NOW):
        visit = begin(fit, order, mechanic, "installation", on=date(2026, 10, 8))
        fill_installation(visit, mechanic, wrench, left=IN_LINE | {"driver_support": "20", "driven_support": "20"})
        sign_visit(visit=visit)
        visit = begin(fit, order, mechanic, "alignment", on=date(2026, 10, 12))
        save(visit, "as-found", IN_LINE | {"driver_support": "35", "driven_support": "20"}, mechanic)
        save(visit, "as-left", {"same_as": "as-found"}, mechanic)
        sign_visit(visit=visit)
    leg = Leg.objects.get()
    assert leg.from_corrected
    assert leg.to_corrected
    # What the dials read as level is 0.07 mm low once the motor is cold: that much is in the leg, not its opposite.
    assert moves(leg) == pytest.approx((-0.07, 0, 0, 0), abs=0.005)
    assert leg.end_variance[0] > leg.start_variance[0]


@pytest.mark.parametrize("same", [False, True])
def test_a_survey_after_the_first_foot_was_loosened_never_ends_a_leg(fit, mechanic, same):
    installed(fit, mechanic)
    at = noon(year(1))
    surveyed(fit, year(1), mechanic, found=(0.2, 0, 0, 0), same=same, taken=at, loosened=at - timedelta(hours=1))
    leg = Leg.objects.get()
    assert leg.why_not == "loosened"
    assert not leg.used


def test_what_was_left_as_found_before_its_feet_were_tried_starts_no_leg(fit, mechanic):
    installed(fit, mechanic)
    surveyed(fit, year(1), mechanic, found=MOVED, same=True, soft_foot=True)
    surveyed(fit, year(2), mechanic, found=MOVED, same=True)
    assert list(Leg.objects.values_list("why_not", flat=True)) == ["", "spell"]


def test_found_and_not_measured_again_nobody_knows_how_it_was_left(fit, mechanic):
    installed(fit, mechanic)
    surveyed(fit, year(1), mechanic, found=MOVED)
    surveyed(fit, year(2), mechanic, found=MOVED)
    assert list(Leg.objects.values_list("why_not", flat=True)) == ["", "no-as-left"]
    assert DriftState.objects.get().why_not == "no-survey"


def test_an_uncoupled_spell_breaks_a_leg_and_taking_it_back_mends_it(fit, mechanic, keeper, planner):
    installed(fit, mechanic)
    surveyed(fit, year(1), mechanic, found=MOVED, same=True)
    train = Train.objects.get(pk=fit.coupling.train_id)
    with recording(by=keeper, at=noon(year(2))):
        set_service(train=train, state="uncoupled", at=noon(START + timedelta(days=100)))
        set_service(train=train, state="in", at=noon(START + timedelta(days=110)))
    assert Leg.objects.get().why_not == "spell"


def test_another_machine_in_between_breaks_a_leg(fit, mechanic, keeper):
    installed(fit, mechanic)
    surveyed(fit, year(1), mechanic, found=MOVED, same=True)
    assert Leg.objects.get().used
    with recording(by=keeper, at=noon(year(1))):
        unit = register_unit(site=fit.site, kind="motor", serial="M-2")
        install_unit(unit=unit, machine=fit.coupling.driver_machine, at=noon(START + timedelta(days=50)))
    assert Leg.objects.get().why_not == "spell"


def test_another_coupling_in_between_breaks_a_leg(fit, mechanic):
    installed(fit, mechanic)
    Fit.objects.filter(pk=fit.pk).update(removed_on=START + timedelta(days=20), removal_reason="worn")
    after = FitFactory(coupling=fit.coupling, fitted_on=START + timedelta(days=21), sheet_version=fit.sheet_version)
    surveyed(after, year(1), mechanic, found=MOVED, same=True)
    assert Leg.objects.get().why_not == "spell"


def test_an_old_cards_figures_enter_without_a_direction_and_with_a_large_variance(fit, mechanic):
    surveyed(fit, START, mechanic, kind=Visit.Kind.LEGACY, stated=(0.04, None))
    surveyed(fit, year(1), mechanic, found=MOVED, same=True)
    leg = Leg.objects.get()
    assert (leg.legacy, leg.from_survey, leg.used) == (True, None, True)
    assert leg.start == [0, 0, None, None]
    # Half the square of a length for each of two directions, and the starter for figures without readings.
    assert leg.start_variance[:2] == pytest.approx([0.04**2 / 2 + LEGACY_U[0] ** 2] * 2)
    assert moves(leg)[2] is None


def test_a_new_target_is_no_movement(fit, mechanic, engineer):
    installed(fit, mechanic)
    surveyed(fit, year(1), mechanic, found=MOVED, same=True)
    before = moves(Leg.objects.get())
    with recording(by=engineer, at=noon(year(1))):
        set_target(coupling=fit.coupling, offset_v_mm=0.1)
    assert TargetPart.objects.count() == 1
    leg = Leg.objects.get()
    assert moves(leg) == before
    assert leg.start[0] == pytest.approx(-0.1)


def test_an_amendment_moves_the_end_of_its_leg_and_taking_the_survey_back_takes_the_leg(fit, mechanic):
    installed(fit, mechanic)
    visit = surveyed(fit, year(1), mechanic, found=MOVED, same=True)
    leg = Leg.objects.get()
    with recording(by=mechanic, at=noon(year(1))):
        write(visit, mechanic, found=ZERO, same=True, amends=visit.record)
    again = Leg.objects.get()
    assert (again.pk, moves(again)) == (leg.pk, ZERO)
    assert again.version > leg.version
    with recording(by=mechanic, at=noon(year(1))):
        write(visit, mechanic, left=ZERO, amends=visit.record)
    assert not Leg.objects.exists()


def test_run_hours_of_a_leg_follow_the_meter(fit, mechanic):
    installed(fit, mechanic)
    surveyed(fit, year(1), mechanic, found=MOVED, same=True)
    with recording(by=mechanic, at=noon(year(1)) + timedelta(days=1)):
        record_run_hours(train=fit.coupling.train, hours=1000, at=noon(START))
        record_run_hours(train=fit.coupling.train, hours=1000 + 24 * 365, at=noon(year(1)))
    leg = Leg.objects.get()
    assert leg.hours == pytest.approx(24 * leg.days, rel=1e-6)


def test_a_leg_left_out_is_kept_with_who_and_why_and_counts_again_when_taken_back(fit, mechanic, engineer):
    installed(fit, mechanic)
    surveyed(fit, year(1), mechanic, found=MOVED, same=True)
    surveyed(fit, year(2), mechanic, found=MOVED, same=True)
    leg = Leg.objects.order_by("to_on").first()
    with pytest.raises(NotAllowed), recording(by=mechanic, at=noon(year(2))):
        leave_out(leg=leg, reason="I do not like it")
    with pytest.raises(Refused), recording(by=engineer, at=noon(year(2))):
        leave_out(leg=leg, reason="  ")
    with recording(by=engineer, at=noon(year(2))):
        leg.refresh_from_db()
        leg = leave_out(leg=leg, reason="read on a bent bracket", expected=leg.version)
    assert (leg.why_not, leg.left_out_by, leg.left_out_reason) == ("left-out", engineer, "read on a bent bracket")
    assert DriftState.objects.get().legs == 1
    # What starts where it ended has a reading of its own now.
    assert Leg.objects.order_by("to_on").last().reset
    with recording(by=None, at=noon(year(2))):
        assert redraw_site(site=fit.site, today=year(2)) is None
    assert Leg.objects.order_by("to_on").first().why_not == "left-out"
    with recording(by=engineer, at=noon(year(2))):
        assert count_again(leg=leg).used
    assert DriftState.objects.get().legs == 2


def test_bringing_up_to_date_twice_writes_nothing(fit, mechanic):
    installed(fit, mechanic)
    surveyed(fit, year(1), mechanic, found=MOVED, same=True)
    before = [list(model.objects.values()) for model in (Leg, DriftState)]
    with recording(by=None, at=noon(year(1))) as unit:
        assert recompute_drift(couplings=[fit.coupling_id], today=year(1)) == []
        assert unit.roots == {}
    assert [list(model.objects.values()) for model in (Leg, DriftState)] == before


def test_a_coupling_that_was_never_surveyed_has_no_rows(fit):
    with recording(by=None, at=noon(START)):
        recompute_drift(couplings=[fit.coupling_id])
    assert not DriftState.objects.exists()
    assert not Leg.objects.exists()
