"""Dates follow their causes in the same unit of work: meter, service, criticality, retirement."""

from datetime import timedelta

import pytest

from couplings.services.couplings import retire_coupling
from inspections.models import Check, Flag, Visit
from inspections.selectors.checks import checks_due
from inspections.services.checks import recompute_site
from inspections.services.policies import load_policies
from plant.models import Event
from plant.recording import recording
from plant.refusals import Refused
from plant.services.register import change_train, record_run_hours, strike_run_hours
from plant.services.service import remove_spell, set_service
from plant.services.units import change_unit, install_unit, register_unit, swap_unit
from tests.factories import TODAY, FitFactory
from tests.inspections.signed import noon, sign


@pytest.fixture
def installed(site, mechanic):
    fit = FitFactory(coupling__train__site=site)
    with recording(by=None, at=noon(TODAY)):
        load_policies(site=site, kinds=("alignment", "torque"))
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    return fit.coupling


def open_kinds(coupling):
    return set(Check.objects.filter(coupling=coupling, settled_on=None).values_list("kind", flat=True))


def test_a_meter_reading_moves_the_date_at_once(installed):
    for days, hours in [(-60, 0.0), (0, 60 * 24.0)]:
        on = TODAY + timedelta(days=days)
        with recording(by=None, at=noon(on)):
            record_run_hours(train=installed.train, at=noon(on), hours=hours)
    check = Check.objects.get(coupling=installed, kind="alignment", settled_on=None)
    # 500 h at 24 h a day from the end of 12 October.
    assert (check.winner, check.due_on.isoformat()) == ("first-hours", "2026-11-02")


def test_a_struck_meter_reading_moves_the_date_back_at_once(installed):
    before = Check.objects.get(coupling=installed, kind="alignment", settled_on=None)
    for days, hours in [(-60, 0.0), (0, 60 * 24.0)]:
        on = TODAY + timedelta(days=days)
        with recording(by=None, at=noon(on)):
            record_run_hours(train=installed.train, at=noon(on), hours=hours)
    with recording(by=None, at=noon(TODAY) + timedelta(minutes=1)):
        for days in (0, -60):
            strike_run_hours(train=installed.train, at=noon(TODAY + timedelta(days=days)), reason="another meter")
    check = Check.objects.get(coupling=installed, kind="alignment", settled_on=None)
    assert (check.winner, check.due_on) == (before.winner, before.due_on)


def test_a_meter_reading_that_is_refused_moves_nothing(installed):
    before = list(Check.objects.values())
    with recording(by=None, at=noon(TODAY)), pytest.raises(Refused):
        record_run_hours(train=installed.train, at=noon(TODAY + timedelta(days=9)), hours=1.0)
    assert list(Check.objects.values()) == before


def test_a_train_that_comes_back_overdue_is_flagged_at_once(installed):
    with recording(by=None, at=noon(TODAY)):
        change_train(train=installed.train, service="out")
    with recording(by=None, at=noon(TODAY + timedelta(days=60))):
        change_train(train=installed.train, service="in")
    assert Flag.objects.get(coupling=installed).kind == Flag.Kind.OVERDUE


def test_a_train_out_or_uncoupled_rests_and_back_in_service_is_due_whenever_that_was_said(installed, planner):
    """What is drawn at once is what the night finds: nothing left to do, whichever way the train went."""
    late = TODAY + timedelta(days=60)
    for state, said_days_later in [("out", 0), ("uncoupled", 5), ("in", 60), ("uncoupled", 61), ("in", 70)]:
        on = TODAY + timedelta(days=said_days_later)
        with recording(by=planner, at=noon(on)):
            set_service(train=installed.train, state=state, at=noon(on - timedelta(hours=3)), reason="invented")
        due = checks_due(planner, late).filter(coupling=installed)
        flag = Flag.objects.filter(coupling=installed, kind="overdue", cleared_at=None)
        assert due.exists() == flag.exists() == (state == "in"), (state, said_days_later)
        before = [list(rows.order_by("pk").values()) for rows in (Check.objects, Flag.objects, Event.objects)]
        with recording(by=None, at=noon(on)):
            recompute_site(site=installed.site, today=on)
        assert [list(rows.order_by("pk").values()) for rows in (Check.objects, Flag.objects, Event.objects)] == before
    cleared = Flag.objects.filter(coupling=installed, cleared_at__isnull=False).get()
    assert cleared.cause == "the train is uncoupled"


def test_a_spell_taken_back_brings_the_checks_back(installed, planner):
    late = TODAY + timedelta(days=60)
    with recording(by=planner, at=noon(late)):
        spell = set_service(train=installed.train, state="out", at=noon(TODAY))
    assert not Flag.objects.filter(coupling=installed).exists()
    with recording(by=planner, at=noon(late)):
        remove_spell(spell=spell)
    assert Flag.objects.get(coupling=installed).cleared_at is None


def test_an_exchanged_machine_is_told_for_the_couplings_beside_it(installed, mechanic):
    motor = installed.driver_machine
    with recording(by=None, at=noon(TODAY)):
        old = register_unit(site=installed.site, kind="motor", serial="M-1")
        new = register_unit(site=installed.site, kind="motor", serial="M-2")
        install_unit(unit=old, machine=motor, at=None)
    Event.objects.all().delete()
    at = noon(TODAY + timedelta(days=3))
    with recording(by=mechanic, at=at):
        swap_unit(machine=motor, unit=new, at=at, reason="Rewound", left_with_hub=True)
    gone, came = Event.objects.filter(kind="fit.moved").order_by("no")
    assert (gone.lane, came.lane) == (installed.uuid, installed.uuid)
    assert gone.payload == {
        "fit": None, "unit": str(old.uuid), "serial": "M-1", "taken_out_at": at.isoformat(), "hub": True,
    }  # fmt: skip
    assert came.payload == {
        "fit": None, "unit": str(new.uuid), "serial": "M-2", "installed_at": at.isoformat(), "hub": None,
    }  # fmt: skip
    with recording(by=mechanic, at=at + timedelta(hours=1)):
        change_unit(unit=new, note="Insulated bearing")
    assert Event.objects.filter(kind="fit.moved").count() == 2


def test_a_retired_coupling_has_nothing_open_at_once(installed):
    assert open_kinds(installed) == {"alignment", "torque"}
    fit = installed.fits.get()
    fit.removed_on = TODAY
    fit.save()
    with recording(by=None, at=noon(TODAY)):
        retire_coupling(coupling=installed, on=TODAY)
    assert open_kinds(installed) == set()


def test_fasteners_that_must_not_be_checked_again_come_to_no_check(site, mechanic):
    fit = FitFactory(coupling__train__site=site)
    fit.sheet_version.joints.update(recheck="not-allowed")
    with recording(by=None, at=noon(TODAY)):
        load_policies(site=site, kinds=("alignment", "torque"))
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    assert open_kinds(fit.coupling) == {"alignment"}
