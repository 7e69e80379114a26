"""Mounting of the hubs as an entry of the API."""

import pytest

from couplings.models import SheetVersion
from tests.factories import InstrumentFactory
from tests.inspections.visits import MOUNTING

pytestmark = pytest.mark.django_db


@pytest.fixture
def where(site, visit, wrench):
    InstrumentFactory(site=site, kind="caliper", serial="C-1", standard_u_mm=0.001)
    InstrumentFactory(site=site, kind="caliper", serial="C-2", standard_u_mm=0.002)
    SheetVersion.objects.filter(pk=visit.sheet_version_id).update(
        fit_hole="H7", fit_shaft="m6", bore_mm=50.0, key_standard="din-6885"
    )
    return f"/api/v1/visits/{visit.uuid}/entries/mounting/"


def test_an_entry_answers_with_the_verdict_of_fit_and_key(as_person, mechanic, where):
    answer = as_person(mechanic).patch(where, {"fields": MOUNTING}, format="json")

    assert answer.status_code == 200, answer.json()
    assert (answer.json()["errors"], answer.json()["missing"]) == ({}, {})
    found = {one["subject"]: one["verdict"] for one in answer.json()["findings"]}
    assert found == {
        "Fit, driver side": "in tolerance", "Key, driver side": "in tolerance",
        "Screws of the hub, driver side": "not known",
    }  # fmt: skip


def test_a_heated_hub_carries_its_caution(as_person, mechanic, where):
    answer = as_person(mechanic).patch(where, {"fields": {"driven.kind": "heated"}}, format="json")
    assert "sets fire to oil" in answer.content.decode()


def test_a_field_that_no_hub_has_is_refused_by_its_pointer(as_person, mechanic, where):
    answer = as_person(mechanic).patch(where, {"fields": {"driver.glue": "much"}}, format="json")
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/fields/driver.glue"
