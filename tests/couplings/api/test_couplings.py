"""Couplings over the API: places, targets, limits, what other systems call them."""

import pytest

from couplings.models import Coupling, Grade
from couplings.services.starters import load_starters
from plant.models import Machine
from plant.recording import recording
from tests.couplings.api.conftest import faults, mm
from tests.factories import NOW, CouplingFactory, TrainFactory

URL = "/api/v1/couplings/"


@pytest.fixture
def body(train):
    return {
        "train": str(train.uuid),
        "driver_position": 1,
        "driven_position": 2,
        "tag": "BF-21-C1",
        "speed": {"value": 2980, "unit": "rpm"},
        "power": {"value": 400, "unit": "hp"},
        "external_ref": {"orders": "P-77"},
    }


def test_a_coupling_is_registered_and_read_back(as_person, keeper, body, train):
    client = as_person(keeper)
    made = client.post(URL, body, format="json")
    assert made.status_code == 201, made.json()
    read = client.get(made["Location"])
    assert (read["ETag"], read.json()) == ('"1"', made.json())
    shown = read.json()
    assert (shown["site"], shown["driver_name"], shown["driven_name"]) == (str(train.site.uuid), "motor", "pump")
    assert shown["external_ref"] == {"orders": "P-77"}
    # 1 hp = 550 ft·lbf/s = 745.6998715822702 W (the mechanical horsepower, from the exact foot and pound-force).
    assert shown["power"] == {"value": pytest.approx(298.27994863), "unit": "kW"}
    assert client.get(made["Location"] + "?units=us").json()["power"] == {"value": pytest.approx(400), "unit": "hp"}


def test_what_was_read_can_be_sent_back_and_the_place_never_moves(as_person, keeper, body, train):
    client = as_person(keeper)
    made = client.post(URL, body, format="json")
    again = client.patch(made["Location"], body | {"name": "north"}, format="json", headers={"If-Match": made["ETag"]})
    assert (again.status_code, again["ETag"], again.json()["name"]) == (200, '"2"', "north")
    Machine.objects.create(train=train, position=3, name="fan")
    moved = {"driver_position": 2, "driven_position": 3, "train": str(TrainFactory(site=train.site).uuid)}
    refused = client.patch(made["Location"], moved, format="json", headers={"If-Match": '"2"'})
    assert faults(refused) == dict.fromkeys(
        ("/train", "/driver_position", "/driven_position"), "This is fixed once it is made."
    )


def test_positions_without_a_machine_and_taken_tags_are_named(as_person, keeper, body):
    client = as_person(keeper)
    missing = client.post(URL, body | {"driven_position": 3}, format="json")
    assert faults(missing) == {"/driven_position": "This train has no machine at this position."}
    client.post(URL, body, format="json")
    assert set(faults(client.post(URL, body, format="json"))) == {"/tag", "/driven_position"}
    slow = body | {"lowest_speed": {"value": 3000, "unit": "rpm"}, "power": {"value": 1, "unit": "bar"}, "colour": 1}
    assert set(faults(client.post(URL, slow, format="json"))) == {"/power", "/colour"}
    assert Coupling.objects.count() == 1


def test_couplings_are_found_by_tag_train_site_retirement_and_their_name_elsewhere(as_person, keeper, body, train):
    client = as_person(keeper)
    made = client.post(URL, body, format="json").json()
    CouplingFactory(train=TrainFactory(site=train.site, tag="CW-07"), retired_on=NOW.date())
    for query in (
        "tag=BF-21-C1",
        f"train={train.uuid}",
        "retired=false",
        "external_ref=orders:P-77",
        f"site={train.site.uuid}&tag=BF-21-C1",
    ):
        found = client.get(f"{URL}?{query}").json()["results"]
        assert [row["id"] for row in found] == [made["id"]], query
    assert [row["tag"] for row in client.get(URL + "?retired=true").json()["results"]] == ["CW-07"]
    assert client.get(URL + "?colour=red").status_code == 400


def test_a_target_is_set_in_parts_and_summed(as_person, engineer, coupling):
    client = as_person(engineer)
    where = f"{URL}{coupling.uuid}/"
    thermal = {
        "offset": {"vertical": {"value": -10, "unit": "mil"}},
        "angularity": {"horizontal": {"value": 0.2, "unit": "mil/in"}},
    }
    part = where + "target/thermal/"
    assert client.put(part, thermal, format="json").status_code == 428
    one = client.put(part, thermal, format="json", headers={"If-Match": '"1"'})
    assert one.status_code == 200, one.json()
    two = client.put(
        where + "target/given/", {"offset": {"vertical": mm(0.054)}}, format="json", headers={"If-Match": one["ETag"]}
    )
    target = two.json()["target"]
    # -10 thousandths of an inch are -0.254 mm exactly; -0.254 + 0.054 = -0.2. 1 thou/in = 1 mm/m (reference TL-14).
    assert target["offset"]["vertical"] == mm(-0.2)
    assert target["angularity"]["horizontal"] == {"value": 0.2, "unit": "mm/m"}
    assert {row["kind"]: (row["by"], row["on"]) for row in target["parts"]} == {
        "thermal": ("Ana", "2026-10-12"),
        "given": ("Ana", "2026-10-12"),
    }
    gone = client.delete(part, headers={"If-Match": two["ETag"]})
    assert [row["kind"] for row in gone.json()["target"]["parts"]] == ["given"]
    assert client.put(where + "target/wish/", {}, format="json", headers={"If-Match": "*"}).status_code == 404


def test_a_target_without_unit_or_in_a_wrong_one_is_refused_beside_its_plane(as_person, engineer, coupling):
    part = f"{URL}{coupling.uuid}/target/thermal/"
    sent = {"offset": {"vertical": 0.1, "horizontal": {"value": 0.1, "unit": "deg"}}, "angularity": {"up": mm(1)}}
    refused = as_person(engineer).put(part, sent, format="json", headers={"If-Match": "*"})
    assert set(faults(refused)) == {"/offset/vertical", "/offset/horizontal", "/angularity"}
    far = {"offset": {"vertical": mm(26)}}
    refused = as_person(engineer).put(part, far, format="json", headers={"If-Match": "*"})
    assert faults(refused) == {"/offset/vertical": "It must lie between -25 and 25."}
    assert not coupling.target_parts.exists()


def test_what_a_coupling_is_held_to_is_read_with_its_sources(as_person, mechanic, coupling, fit, site):
    with recording(by=None, at=NOW):
        load_starters(site=site)
    held = as_person(mechanic).get(f"{URL}{coupling.uuid}/limits/?units=us").json()
    assert held["fit"] == str(fit.uuid)
    rows = {(row["family"], row["quantity"]): row for row in held["limits"]}
    # R. Mackay, The Practical Pumping Handbook, p. 178: 0.002 in at 3600 rpm, kept as 0.05 mm: within half of 0.01 mm.
    assert rows["grade", "offset"]["value"] == {"value": pytest.approx(2, abs=0.2), "unit": "thou"}
    assert "Mackay" in rows["grade", "offset"]["source"]
    assert rows["sheet", "angularity"]["value"] == {"value": 1.0, "unit": "thou/inch"}


def test_nothing_fitted_is_held_to_nothing(as_person, mechanic, coupling):
    held = as_person(mechanic).get(f"{URL}{coupling.uuid}/limits/").json()
    assert held == {"fit": None, "rule": None, "combined": None, "limits": []}


def test_a_coupling_is_retired(as_person, keeper, coupling):
    where = f"{URL}{coupling.uuid}/"
    early = as_person(keeper).post(where + "retire/", {"on": "2026-10-13"}, format="json")
    assert faults(early) == {"/on": "2026-10-13 is still to come: a coupling is retired once it is gone."}
    done = as_person(keeper).post(where + "retire/", {"on": "2026-10-12"}, format="json")
    assert (done.status_code, done.json()["retired_on"]) == (200, "2026-10-12")


def test_who_may_and_who_may_not(as_person, mechanic, keeper, engineer, stranger, body, coupling, site):
    where = f"{URL}{coupling.uuid}/"
    match = {"If-Match": "*"}
    grade = Grade.objects.create(site=site, name="Tight")
    chosen = {"grade": str(grade.uuid), "grade_reason": "hot"}
    assert as_person(mechanic).post(URL, body, format="json").status_code == 403
    assert as_person(mechanic).patch(where, {"name": "x"}, format="json", headers=match).status_code == 403
    assert as_person(mechanic).get(where).status_code == 200
    assert as_person(keeper).put(where + "target/given/", {}, format="json", headers=match).status_code == 403
    assert as_person(keeper).patch(where, chosen, format="json", headers=match).status_code == 403
    assert as_person(engineer).patch(where, chosen, format="json", headers=match).status_code == 200
    assert as_person(stranger).get(where).status_code == 404
    assert as_person(stranger).patch(where, {"name": "x"}, format="json", headers=match).status_code == 404
    assert set(faults(as_person(stranger).post(URL, body, format="json"))) == {"/train"}
    assert as_person(stranger).get(URL).json()["results"] == []


def test_many_couplings_are_registered_at_once_and_each_told(as_person, keeper, body, site):
    other = TrainFactory(site=site, tag="BF-22")
    rows = [body, body | {"tag": "BF-21-C2"}, body | {"train": str(other.uuid), "tag": "BF-22-C1", "external_ref": {}}]
    answer = as_person(keeper).post(URL + "bulk/", {"rows": rows}, format="json").json()
    assert (answer["made"], answer["refused"]) == (2, 1)
    assert [row["status"] for row in answer["rows"]] == [201, 422, 201]
    assert [error["pointer"] for error in answer["rows"][1]["errors"]] == ["/driven_position"]


def test_a_list_costs_the_same_however_long_it_is(as_person, mechanic, site, django_assert_num_queries):
    for no in range(5):
        CouplingFactory(train=TrainFactory(site=site, tag=f"T-{no}"))
    client = as_person(mechanic)
    # Roles, sites, couplings joined with train, machines, grade and successor, target parts, predecessors, and names
    # elsewhere.
    with django_assert_num_queries(6):
        assert len(client.get(URL).json()["results"]) == 5


def test_a_delta_read_tells_what_changed_since(as_person, keeper, body, site):
    client = as_person(keeper)
    start = client.get(f"{URL}?site={site.uuid}&updated_since=2026-01-01T00:00:00Z").json()
    made = client.post(URL, body, format="json").json()
    after = client.get(f"{URL}?after={start['after']}").json()
    assert [row["id"] for row in after["results"]] == [made["id"]]
