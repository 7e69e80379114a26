"""Certificates of instruments: kept one by one, the latest in force."""

from datetime import date

import pytest

from couplings.models import Instrument
from couplings.selectors import calibration_ends_on, calibration_verdict, operations_left
from couplings.services.instruments import calibrate_instrument, change_instrument
from plant.recording import recording
from plant.refusals import NotAllowed
from tests.couplings.services.test_sheets import refusal
from tests.factories import NOW, TODAY, InstrumentFactory

GIVEN = {"on": date(2026, 10, 1), "laboratory": "Workshop", "certificate": "C-1", "result": "within"}


@pytest.fixture
def wrench(site):
    return InstrumentFactory(
        site=site, kind="torque-set", name="Click wrench", standard_u_mm=None, calibrated_on=None, calibration_days=None
    )


def calibrated(by, instrument, **fields):
    with recording(by=by, at=NOW):
        return calibrate_instrument(instrument=instrument, **GIVEN | fields)


def test_the_latest_certificate_is_in_force_and_older_ones_are_kept(keeper, wrench):
    calibrated(keeper, wrench, due_on=date(2027, 10, 1), standard_u_share=0.02)
    assert (calibration_ends_on(wrench), wrench.standard_u_share) == (date(2027, 10, 1), 0.02)
    calibrated(keeper, wrench, certificate="C-0", on=date(2025, 9, 1), due_on=date(2026, 9, 1), standard_u_share=0.01)
    wrench.refresh_from_db()
    assert (calibration_ends_on(wrench), wrench.standard_u_share) == (date(2027, 10, 1), 0.02)
    assert [row.certificate for row in wrench.calibrations.all()] == ["C-1", "C-0"]
    assert calibration_verdict(wrench, TODAY) == "in calibration"
    assert calibration_verdict(wrench, date(2027, 10, 2)) == "out of calibration"


def test_a_torque_tool_wears_by_operations_too(keeper, wrench):
    # Invented counts; a limit by operations beside one by time is common practice.
    with recording(by=keeper, at=NOW):
        change_instrument(instrument=wrench, operations_limit=5000)
    calibrated(keeper, wrench, due_on=date(2027, 10, 1), operations=1200)
    assert (operations_left(wrench), calibration_verdict(wrench, TODAY)) == (5000, "in calibration")
    with recording(by=keeper, at=NOW):
        change_instrument(instrument=wrench, operations=6201)
    assert (operations_left(wrench), calibration_verdict(wrench, TODAY)) == (-1, "out of calibration")


def test_what_must_not_be_used_is_retired_from_choice(keeper, wrench):
    calibrated(keeper, wrench, result="refused")
    wrench.refresh_from_db()
    assert wrench.retired_on == date(2026, 10, 1)


@pytest.mark.parametrize(
    ("given", "errors"),
    [
        (
            {"on": date(2026, 10, 13)},
            {"on": "2026-10-13 is still to come: a calibration is entered from its certificate."},
        ),
        (
            {"due_on": date(2026, 10, 1)},
            {"due_on": "It would run out on 2026-10-01, not later than the day it was done."},
        ),
        (
            {"result": "refused", "due_on": date(2027, 1, 1)},
            {"due_on": "What must not be used has no next date: leave it out."},
        ),
        (
            {"standard_u_mm": 0.01},
            {"standard_u_mm": "The uncertainty of a torque tool is a share of what it reads, not a length."},
        ),
        ({"standard_u_share": 0.9}, {"standard_u_share": "It must lie between 0.0001 and 0.5."}),
        ({"laboratory": " "}, {"laboratory": "This field cannot be blank."}),
        ({"result": "good"}, {"result": "Value 'good' is not a valid choice."}),
    ],
)
def test_a_certificate_that_cannot_be_is_refused(keeper, wrench, given, errors):
    assert refusal(calibrate_instrument, by=keeper, instrument=wrench, **GIVEN | given) == errors
    assert not wrench.calibrations.exists()


def test_a_certificate_stands_once_and_a_count_never_falls(keeper, wrench):
    calibrated(keeper, wrench, operations=900)
    later = GIVEN | {"on": date(2026, 10, 5), "operations": 800}
    assert refusal(calibrate_instrument, by=keeper, instrument=wrench, **later) == {
        "certificate": "This certificate is entered already.",
        "operations": "900 were counted before: the count is from new and never falls.",
    }


def test_only_torque_tools_are_counted(keeper, site):
    dial = InstrumentFactory(site=site)
    assert refusal(calibrate_instrument, by=keeper, instrument=dial, **GIVEN, operations=3) == {
        "operations": "Operations are counted of torque tools only."
    }
    assert refusal(change_instrument, by=keeper, instrument=dial, operations_limit=3) == {
        "operations_limit": "Operations are counted of torque tools only."
    }


def test_a_mechanic_enters_no_certificate(mechanic, wrench):
    with pytest.raises(NotAllowed):
        calibrated(mechanic, wrench)
    assert Instrument.objects.get().calibrated_on is None
