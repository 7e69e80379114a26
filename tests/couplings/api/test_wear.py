"""Wear codes, wear limits and lubricant of a data sheet, and storage rules over the API."""

import pytest

from couplings.models import DataSheet, SheetVersion, StorageRule, WearCode
from couplings.services.starters import load_starters
from plant.recording import recording
from tests.couplings.api.conftest import faults
from tests.factories import NOW

SHEETS, RULES, CODES = "/api/v1/data-sheets/", "/api/v1/storage-rules/", "/api/v1/wear-codes/"


@pytest.fixture(autouse=True)
def _starters(site):
    with recording(by=None, at=NOW):
        load_starters(site=site)


def body(site, family, **version):
    return {"site": str(site.uuid), "family": family, "designation": "Gear 3", "first_version": version}


def test_codes_are_read_with_the_words_of_their_grades(as_person, mechanic):
    client = as_person(mechanic)
    rows = client.get(f"{CODES}?limit=100").json()["results"]
    assert len(rows) == WearCode.objects.count()
    one = client.get(f"{CODES}blade-fracture/").json()
    assert one["grades"] == ["none seen", None, None, None, "a blade is cracked or broken"]
    assert (one["families"], one["fracture"], one["of_element"]) == (["disc"], True, True)
    assert client.post(CODES, {}, format="json").status_code == 405


def test_limits_and_lubricant_come_in_any_unit_and_go_out_in_the_sites(as_person, engineer, site):
    asked = body(
        site, "gear", lubricant="Coupling grease 1", lubricant_quantity={"value": 3, "unit": "oz"}, lubricant_months=6,
        wear_limits=[{"code": "tooth-wear", "limit": {"value": 10, "unit": "thou"}}],
    )  # fmt: skip
    made = as_person(engineer).post(SHEETS, asked, format="json")
    assert made.status_code == 201, made.json()
    version = made.json()["versions"][0]
    # An avoirdupois ounce is 28.349523125 g, an inch 25.4 mm, both exactly.
    assert version["lubricant_quantity"] == {"value": pytest.approx(85.048569375), "unit": "g"}
    assert version["wear_limits"] == [{"code": "tooth-wear", "limit": {"value": pytest.approx(0.254), "unit": "mm"}}]
    us = as_person(engineer).get(f"{made['Location']}versions/1/?units=us").json()
    assert us["wear_limits"][0]["limit"] == {"value": pytest.approx(10), "unit": "thou"}
    assert SheetVersion.objects.get().lubricant_months == 6


@pytest.mark.parametrize(
    ("limit", "pointer", "said"),
    [
        ({"code": "tooth-wear", "limit": {"value": 10, "unit": "deg"}}, "/limit", "deg is a unit of angle"),
        ({"code": "tooth-wear", "limit": 10}, "/limit", "unit"),
        ({"code": "seal-leak", "limit": {"value": 1, "unit": "mm"}}, "/code", "has grades only"),
        ({"code": "crack", "limit": {"value": 1, "unit": "mm"}}, "/code", "is not looked for on the family Gear"),
        ({"code": "nothing", "limit": {"value": 1, "unit": "mm"}}, "/code", "nothing"),
    ],
)
def test_a_limit_that_cannot_be_taken_is_pointed_at(as_person, engineer, site, limit, pointer, said):
    answer = as_person(engineer).post(SHEETS, body(site, "gear", wear_limits=[limit]), format="json")
    assert answer.status_code == 422
    found = faults(answer)
    assert list(found) == [f"/first_version/wear_limits/0{pointer}"]
    assert said in next(iter(found.values()))
    assert not DataSheet.objects.exists()


def test_an_engineer_writes_and_changes_storage_rules_and_a_mechanic_reads_them(as_person, engineer, mechanic, site):
    rule = {"site": str(site.uuid), "polymer": "PU", "policy": "house", "initial_years": 4, "in_use": True}
    client = as_person(engineer)
    made = client.post(RULES, rule | {"source": "store rule 12"}, format="json")
    assert made.status_code == 201, made.json()
    changed = client.patch(made["Location"], {"initial_years": 3}, format="json", headers={"If-Match": made["ETag"]})
    assert (changed.status_code, changed.json()["initial_years"]) == (200, 3)
    seen = as_person(mechanic).get(f"{RULES}?polymer=PU").json()["results"]
    assert [row["policy"] for row in seen] == ["house"]
    refused = as_person(mechanic).post(RULES, rule | {"policy": "other", "source": "x"}, format="json")
    assert refused.status_code == 403
    again = client.post(RULES, rule | {"policy": "other", "source": "x"}, format="json")
    assert faults(again) == {"/in_use": "house is in use for PU: take it out of use first."}
    assert StorageRule.objects.filter(polymer="PU").count() == 1
