"""Dates follow their causes in the same unit of work: meter, service, criticality, retirement."""

from datetime import timedelta

import pytest

from couplings.services.couplings import retire_coupling
from inspections.models import Check, Flag, Visit
from inspections.services.policies import load_policies
from plant.recording import recording
from plant.refusals import Refused
from plant.services.register import change_train, record_run_hours
from tests.factories import TODAY, FitFactory
from tests.inspections.signed import noon, sign


@pytest.fixture
def installed(site, mechanic):
    fit = FitFactory(coupling__train__site=site)
    with recording(by=None, at=noon(TODAY)):
        load_policies(site=site)
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
        load_policies(site=site)
    sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    assert open_kinds(fit.coupling) == {"alignment"}
