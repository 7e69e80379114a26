"""Run hours and flags on the coupling's page."""

import pytest
import time_machine

from inspections.models import Flag
from inspections.services.flags import open_flag
from plant.models import MeterReading
from plant.recording import recording
from tests.factories import NOW, FitFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def coupling(site):
    return FitFactory(coupling__train__site=site).coupling


def test_the_page_says_how_each_hub_is_held_where_they_differ(client, mechanic, coupling):
    client.force_login(mechanic)
    version = coupling.fits.get().sheet_version
    version.mounting_kind = "clearance"
    version.save()
    url = f"/couplings/{coupling.uuid}/"
    assert "<dd>clearance with set screws</dd>" in client.get(url).content.decode()
    version.hubs.create(side="driven", mounting_kind="heated", bore_length_mm=80)
    held = "driver side: clearance with set screws; driven side: heated, interference"
    assert f"<dd>{held}</dd>" in client.get(url).content.decode()


def test_a_mechanic_writes_down_run_hours_in_site_time(client, mechanic, coupling):
    client.force_login(mechanic)
    url = f"/couplings/{coupling.uuid}/hours/"
    assert client.post(url, {"hours": "1 200,5", "at": "2026-10-12 08:20"}).status_code == 302
    reading = MeterReading.objects.get()
    # Oslo is two hours ahead of UTC in October.
    assert (reading.hours, reading.at.isoformat()) == (1200.5, "2026-10-12T06:20:00+00:00")
    assert "The meter showed 1,200.5 h" in client.get(f"/couplings/{coupling.uuid}/").content.decode()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"hours": ""}, "Type what the meter shows."),
        ({"hours": "NaN"}, "number"),
        ({"hours": "12 mm"}, "mm"),
        ({"hours": "-5"}, "hours"),
        ({"hours": "5", "at": "2027-01-01 08:00"}, "future"),
        ({"hours": "5", "at": "yesterday"}, "Write the time as"),
    ],
)
def test_hours_that_cannot_be_meant_are_refused_beside_the_field(client, mechanic, coupling, typed, said):
    client.force_login(mechanic)
    answer = client.post(f"/couplings/{coupling.uuid}/hours/", typed)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not MeterReading.objects.exists()


def test_a_flag_is_cleared_with_a_cause_by_the_engineer_alone(client, mechanic, engineer, coupling):
    with recording(by=None, at=NOW):
        flag = open_flag(coupling=coupling, kind=Flag.Kind.OUT, evidence={})
    url = f"/flags/{flag.uuid}/clear/"
    client.force_login(mechanic)
    assert client.post(url, {"cause": "x"}).status_code == 403
    client.force_login(engineer)
    refused = client.post(url, {"cause": ""})
    assert refused.status_code == 422
    assert "Say why it is cleared" in refused.content.decode()
    assert client.post(url, {"cause": "Base slotted and aligned."}).status_code == 302
    flag.refresh_from_db()
    assert (flag.cause, flag.cleared_by) == ("Base slotted and aligned.", engineer)
