"""Which visits an instrument measured in, and what its certificates say of those days."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from couplings.models import Calibration
from couplings.selectors import calibration_then, over_operations
from couplings.selectors.instruments import calibrated_then
from inspections.models import Torque
from inspections.selectors.instruments import instrument_uses, instrument_visits
from inspections.selectors.visits import read_entry
from inspections.services.signing import sign_visit
from plant.recording import recording
from tests.factories import NOW, TODAY
from tests.inspections.visits import save

SET = {"joint0.how": "set", "joint0.torque": "45", "joint0.instrument": "T-1"}


def certificate(instrument, on, result="within", due_on=None, **fields):
    return Calibration.objects.create(
        instrument=instrument, on=on, due_on=due_on, result=result, laboratory="Workshop", certificate=f"C-{on}",
        at=NOW, **fields,
    )  # fmt: skip


@pytest.fixture
def signed(filled, wrench, mechanic):
    save(filled, "fasteners", SET, mechanic)
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=filled)
    return filled


def test_a_visit_names_what_it_measured_with_and_the_certificate_that_followed(signed, wrench, mechanic):
    certificate(wrench, TODAY - timedelta(days=40), due_on=TODAY + timedelta(days=300))
    (use,) = instrument_uses(wrench, instrument_visits(wrench, mechanic))
    assert (use.visit.pk, use.measured, use.next_one, use.in_doubt) == (signed.pk, ("fasteners",), None, False)
    found = certificate(wrench, TODAY + timedelta(days=1), "adjusted")
    (use,) = instrument_uses(type(wrench).objects.get(pk=wrench.pk), instrument_visits(wrench, mechanic))
    assert (use.next_one, use.in_doubt) == (found, True)


def test_another_sites_reader_sees_no_visit(signed, wrench, stranger):
    assert list(instrument_visits(wrench, stranger)) == []


def test_the_instruments_page_and_address_tell_its_visits(signed, wrench, mechanic):
    certificate(wrench, TODAY + timedelta(days=1), "refused")
    client = Client()
    client.force_login(mechanic)
    page = client.get(reverse("register-instruments-one", args=[wrench.uuid])).content.decode()
    assert reverse("visit", args=[signed.uuid]) in page
    assert "In doubt." in page
    assert "found outside, not to be used" in page
    answer = client.get(reverse("api-instrument-uses-list", args=[wrench.uuid])).json()
    (row,) = answer["results"]
    assert (row["visit"], row["measured"], row["in_doubt"]) == (str(signed.uuid), ["fasteners"], True)
    assert row["next_certificate"]["result"] == "refused"


def test_calibration_is_told_as_it_was_on_a_day_before_later_certificates(wrench):
    old = certificate(wrench, date(2024, 1, 10), due_on=date(2025, 1, 9))
    out = certificate(wrench, date(2025, 6, 1), "refused")
    new = certificate(wrench, date(2025, 7, 1), due_on=date(2026, 6, 30))
    told = [
        (date(2024, 1, 9), "not known"),
        (date(2025, 1, 9), "in calibration"),
        (date(2025, 1, 10), "out of calibration"),
        (date(2025, 6, 2), "out of calibration"),
        (date(2026, 6, 30), "in calibration"),
        (date(2026, 7, 1), "out of calibration"),
    ]
    wrench.calibrated_on = None
    assert [(on, calibration_then(wrench, [old, out, new], on)) for on, _ in told] == told


def test_the_day_of_its_calibration_is_that_of_the_one_in_force(wrench):
    rows = [certificate(wrench, date(2024, 1, 10)), certificate(wrench, date(2025, 6, 1), "refused")]
    rows.append(certificate(wrench, date(2025, 7, 1)))
    wrench.calibrated_on = date(2025, 7, 1)
    told = [(date(2024, 1, 9), None), (date(2025, 6, 2), date(2024, 1, 10)), (date(2026, 1, 1), date(2025, 7, 1))]
    assert [(on, calibrated_then(wrench, rows, on)) for on, _ in told] == told


def test_more_operations_than_its_calibration_holds_mark_the_record(filled, wrench, mechanic):
    wrench.calibrated_on, wrench.calibration_days = TODAY - timedelta(days=10), 365
    wrench.operations, wrench.operations_limit = 6201, 5000
    wrench.save()
    certificate(wrench, TODAY - timedelta(days=10), operations=1200)
    assert over_operations(wrench, TODAY)
    assert not over_operations(wrench, TODAY - timedelta(days=11))
    save(filled, "fasteners", SET, mechanic)
    told = read_entry(type(filled).objects.get(pk=filled.pk), "fasteners")
    assert any("more than the 5000 operations its calibration holds for" in one for one in told.warnings)
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=filled)
    assert Torque.objects.get().out_of_calibration
