"""Acts on data sheets over the API: copy, compare, advice, publish with a limit change, decide, adopt."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from couplings.models import Fit, LimitChange
from couplings.services.sheets import begin_version, change_version
from plant.recording import recording
from tests.couplings.api.conftest import faults, mm
from tests.couplings.sheets_written import publish, write_full
from tests.factories import NOW, CouplingFactory, FamilyFactory, FitFactory, TrainFactory

URL = "/api/v1/data-sheets/"
WHY = {"reason": "The maker's new sheet", "change_number": "LC-7", "from_on": NOW.date().isoformat()}


@pytest.fixture
def first(engineer, site):
    return publish(engineer, write_full(engineer, site))


@pytest.fixture
def second(engineer, first):
    limits = [{"quantity": "offset", "stated_as": "length", "stated_value": 0.1}]
    with recording(by=engineer, at=NOW):
        return change_version(version=begin_version(sheet=first.sheet), limits=limits)


def at(version, act):
    return f"{URL}{version.sheet.uuid}/versions/{version.number}/{act}/"


def test_every_list_is_sent_and_read_back_in_the_units_asked_for(as_person, keeper, site):
    client = as_person(keeper)
    first = {
        "hubs": [{"bore_length": {"value": 2.5, "unit": "inch"}, "flange": mm(8), "orientation": "in"}],
        "spacers": [{"name": "inner holes", "length": {"value": 4, "unit": "inch"}}],
        "screws": [
            {"up_to_bore": mm(40), "size": "M8", "torque": {"value": 100, "unit": "lbf*in"}, "source": "invented"}
        ],
        "element_parts": [{"part_number": "P-1", "material": "steel", "standard": True}],
        "hold_points": [{"step": "placement", "what": "Engagement", "role": "manager"}],
    }
    body = {"site": str(site.uuid), "family": FamilyFactory(code="disc").code, "designation": "Disc 60"}
    made = client.post(URL, body | {"first_version": first}, format="json")
    assert made.status_code == 201, made.json()
    version = client.get(made["Location"] + "?units=us").json()["versions"][0]
    assert version["hubs"][0]["bore_length"] == {"value": pytest.approx(2.5), "unit": "inch"}
    assert version["spacers"][0] == {"name": "inner holes", "length": {"value": pytest.approx(4), "unit": "inch"}}
    assert version["screws"][0]["torque"] == {"value": pytest.approx(100), "unit": "lbf*in"}
    assert version["element_part"] == "P-1"
    assert version["hold_points"] == first["hold_points"]


def test_a_bad_row_points_at_its_field_as_it_was_sent(as_person, keeper, first, engineer):
    with recording(by=engineer, at=NOW):
        draft = begin_version(sheet=first.sheet)
    client = as_person(keeper)
    address = f"{URL}{draft.sheet.uuid}/versions/2/"
    body = {
        "hubs": [{"side": "driver", "bore_length": mm(60), "overhang": mm(70)}],
        "screws": [{"up_to_bore": mm(0), "size": "M8", "torque": {"value": 1, "unit": "N*m"}, "source": "x"}],
        "hold_points": [{"step": "lunch", "what": "x", "role": "manager"}],
    }
    answer = client.patch(address, body, format="json", headers={"If-Match": "*"})
    assert set(faults(answer)) == {"/hubs", "/hubs/0/overhang", "/screws/0/up_to_bore", "/hold_points/0/step"}


def test_a_copy_is_answered_with_its_address_and_says_the_same(as_person, keeper, first):
    client = as_person(keeper)
    made = client.post(f"{URL}{first.sheet.uuid}/copy/", {"designation": "Full 90"}, format="json")
    assert made.status_code == 201, made.json()
    copy, original = client.get(made["Location"]).json(), client.get(f"{URL}{first.sheet.uuid}/").json()
    own = ("number", "published_at", "published_by", "digest")
    assert {k: v for k, v in copy["versions"][0].items() if k not in own} == {
        k: v for k, v in original["versions"][0].items() if k not in own
    }
    assert copy["versions"][0]["published_at"] is None


def test_versions_are_compared_in_the_units_asked_for(as_person, mechanic, second):
    client = as_person(mechanic)
    found = client.get(at(second, "comparison") + "?with=1&units=us").json()
    assert (found["before"], found["after"]) == (1, 2)
    offset = next(row for row in found["differences"] if row["field"] == "limits.offset.stated_value")
    # 0.2 mm and 0.1 mm at 25.4 mm the inch: 7.9 and 3.9 thousandths.
    assert (offset["before"], offset["after"], offset["held_to"]) == ("7.9\u00a0thou", "3.9\u00a0thou", True)
    assert client.get(at(second, "comparison")).json() == client.get(at(second, "comparison") + "?with=1").json()
    assert client.get(at(second, "comparison") + "?with=one").status_code == 400
    assert client.get(at(second, "comparison") + "?with=9").status_code == 404


def test_advice_gives_the_dbse_each_orientation_serves_and_what_the_screws_hold(as_person, mechanic, first):
    told = as_person(mechanic).get(at(first, "advice")).json()
    inside = next(row for row in told["served"] if row["element"] == "inner holes" and row["allowed"])
    # By hand: gap 100 - 8 - 8 = 84; at 80 % engaged the faces stand at most 12 and 14 past the ends, so 84 + 26.
    assert (inside["gap"], inside["to_dbse"], inside["from_dbse"]) == (mm(84), mm(110), mm(0))
    assert inside["nominal"] is True
    assert any(not row["allowed"] for row in told["served"])
    # By hand: -2 + 0 + 100 - 8 - 8.
    assert told["stated_dbse"][0] == {"element": "inner holes", "dbse": mm(82)}
    # Two screws 65 degrees apart hold 1.75 times one (common practice): 4000 N x 1.75 at 25 mm.
    assert told["holding"]["torsional"] == {"value": pytest.approx(175), "unit": "N*m"}
    assert told["holding"]["share_used"]["value"] > 100
    assert len(told["warnings"]) == 2
    assert told["missing"] == []


def test_advice_says_what_the_sheet_would_have_to_state(as_person, mechanic, engineer, site):
    bare = write_full(engineer, site, hubs=[], spacers=[], torque_rating_nm=None)
    told = as_person(mechanic).get(at(bare, "advice")).json()
    assert (told["served"], told["stated_dbse"], told["warnings"]) == ([], [], [])
    assert [sentence.split(":")[0] for sentence in told["missing"]] == [
        "The hubs' bore length and flange plane are not stated",
        "No length of the element or spacer is stated",
        "The torque rating is not stated",
    ]


def test_limits_change_over_the_api_by_two_people_and_fits_adopt_them(as_person, engineer, manager, first, second):
    fits = [
        FitFactory(coupling=CouplingFactory(train=TrainFactory(site=first.sheet.site, tag=tag)), sheet_version=first)
        for tag in ("BF-51", "BF-52", "BF-53", "BF-54")
    ]
    proposer, approver = as_person(engineer), as_person(manager)
    refused = proposer.post(at(second, "publish"), {}, format="json")
    assert set(faults(refused)) == {"/reason", "/change_number", "/from_on"}
    assert proposer.post(at(second, "publish"), WHY, format="json").status_code == 200
    (change,) = proposer.get("/api/v1/limit-changes/?decision=waiting").json()["results"]
    assert (change["data_sheet_version"], change["compared_with"], change["decided_by"]) == (2, 1, None)
    where = f"/api/v1/limit-changes/{change['id']}/"
    assert proposer.post(where + "approve/", {}, format="json").status_code == 422
    body = {"fits": [str(fit.uuid) for fit in fits[:3]]}
    said = approver.post(at(second, "adopt"), body, format="json")
    assert said.status_code == 422
    assert "waits for approval" in said.json()["errors"][0]["detail"]
    decided = approver.post(where + "approve/", {"reason": "agreed"}, format="json", headers={"If-Match": '"1"'})
    assert decided.status_code == 200, decided.json()
    assert (decided.json()["decision"], decided["ETag"]) == ("approved", '"2"')
    touched = approver.get(at(second, "touched")).json()
    assert touched["not_adoptable"] == ""
    assert [row["tag"] for row in touched["fits"]] == ["BF-51", "BF-52", "BF-53", "BF-54"]
    assert approver.post(at(second, "adopt"), body, format="json").status_code == 200
    assert Fit.objects.filter(sheet_version=second).count() == 3
    assert [row["tag"] for row in approver.get(at(second, "touched")).json()["fits"]] == ["BF-54"]
    assert LimitChange.objects.get().decision_reason == "agreed"


def test_whom_a_version_touches_costs_the_same_however_many(as_person, mechanic, first, second):
    client, costs = as_person(mechanic), []
    for tag in ("BF-61", "BF-62", "BF-63"):
        train = TrainFactory(site=first.sheet.site, tag=tag)
        FitFactory(coupling=CouplingFactory(train=train), sheet_version=first)
        with CaptureQueriesContext(connection) as asked:
            assert client.get(at(second, "touched")).status_code == 200
        costs.append(len(asked))
    assert costs[1] == costs[2]


def test_a_delta_reader_is_told_of_a_change_proposed_and_again_when_it_is_decided(
    as_person, engineer, manager, mechanic, second, site
):
    reader, where = as_person(mechanic), "/api/v1/limit-changes/"
    start = reader.get(where, {"site": str(site.uuid), "updated_since": NOW.isoformat()}).json()
    assert start["results"] == []
    as_person(engineer).post(at(second, "publish"), WHY, format="json")
    told = reader.get(where, {"after": start["after"]}).json()
    assert [row["decision"] for row in told["results"]] == ["waiting"]
    as_person(manager).post(f"{where}{told['results'][0]['id']}/approve/", {}, format="json")
    again = reader.get(where, {"after": told["after"]}).json()
    assert [(row["id"], row["decision"]) for row in again["results"]] == [(told["results"][0]["id"], "approved")]
