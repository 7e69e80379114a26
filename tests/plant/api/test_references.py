"""Names in other systems: several per thing, one per system, unique both ways at a site, and found by them."""

import pytest

from plant.models import ExternalRef

pytestmark = pytest.mark.django_db
NOUNS = ["areas", "trains", "machine-units"]


@pytest.fixture
def body(site, area):
    """By noun, what a new one is made with; `n` tells two of them apart."""
    here = {"site": str(site.uuid)}

    def of(noun, n, refs):
        own = {
            "areas": {"name": f"Area {n}"},
            "trains": {"area": str(area.uuid), "tag": f"T-{n}"},
            "machine-units": {"kind": "motor", "serial": f"M-{n}"},
        }
        return here | own[noun] | {"external_ref": refs}

    return of


@pytest.mark.parametrize("noun", NOUNS)
def test_a_thing_has_a_name_in_each_of_several_systems_and_is_found_by_each(as_person, client_account, body, noun):
    client, where = as_person(client_account), f"/api/v1/{noun}/"
    refs = {"orders": "EQ-1", "drawings": "D-77", "stores": "4711"}
    made = client.post(where, body(noun, 1, refs), "json")
    assert made.status_code == 201, made.json()
    assert made.json()["external_ref"] == refs
    client.post(where, body(noun, 2, {"orders": "D-77"}), "json")
    for system, key in refs.items():
        found = client.get(where, {"external_ref": f"{system}:{key}"}).json()["results"]
        assert [row["id"] for row in found] == [made.json()["id"]]


@pytest.mark.parametrize("noun", NOUNS)
def test_a_change_merges_moves_and_takes_away_and_refuses_a_name_that_is_taken(as_person, keeper, body, noun):
    client, where = as_person(keeper), f"/api/v1/{noun}/"
    one = client.post(where, body(noun, 1, {"orders": "EQ-1", "stores": "4711"}), "json").json()
    other = client.post(where, body(noun, 2, {"orders": "EQ-2"}), "json").json()

    def change(thing, refs):
        return client.patch(f"{where}{thing['id']}/", {"external_ref": refs}, "json", headers={"If-Match": "*"})

    merged = change(one, {"stores": None, "orders": "EQ-9", "drawings": "D-1"})
    assert merged.json()["external_ref"] == {"orders": "EQ-9", "drawings": "D-1"}
    refused = change(other, {"orders": "EQ-9", "drawings": "D-1"}).json()["errors"]
    assert refused == [
        {"pointer": "/external_ref/orders", "detail": "“EQ-9” is the name of something else at this site.",
         "code": "invalid"},
        {"pointer": "/external_ref/drawings", "detail": "“D-1” is the name of something else at this site.",
         "code": "invalid"},
    ]  # fmt: skip
    assert ExternalRef.objects.filter(subject=other["id"]).get().key == "EQ-2"


def test_the_same_key_at_another_site_and_of_another_noun_is_another_name(as_person, keeper, body, other_site, area):
    client = as_person(keeper)
    ExternalRef.objects.create(site=other_site, noun="area", system="orders", key="EQ-1", subject=other_site.uuid)
    for noun in NOUNS:
        assert client.post(f"/api/v1/{noun}/", body(noun, 1, {"orders": "EQ-1"}), "json").status_code == 201


def test_trains_are_found_by_how_much_hangs_on_them(as_person, keeper, body):
    client, where = as_person(keeper), "/api/v1/trains/"
    a = client.post(where, body("trains", 1, {}) | {"criticality": "A"}, "json").json()
    client.post(where, body("trains", 2, {}), "json")
    assert [row["id"] for row in client.get(where, {"criticality": "A"}).json()["results"]] == [a["id"]]
    assert client.get(where, {"criticality": "D"}).status_code == 400
    wrong = client.patch(f"{where}{a['id']}/", {"criticality": "D"}, "json", headers={"If-Match": "*"})
    assert wrong.json()["errors"][0]["pointer"] == "/criticality"
