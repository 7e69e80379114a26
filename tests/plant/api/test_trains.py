"""Trains over the API: made, read, changed, found; machines and feet in them."""

import pytest

from plant.models import ExternalRef, Machine, Site, SiteNumber, Train

pytestmark = pytest.mark.django_db


def mm(value):
    return {"value": value, "unit": "mm"}


def inch(value):
    return {"value": value, "unit": "inch"}


@pytest.fixture
def body(site, area):
    return {
        "site": str(site.uuid),
        "area": str(area.uuid),
        "tag": "CT-07",
        "name": "Cooling tower fan",
        "criticality": "B",
        "machines": [
            {
                "position": 1,
                "name": "motor",
                "role": "driver",
                "movable": True,
                "shaft_length": inch(40),
                "feet": [
                    {"name": "outboard", "distance": inch(10), "support_height": mm(355)},
                    {"name": "inboard", "distance": inch(30)},
                ],
            },
            {"position": 2, "name": "fan", "role": "driven", "shaft_length": mm(900)},
        ],
        "external_ref": {"orders": "4711"},
    }


def test_a_train_is_made_and_read_back_with_its_machines(as_person, keeper, body):
    client = as_person(keeper)
    made = client.post("/api/v1/trains/", body, format="json")
    assert made.status_code == 201, made.json()
    assert made["ETag"] == '"1"'
    read = client.get(made["Location"])
    assert read["ETag"] == '"1"'
    assert read.json() == made.json()
    motor = read.json()["machines"][0]
    assert motor["shaft_length"] == mm(1016)
    assert motor["feet"][0] == {"name": "outboard", "distance": mm(254), "support_height": mm(355)}
    assert read.json()["external_ref"] == {"orders": "4711"}
    assert Machine.objects.get(name="motor").shaft_length_mm == 1016


def test_answers_come_in_the_units_asked_for_else_in_the_sites(as_person, keeper, site, body):
    client = as_person(keeper)
    where = client.post("/api/v1/trains/", body, format="json")["Location"]
    assert client.get(where + "?units=us").json()["machines"][0]["shaft_length"] == inch(40)
    Site.objects.filter(pk=site.pk).update(units="us")
    assert client.get(where).json()["machines"][0]["shaft_length"] == inch(40)
    assert client.get(where + "?units=metric").json()["machines"][0]["shaft_length"] == mm(1016)
    refused = client.get(where + "?units=furlong")
    assert refused.status_code == 400
    assert refused.json()["errors"][0]["parameter"] == "units"


def test_every_fault_of_a_body_is_named_at_once_and_nothing_is_saved(as_person, keeper, body):
    body["machines"][0]["shaft_length"] = {"value": 1016, "unit": "kg"}
    body["machines"][0]["feet"][1]["distance"] = 762
    body["criticality"] = "D"
    body["colour"] = "green"
    answer = as_person(keeper).post("/api/v1/trains/", body, format="json")
    assert answer.status_code == 422
    assert answer["Content-Type"] == "application/problem+json"
    problem = answer.json()
    assert (problem["type"], problem["status"]) == ("/problems/invalid", 422)
    said = {error["pointer"]: error["detail"] for error in problem["errors"]}
    assert set(said) == {
        "/machines/0/shaft_length",
        "/machines/0/feet/1/distance",
        "/criticality",
        "/colour",
    }
    assert "needs its unit" in said["/machines/0/feet/1/distance"]
    assert said["/colour"] == "This field is not known here."
    assert not Train.objects.exists()


def test_the_services_own_refusals_point_into_what_was_sent(as_person, keeper, body):
    body["machines"][0]["shaft_length"] = mm(60_000)
    body["machines"][0]["feet"][1]["distance"] = inch(10)
    body["machines"][1]["position"] = 3
    answer = as_person(keeper).post("/api/v1/trains/", body, format="json")
    said = {error["pointer"]: error["detail"] for error in answer.json()["errors"]}
    assert said["/machines/0/shaft_length"] == "It must lie between 1 and 50000."
    assert said["/machines/0/feet/0/distance"] == "Two foot planes at one distance are one."
    assert said["/machines/1/position"] == "Positions run from 1, the driver end, without gaps."
    assert not Train.objects.exists()


def test_a_taken_tag_is_refused_beside_the_tag(as_person, keeper, body, train):
    body["tag"] = train.tag
    answer = as_person(keeper).post("/api/v1/trains/", body, format="json")
    assert answer.json()["errors"] == [
        {"pointer": "/tag", "detail": "There is a train “BF-21” at this site already.", "code": "invalid"}
    ]


def test_the_sender_may_choose_the_id_once(as_person, keeper, body):
    body["id"] = "7d6fa1d2-58a7-4c47-9a5d-1f0f4b2b7c11"
    client = as_person(keeper)
    assert client.post("/api/v1/trains/", body, format="json").json()["id"] == body["id"]
    again = client.post("/api/v1/trains/", body | {"tag": "CT-08"}, format="json")
    assert again.json()["errors"][0]["pointer"] == "/id"
    assert Train.objects.count() == 1


def test_a_change_names_the_version_it_was_made_from(as_person, keeper, train):
    client, where = as_person(keeper), f"/api/v1/trains/{train.uuid}/"
    without = client.patch(where, {"name": "new"}, format="json")
    assert without.status_code == 428
    done = client.patch(where, {"name": "new"}, format="json", headers={"If-Match": '"1"'})
    assert (done.status_code, done["ETag"], done.json()["name"]) == (200, '"2"', "new")
    late = client.patch(where, {"name": "mine"}, format="json", headers={"If-Match": '"1"'})
    assert (late.status_code, late["ETag"]) == (412, '"2"')
    assert late.json()["type"] == "/problems/stale"
    assert late.json()["current"]["name"] == "new"
    for garbage in ["nonsense", 'W/"2"', '"2e0"', '"' + "9" * 40 + '"', '"²"']:
        assert client.patch(where, {"name": "x"}, headers={"If-Match": garbage}, format="json").status_code == 412
    train.refresh_from_db()
    assert (train.name, train.version) == ("new", 2)


def test_a_reader_that_has_it_already_is_told_so(as_person, mechanic, train):
    answer = as_person(mechanic).get(f"/api/v1/trains/{train.uuid}/", headers={"If-None-Match": '"1"'})
    assert (answer.status_code, answer.content) == (304, b"")


def test_machines_given_in_a_change_replace_the_list_and_keep_the_rows(as_person, keeper, train):
    client, where = as_person(keeper), f"/api/v1/trains/{train.uuid}/"
    motor, pump = train.machines.all()
    machines = client.get(where).json()["machines"]
    machines[0]["shaft_length"] = mm(1200)
    machines.insert(1, {"position": 2, "name": "gear unit", "role": "gear", "shaft_length": mm(400)})
    machines[2]["position"] = 3
    answer = client.patch(where, {"machines": machines}, format="json", headers={"If-Match": "*"})
    assert answer.status_code == 200, answer.json()
    assert [machine["name"] for machine in answer.json()["machines"]] == ["motor", "gear unit", "pump"]
    assert train.machines.get(position=1).pk == motor.pk
    assert train.machines.get(position=3).pk == pump.pk
    assert train.machines.get(position=1).shaft_length_mm == 1200


def test_a_change_may_repeat_what_is_fixed_and_not_alter_it(as_person, keeper, train, other_site):
    client, where = as_person(keeper), f"/api/v1/trains/{train.uuid}/"
    whole = client.get(where).json()
    repeated = client.patch(where, whole | {"name": "again"}, format="json", headers={"If-Match": '"1"'})
    assert repeated.status_code == 200, repeated.json()
    moved = client.patch(where, {"id": str(other_site.uuid)}, format="json", headers={"If-Match": '"2"'})
    assert moved.json()["errors"][0] == {
        "pointer": "/id",
        "detail": "This is fixed once it is made.",
        "code": "fixed",
    }


def test_other_systems_keys_find_a_train_and_stay_unique(as_person, keeper, body, train):
    client = as_person(keeper)
    made = client.post("/api/v1/trains/", body, format="json").json()
    found = client.get("/api/v1/trains/?external_ref=orders:4711").json()["results"]
    assert [row["id"] for row in found] == [made["id"]]
    twice = client.patch(
        f"/api/v1/trains/{train.uuid}/",
        {"external_ref": {"orders": "4711"}},
        format="json",
        headers={"If-Match": '"1"'},
    )
    assert twice.json()["errors"][0]["pointer"] == "/external_ref/orders"
    where = f"/api/v1/trains/{made['id']}/"
    merged = client.patch(where, {"external_ref": {"erp": "T-9"}}, format="json", headers={"If-Match": "*"})
    assert merged.json()["external_ref"] == {"orders": "4711", "erp": "T-9"}
    cut = client.patch(where, {"external_ref": {"orders": None}}, format="json", headers={"If-Match": "*"})
    assert cut.json()["external_ref"] == {"erp": "T-9"}
    assert ExternalRef.objects.count() == 1


def test_another_sites_rows_are_not_there(as_person, stranger, train, body):
    client = as_person(stranger)
    assert client.get("/api/v1/trains/").json()["results"] == []
    assert client.get(f"/api/v1/trains/{train.uuid}/").status_code == 404
    refused = client.post("/api/v1/trains/", body, format="json")
    assert {error["pointer"] for error in refused.json()["errors"]} >= {"/site", "/area"}
    changed = client.patch(f"/api/v1/trains/{train.uuid}/", {"name": "x"}, format="json", headers={"If-Match": '"1"'})
    assert changed.status_code == 404


def test_a_role_that_may_not_keep_the_register_is_told(as_person, mechanic, body, train):
    client = as_person(mechanic)
    assert client.post("/api/v1/trains/", body, format="json").status_code == 403
    refused = client.patch(f"/api/v1/trains/{train.uuid}/", {"name": "x"}, format="json", headers={"If-Match": '"1"'})
    assert refused.json()["detail"] == "Your role at this site does not let you keep the register."


def test_many_at_once_have_an_answer_each(as_person, keeper, body, site):
    rows = [body | {"tag": "A-1"}, body | {"tag": "A-1"}, body | {"tag": "A-2", "external_ref": {}}, {"tag": "A-3"}]
    answer = as_person(keeper).post("/api/v1/trains/bulk/", {"rows": rows}, format="json")
    assert answer.status_code == 200, answer.json()
    assert [row["status"] for row in answer.json()["rows"]] == [201, 422, 201, 422]
    assert answer.json()["rows"][1]["errors"][0]["pointer"] == "/tag"
    assert {error["pointer"] for error in answer.json()["rows"][3]["errors"]} == {"/site", "/area"}
    assert sorted(Train.objects.values_list("tag", flat=True)) == ["A-1", "A-2"]
    numbers = sorted(Train.objects.values_list("changed_no", flat=True))
    assert numbers == [1, 2]
    assert SiteNumber.objects.get(site=site).last == 2


def test_run_hours_never_fall_and_never_outrun_the_clock(as_person, mechanic, train, time_machine_at):
    client, where = as_person(mechanic), f"/api/v1/trains/{train.uuid}/run-hours/"

    def read(at, hours, **more):
        body = {"at": at, "hours": {"value": hours, "unit": "hour"}} | more
        return client.post(where, body, format="json")

    assert read("2026-10-01T06:00:00Z", 8000).status_code == 201
    assert read("2026-10-02T06:00:00Z", 8020).json()["total"] == {"value": 8020.0, "unit": "hour"}
    assert "backwards" in read("2026-10-03T06:00:00Z", 7000).json()["errors"][0]["detail"]
    assert "do not fit" in read("2026-10-03T06:00:00Z", 8100).json()["errors"][0]["detail"]
    assert read("2026-10-20T06:00:00Z", 8100).json()["errors"][0] == {
        "pointer": "/at",
        "detail": "This lies in the future.",
        "code": "invalid",
    }
    new_meter = read("2026-10-04T06:00:00Z", 0, replaced=True)
    assert new_meter.json()["total"]["value"] == 8020
    assert read("2026-10-05T06:00:00Z", 10).json()["total"]["value"] == 8030
    assert [row["hours"]["value"] for row in client.get(where).json()["results"]] == [10, 0, 8020, 8000]


def test_a_machine_says_what_its_frame_is_made_of_else_it_goes_by_the_site(as_person, keeper, body):
    body["machines"][0]["support_material"] = "aluminium 6061"
    client = as_person(keeper)
    made = client.post("/api/v1/trains/", body, format="json").json()
    assert [machine["support_material"] for machine in made["machines"]] == ["aluminium 6061", ""]

    body["machines"][0]["support_material"] = "tin"
    refused = client.post("/api/v1/trains/", body | {"tag": "CT-09"}, format="json")
    assert refused.json()["errors"][0]["pointer"] == "/machines/0/support_material"
