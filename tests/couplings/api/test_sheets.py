"""Data sheets over the API: stated as the sheet states it, published once, changed by versions."""

import pytest

from couplings.models import DataSheet, SheetVersion
from tests.couplings.api.conftest import faults, mm
from tests.factories import DataSheetFactory, FamilyFactory, SheetVersionFactory

URL = "/api/v1/data-sheets/"


@pytest.fixture
def body(site):
    FamilyFactory(code="disc", name="Disc", kind="spacer")
    return {
        "site": str(site.uuid),
        "family": "disc",
        "designation": "Disc 60",
        "first_version": {
            "dbse": {"value": 5.5, "unit": "inch"},
            "dbse_tolerance": {"value": 20, "unit": "thou"},
            "set_screw_torque": {"value": 100, "unit": "lbf*in"},
            "max_speed": {"value": 3600, "unit": "rpm"},
            "limits": [
                {"quantity": "offset", "stated_as": "length", "stated": {"value": 5, "unit": "mil"}},
                {"quantity": "flex-angle", "stated_as": "degrees", "stated": {"value": 0.5, "unit": "deg"}},
                {
                    "quantity": "angularity",
                    "stated_as": "gap-difference",
                    "stated": mm(0.1),
                    "over_diameter": {"value": 4, "unit": "inch"},
                },
            ],
            "joints": [{"name": "flange", "positions": 8, "torque": {"value": 30, "unit": "lbf*ft"}}],
        },
    }


def limit(answer, quantity, **more):
    return next(row for row in answer.json()["versions"][-1]["limits"] if row["quantity"] == quantity)


def test_a_sheet_is_written_in_inches_and_answered_in_the_sites_millimetres(as_person, keeper, body):
    client = as_person(keeper)
    made = client.post(URL, body, format="json")
    assert made.status_code == 201, made.json()
    assert made["ETag"] == '"1"'
    # 1 in = 25.4 mm exactly (international inch); 1 lbf = 4.4482216152605 N (standard gravity, avoirdupois pound).
    version = made.json()["versions"][0]
    assert version["dbse"] == mm(139.7)
    assert version["dbse_tolerance"]["value"] == pytest.approx(0.508)
    assert version["joints"][0]["torque"]["value"] == pytest.approx(30 * 4.4482216152605 * 0.3048, rel=1e-9)
    assert limit(made, "offset")["judged_by"]["value"] == pytest.approx(0.127)
    # Slope = tan(angle), plane geometry; the small-angle figure of half a degree is 8.7 mm/m (reference TL, Jackson).
    assert limit(made, "flex-angle")["judged_by"] == {"value": pytest.approx(8.7268, abs=1e-4), "unit": "mm/m"}
    assert limit(made, "flex-angle")["stated"] == {"value": 0.5, "unit": "deg"}
    assert limit(made, "angularity")["judged_by"]["value"] == pytest.approx(100 / 101.6)


def test_the_same_sheet_reads_back_in_inches_where_they_are_asked_for(as_person, keeper, body):
    client = as_person(keeper)
    made = client.post(URL, body, format="json")
    us = client.get(made["Location"] + "?units=us")
    version = us.json()["versions"][0]
    for name, sent in body["first_version"].items():
        if isinstance(sent, dict):
            assert version[name] == {"value": pytest.approx(sent["value"]), "unit": sent["unit"]}
    assert limit(us, "offset")["stated"] == {"value": pytest.approx(5), "unit": "thou"}
    assert limit(us, "angularity")["over_diameter"] == {"value": pytest.approx(4), "unit": "inch"}
    assert limit(us, "angularity")["judged_by"]["unit"] == "thou/inch"


def test_every_fault_points_at_its_field_and_nothing_is_saved(as_person, keeper, body):
    first = body["first_version"]
    first["dbse"] = {"value": 5.5, "unit": "deg"}
    first["hub_length"] = 80
    first["limits"][0]["stated"] = {"value": 5, "unit": "deg"}
    first["limits"][1]["stated"] = {"value": 5, "unit": "mil"}
    first["limits"][2]["stated"] = {"value": float("1e13"), "unit": "mm"}
    first["joints"][0]["torque"] = {"value": 30, "unit": "J"}
    body["family"] = "belt"
    answer = as_person(keeper).post(URL, body, format="json")
    assert answer.status_code == 422
    said = faults(answer)
    assert set(said) == {
        "/family",
        "/first_version/dbse",
        "/first_version/hub_length",
        "/first_version/limits/0/stated",
        "/first_version/limits/1/stated",
        "/first_version/limits/2/stated",
        "/first_version/joints/0/torque",
    }
    assert "never an angle" in said["/first_version/limits/1/stated"]
    assert "not an energy" in said["/first_version/joints/0/torque"]
    assert not DataSheet.objects.exists()


def test_what_the_rules_refuse_points_at_the_field_as_it_was_sent(as_person, keeper, body):
    first = body["first_version"]
    first["dbse"] = mm(-1)
    first["limits"][0]["stated"] = mm(0)
    del first["limits"][2]["over_diameter"]
    first["limits"].append(first["limits"][1] | {"stated_as": "length", "stated": mm(1)})
    first["joints"][0]["recheck"] = "not-allowed"
    answer = as_person(keeper).post(URL, body, format="json")
    assert set(faults(answer)) == {
        "/first_version/dbse",
        "/first_version/limits/0/stated",
        "/first_version/limits/2/over_diameter",
        "/first_version/limits/3/stated_as",
        "/first_version/limits/3/quantity",
        "/first_version/joints/0/recheck_reason",
    }
    assert not DataSheet.objects.exists()


@pytest.mark.parametrize(
    "stated_as, stated, sentence",
    [
        ("slope", {"value": 0.5, "unit": "deg"}, "deg does not go with “slope”: expected a slope such as mm/m"),
        ("degrees", {"value": 0.5, "unit": "mm/m"}, "mm/m does not go with “degrees”: expected an angle in deg"),
        ("degrees", {"value": 0.5}, "A number needs its unit"),
        ("slope", 0.5, "A number needs its unit"),
        ("slope", "0.5", "A number needs its unit"),
        ("slope", None, "may not be null"),
        ("slope", {"value": True, "unit": "mm/m"}, "must be a number"),
    ],
)
def test_a_limit_in_another_unit_than_its_way_of_stating_is_refused(
    as_person, keeper, body, stated_as, stated, sentence
):
    body["first_version"]["limits"] = [{"quantity": "angularity", "stated_as": stated_as, "stated": stated}]
    answer = as_person(keeper).post(URL, body, format="json")
    assert answer.status_code == 422
    assert sentence in faults(answer)["/first_version/limits/0/stated"]


def test_a_version_is_changed_published_and_then_frozen(as_person, engineer, body):
    client = as_person(engineer)
    sheet = client.post(URL, body, format="json")["Location"]
    one = sheet + "versions/1/"
    assert client.patch(one, {"note": "x"}, format="json").status_code == 428
    assert client.patch(one, {"note": "x"}, format="json", headers={"If-Match": '"7"'}).status_code == 412
    changed = client.patch(one, {"rule": "per-plane", "limits": []}, format="json", headers={"If-Match": '"1"'})
    assert (changed.status_code, changed["ETag"]) == (200, '"2"')
    assert changed.json()["versions"][0]["rule"] == "per-plane"
    published = client.post(one + "publish/", {}, format="json", headers={"If-Match": '"2"'})
    assert published.json()["versions"][0]["published_by"] == "Ana"
    assert len(published.json()["versions"][0]["digest"]) == 64
    refused = client.patch(one, {"note": "x"}, format="json", headers={"If-Match": "*"})
    assert (refused.status_code, refused.json()["detail"]) == (
        422,
        "Version 1 is published and stays as it is: begin a new version to change it.",
    )
    assert client.post(one + "publish/", {}, format="json").status_code == 422
    second = client.post(sheet + "versions/", {}, format="json")
    assert second.status_code == 201
    assert [version["number"] for version in second.json()["versions"]] == [1, 2]
    assert client.get(sheet + "versions/2/").json()["rule"] == "per-plane"
    assert client.get(sheet + "versions/3/").status_code == 404


def test_a_stale_change_is_shown_what_stands_now(as_person, engineer, body):
    client = as_person(engineer)
    sheet = client.post(URL, body, format="json")["Location"]
    client.patch(sheet, {"note": "first"}, format="json", headers={"If-Match": '"1"'})
    stale = client.patch(sheet, {"note": "second"}, format="json", headers={"If-Match": '"1"'})
    assert (stale.status_code, stale.json()["current"]["note"]) == (412, "first")


def test_the_same_key_and_body_write_one_sheet_and_another_body_is_refused(as_person, keeper, body):
    client, key = as_person(keeper), {"Idempotency-Key": "k-1"}
    first = client.post(URL, body, format="json", headers=key)
    again = client.post(URL, body, format="json", headers=key)
    assert (again.status_code, again.json(), again["ETag"]) == (201, first.json(), first["ETag"])
    other = client.post(URL, body | {"designation": "Disc 70"}, format="json", headers=key)
    assert (other.status_code, other.json()["type"]) == (422, "/problems/idempotency-key-reused")
    assert DataSheet.objects.count() == 1


def test_who_writes_publishes_and_reads(as_person, keeper, engineer, mechanic, stranger, body):
    assert as_person(mechanic).post(URL, body, format="json").status_code == 403
    assert set(faults(as_person(stranger).post(URL, body, format="json"))) == {"/site"}
    sheet = as_person(keeper).post(URL, body, format="json")["Location"]
    assert as_person(keeper).post(sheet + "versions/1/publish/", {}, format="json").status_code == 403
    assert as_person(mechanic).get(sheet).status_code == 200
    for answer in (
        as_person(stranger).get(sheet),
        as_person(stranger).get(sheet + "versions/1/"),
        as_person(stranger).post(sheet + "versions/1/publish/", {}, format="json"),
        as_person(stranger).post(sheet + "versions/", {}, format="json"),
    ):
        assert answer.status_code == 404
    assert SheetVersion.objects.get().published_at is None
    assert as_person(engineer).post(sheet + "versions/1/publish/", {}, format="json").status_code == 200


def test_a_list_costs_the_same_however_long_it_is(as_person, mechanic, site, django_assert_num_queries):
    for no in range(5):
        SheetVersionFactory(sheet=DataSheetFactory(site=site, designation=f"Jaw {no}"))
    client = as_person(mechanic)
    # Roles, sites, sheets joined with their families, versions with publisher and sheet, the eight lists below them,
    # the scatter that joints are told with.
    with django_assert_num_queries(13):
        assert len(client.get(URL).json()["results"]) == 5


def test_families_are_read_by_everybody_signed_in(as_person, stranger, django_assert_num_queries):
    FamilyFactory()
    client = as_person(stranger)
    # The one list; families belong to no site.
    with django_assert_num_queries(1):
        listed = client.get("/api/v1/families/").json()
    assert [row["code"] for row in listed["results"]] == ["elastomer-compression"]
    assert client.get("/api/v1/families/elastomer-compression/").json()["ages"] is True
    assert client.get("/api/v1/families/belt/").status_code == 404
