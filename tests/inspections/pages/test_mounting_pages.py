"""Mounting of the hubs on the visit's pages, without a browser."""

import pytest
import time_machine

from couplings.models import SheetVersion
from inspections.services.signing import sign_visit
from plant.recording import recording
from tests.factories import NOW, InstrumentFactory
from tests.inspections.visits import MOUNTING, save

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_the_day(site, visit, wrench):
    InstrumentFactory(site=site, kind="caliper", serial="C-1", standard_u_mm=0.001)
    InstrumentFactory(site=site, kind="caliper", serial="C-2", standard_u_mm=0.002)
    SheetVersion.objects.filter(pk=visit.sheet_version_id).update(
        fit_hole="H7", fit_shaft="m6", bore_mm=50.0, key_standard="din-6885", mounting_kind="clamp"
    )
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def phone(client, mechanic):
    client.force_login(mechanic)
    return client


def test_the_step_asks_by_the_data_sheet_and_says_what_it_found(phone, visit):
    where = f"/visits/{visit.uuid}/steps/mounting/"
    empty = phone.get(where).content.decode()
    assert "The data sheet asks for H7/m6." in empty
    assert "Torque of its screws" in empty
    assert "Hot hubs burn" not in empty

    assert phone.post(where, {"seen": "0", "was": "{}", **MOUNTING}).status_code == 302

    page = phone.get(where).content.decode()
    assert 'value="50.012"' in page
    assert "Interference 0.003\u00a0mm. H7/m6 at 50.0\u00a0mm is a transition fit" in page
    assert "confidence is reached" in page
    assert "Judged by the value alone" not in page


def test_a_heated_hub_brings_its_fields_and_the_caution(phone, visit):
    where = f"/visits/{visit.uuid}/steps/mounting/"
    assert phone.post(where, {"seen": "0", "was": "{}", "driver.kind": "heated"}).status_code == 302
    page = phone.get(where).content.decode()
    assert "Hot hubs burn" in page
    assert 'name="driver.hub_temperature"' in page
    assert 'name="driven.hub_temperature"' not in page


def test_a_refused_figure_stays_with_its_error_beside_it(phone, visit):
    answer = phone.post(f"/visits/{visit.uuid}/steps/mounting/", {"seen": "0", "was": "{}", "driver.bore": "wide"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'id="f-driver-bore_error"' in page
    assert 'value="wide"' in page


def test_the_coupling_and_the_record_print_it(phone, filled, mechanic):
    save(filled, "mounting", MOUNTING, mechanic)
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=filled)

    page = phone.get(f"/visits/{filled.uuid}/record/").content.decode()
    for words in ("Mounting of the hub, driver side", "clamp, cleaned",
                  "bore 50.012\u00a0mm, shaft 50.015\u00a0mm, H7/m6",
                  "14.000\u00a0mm × 9.000\u00a0mm, DIN 6885-1"):  # fmt: skip
        assert words in page
    assert "H7/m6, bore" in phone.get(f"/couplings/{filled.coupling.uuid}/").content.decode()
