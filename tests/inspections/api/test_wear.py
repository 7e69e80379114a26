"""The steps Wear and Lubricant and their flags over the API."""

import pytest

from tests.inspections.api.test_entries import save
from tests.inspections.worn import SHORE, limited, look, starters

pytestmark = pytest.mark.django_db


@pytest.fixture
def where(visit, site):
    starters()
    return f"/api/v1/visits/{visit.uuid}/entries/wear/"


def test_the_step_says_what_it_asks_for_in_which_unit(as_person, mechanic, where):
    asked = {row["name"]: row for row in as_person(mechanic).get(where).json()["asks"]}
    assert asked["bolt-fracture.grade"]["choices"] == ["0", "4"]
    assert (asked["play.number"]["kind"], asked["play.number"]["unit"]) == ("angle", "deg")
    assert not any(row["required"] for row in asked.values())


def test_an_entry_is_saved_as_typed_with_errors_and_warnings_by_field(as_person, mechanic, where, visit):
    limited(visit.sheet_version, "play", 4.0)
    client = as_person(mechanic)
    bad = save(client, where, SHORE | {"crack.grade": "9", "play.number": "-3 deg"}).json()
    assert set(bad["errors"]) == {"crack.grade", "play.number"}
    mended = save(client, where, {"crack.grade": "4", "play.number": "80 mrad"}, seen='"1"').json()
    assert mended["errors"] == {}
    assert mended["warnings"][0].startswith("Do not run.")
    assert mended["typed"]["play.number"] == "80 mrad"


def test_a_field_that_the_family_does_not_have_is_refused(as_person, mechanic, where):
    answer = save(as_person(mechanic), where, {"tooth-wear.grade": "1"})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["detail"] == "Wear has no field of this name."


def test_the_flag_not_to_run_is_read_with_its_evidence(as_person, mechanic, fit, wrench, site):
    starters()
    look(fit, mechanic, wrench, {"bolt-fracture.grade": "4"})
    flag = as_person(mechanic).get("/api/v1/flags/?kind=do-not-run").json()["results"][0]
    assert flag["kind"] == "do-not-run"
    assert flag["evidence"]["found"][0]["code"] == "bolt-fracture"
