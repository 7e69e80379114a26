"""Instruments: one serial number once, uncertainty in the right form, calibration with an end."""

from datetime import date

import pytest

from couplings.models import Instrument
from couplings.selectors import calibration_ends_on, in_calibration, instruments_at
from couplings.services.instruments import change_instrument, register_instrument
from plant.recording import recording
from plant.refusals import NotAllowed
from tests.couplings.services.test_sheets import refusal
from tests.factories import NOW, InstrumentFactory


def registered(by, site, **fields):
    given = {"kind": "dial", "name": "Dial, long stem", "serial": "D-7", "standard_u_mm": 0.005} | fields
    with recording(by=by, at=NOW):
        return register_instrument(site=site, **given)


def test_an_instrument_is_registered_and_chosen_among_those_in_use(keeper, mechanic, site):
    dial = registered(keeper, site)
    wrench = registered(keeper, site, kind="torque-set", serial="T-1", standard_u_mm=None, standard_u_share=0.02)
    assert set(instruments_at(mechanic, site)) == {dial, wrench}
    assert list(instruments_at(mechanic, site, "dial")) == [dial]
    with recording(by=keeper, at=NOW):
        change_instrument(instrument=dial, retired_on=date(2026, 10, 1))
    assert list(instruments_at(mechanic, site)) == [wrench]


def test_a_serial_number_stands_once_per_kind(keeper, site, other_site):
    registered(keeper, site)
    taken = {"serial": "Another instrument of this kind has this serial number here."}
    assert refusal(register_instrument, by=keeper, site=site, kind="dial", name="x", serial=" D-7 ") == taken
    other = registered(keeper, site, serial="D-8")
    assert refusal(change_instrument, by=keeper, instrument=other, serial="D-7") == taken
    registered(keeper, site, kind="caliper")


def test_an_uncertainty_in_the_wrong_form_and_a_coming_calibration_are_refused(keeper, site):
    errors = refusal(
        register_instrument,
        by=keeper,
        site=site,
        kind="torque-read",
        name="Wrench",
        serial="T-2",
        standard_u_mm=0.01,
        calibrated_on=date(2026, 10, 13),
    )
    assert errors == {
        "standard_u_mm": "The uncertainty of a torque tool is a share of what it reads, not a length.",
        "calibrated_on": "2026-10-13 is still to come.",
    }
    errors = refusal(
        register_instrument, by=keeper, site=site, kind="dial", name="Dial", serial="D-9", standard_u_share=0.02
    )
    assert errors == {"standard_u_share": "Only a torque tool's uncertainty is a share of what it reads."}
    assert not Instrument.objects.exists()


def test_calibration_holds_to_its_last_day_and_is_not_known_without_an_interval(site):
    # 2026-06-01 and 365 days later by the calendar: no leap day lies between, so the same day a year on.
    dial = InstrumentFactory(site=site, calibrated_on=date(2026, 6, 1), calibration_days=365)
    assert calibration_ends_on(dial) == date(2027, 6, 1)
    assert in_calibration(dial, date(2027, 6, 1)) is True
    assert in_calibration(dial, date(2027, 6, 2)) is False
    dial.calibration_days = None
    assert in_calibration(dial, date(2026, 6, 2)) is None


def test_the_register_of_instruments_is_the_keepers(mechanic, site):
    with pytest.raises(NotAllowed):
        registered(mechanic, site)
