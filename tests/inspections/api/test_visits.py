"""Visits over the API: begun once, signed by version, amended, dropped, found again; who may and who may not."""

import uuid

import pytest

from inspections.models import SignedRecord, Visit
from tests.factories import WorkOrderFactory
from tests.inspections.visits import begin

pytestmark = pytest.mark.django_db
VISITS = "/api/v1/visits/"


@pytest.fixture
def body(fit, order):
    return {
        "id": str(uuid.uuid4()),
        "coupling": str(fit.coupling.uuid),
        "kind": "installation",
        "on": "2026-10-12",
        "work_order": str(order.uuid),
    }


def post(client, where, body=None, **headers):
    return client.post(
        where, body or {}, format="json", headers={name.replace("_", "-"): h for name, h in headers.items()}
    )


def test_the_same_key_and_body_begin_one_visit_and_another_body_is_refused(as_person, mechanic, body):
    client = as_person(mechanic)
    first = post(client, VISITS, body, Idempotency_Key="begin-1")
    assert first.status_code == 201, first.json()
    again = post(client, VISITS, dict(reversed(body.items())), Idempotency_Key="begin-1")
    assert (again.status_code, again.json(), again["Location"]) == (201, first.json(), first["Location"])
    other = post(client, VISITS, body | {"kind": "periodic"}, Idempotency_Key="begin-1")
    assert (other.status_code, other.json()["type"]) == (422, "/problems/idempotency-key-reused")
    late = post(client, VISITS, body)
    assert late.json()["errors"][0]["pointer"] == "/id", "also harmless without the key"
    assert Visit.objects.count() == 1


@pytest.mark.parametrize(
    ("change", "pointer", "said"),
    [
        ({"on": "2026-10-13"}, "/on", "lies in the future"),
        ({"on": "2026-09-30"}, "/on", "when this fit was made"),
        ({"kind": "polishing"}, "/kind", "not a valid choice"),
        ({"coupling": str(uuid.uuid4())}, "/coupling", "nothing here by that name"),
        ({"work_order": None}, "/work_order", "needs its work order"),
        ({"taken_at": "2026-10-12T23:00:00Z"}, "/taken_at", "lies in the future"),
        ({"state": "signed", "verdict": "in tolerance"}, "/verdict", "not known here"),
    ],
)
def test_a_visit_that_cannot_be_is_refused_beside_its_field(as_person, mechanic, body, change, pointer, said):
    answer = post(as_person(mechanic), VISITS, body | change)
    assert answer.status_code == 422
    found = {error["pointer"]: error["detail"] for error in answer.json()["errors"]}
    assert said in found[pointer]
    assert not Visit.objects.exists()


def test_an_order_of_another_train_is_refused(as_person, mechanic, body, site):
    body["work_order"] = str(WorkOrderFactory(train__site=site, isolated=True).uuid)
    answer = post(as_person(mechanic), VISITS, body)
    assert answer.json()["errors"][0]["pointer"] == "/work_order"


def test_signing_names_the_version_that_was_read(as_person, mechanic, filled):
    client, where = as_person(mechanic), f"{VISITS}{filled.uuid}/"
    assert post(client, f"{where}sign/").status_code == 428
    stale = post(client, f"{where}sign/", If_Match='"9"')
    assert (stale.status_code, stale.json()["current"]["state"], stale["ETag"]) == (412, "draft", '"1"')
    assert not SignedRecord.objects.exists()
    signed = post(client, f"{where}sign/", If_Match='"1"')
    assert (signed.status_code, signed["ETag"]) == (200, '"2"')
    twice = post(client, f"{where}sign/", If_Match='"2"')
    assert twice.status_code == 422
    assert "corrected by an amendment" in twice.json()["detail"]


def test_an_amendment_is_the_next_link_and_the_old_text_stays(as_person, mechanic, engineer, filled):
    where = f"{VISITS}{filled.uuid}/"
    post(as_person(mechanic), f"{where}sign/", If_Match='"1"')
    client = as_person(engineer)
    change = {"steps": {"placement": {"dbse": "5.51 inch", "driver_engagement": "78", "driven_engagement": "80"}}}
    reason = {"reason": "The rule was read on its wrong side."}
    wordless = post(client, f"{where}amend/", change | {"reason": " "}, If_Match='"2"')
    assert wordless.json()["errors"][0]["pointer"] == "/reason"
    wrong = post(client, f"{where}amend/", {"steps": {"placement": {"dbse": "inf"}}} | reason, If_Match='"2"')
    assert {error["pointer"] for error in wrong.json()["errors"]} >= {"/steps/placement/dbse"}
    nowhere = post(client, f"{where}amend/", {"steps": {"polishing": {}}} | reason, If_Match='"2"')
    assert nowhere.json()["errors"][0]["pointer"] == "/steps/polishing"
    assert SignedRecord.objects.count() == 1
    amended = post(client, f"{where}amend/", change | reason, If_Match='"2"')
    assert amended.status_code == 200, amended.json()
    assert amended.json()["record"] == 2
    first, second = client.get(f"{where}records/").json()["results"]
    assert (first["kind"], first["in_force"]) == ("visit", False)
    assert (second["kind"], second["in_force"], second["amends"]) == ("amendment", True, 1)
    assert second["previous_digest"] == first["digest"]
    assert second["reason"] == reason["reason"]
    surveys = client.get(f"/api/v1/surveys/?visit={filled.uuid}").json()["results"]
    assert [(row["record"], row["as_left"]) for row in surveys] == [(2, True)], "only the text in force"


def test_a_dropped_draft_stays_readable_and_is_not_written_in(as_person, mechanic, visit):
    client, where = as_person(mechanic), f"{VISITS}{visit.uuid}/"
    assert post(client, f"{where}drop/", If_Match='"4"').status_code == 412
    assert post(client, f"{where}drop/").json()["state"] == "dropped"
    entry = client.patch(f"{where}entries/placement/", {"fields": {"dbse": "1"}}, format="json")
    assert (entry.status_code, entry.json()["errors"][0]["code"]) == (422, "not-a-draft")
    assert client.get(f"{where}entries/").json()["results"][0]["state"] is None
    assert client.get(f"{where}summary/").status_code == 404


def test_who_may_sign_and_amend_over_the_api(as_person, mechanic, planner, engineer, client_account, filled):
    where = f"{VISITS}{filled.uuid}/"
    for person in (planner, client_account):
        refused = post(as_person(person), f"{where}sign/", If_Match='"1"')
        assert (refused.status_code, refused.json()["type"]) == (403, "/problems/not-allowed")
    assert post(as_person(mechanic), f"{where}sign/", If_Match='"1"').status_code == 200
    body = {"steps": {"element": {}}, "reason": "-"}
    assert post(as_person(mechanic), f"{where}amend/", body, If_Match='"2"').status_code == 403


@pytest.mark.parametrize("tail", ["", "entries/", "entries/placement/", "entries/alignment/1/", "summary/", "records/"])
def test_somebody_from_another_site_finds_no_visit(as_person, stranger, visit, tail):
    client, where = as_person(stranger), f"{VISITS}{visit.uuid}/"
    assert client.get(where + tail).status_code == 404
    assert client.get(f"{VISITS}").json()["results"] == []
    if "placement" in tail:
        assert client.patch(where + tail, {"fields": {}}, format="json").status_code == 404
    for act in ("sign/", "drop/", "amend/"):
        assert post(client, where + act, {"steps": {}, "reason": "-"} if act == "amend/" else {}).status_code == 404


def test_visits_are_found_by_what_is_asked(as_person, planner, mechanic, fit, order, visit):
    later = begin(fit, order, mechanic, kind="torque")
    client = as_person(planner)

    def found(query):
        return {row["id"] for row in client.get(f"{VISITS}?{query}").json()["results"]}

    assert found("kind=torque") == {str(later.uuid)}
    assert found(f"coupling={fit.coupling.uuid}&state=draft") == {str(visit.uuid), str(later.uuid)}
    assert found(f"work_order={order.uuid}&until_on=2026-10-11") == set()
    assert client.get(f"{VISITS}?colour=green").status_code == 400
    assert client.get(f"{VISITS}?kind=polishing").status_code == 400


def test_a_delta_of_visits_goes_on_from_its_token(as_person, planner, mechanic, fit, order, site, visit):
    client = as_person(planner)
    start = client.get(f"{VISITS}?site={site.uuid}&updated_since=2026-01-01T00:00:00Z").json()
    assert [row["id"] for row in start["results"]] == [str(visit.uuid)]
    assert client.get(f"{VISITS}?after={start['after']}").json()["results"] == []
    as_person(mechanic).post(f"{VISITS}{visit.uuid}/drop/", {}, format="json")
    more = client.get(f"{VISITS}?after={start['after']}").json()["results"]
    assert [(row["id"], row["state"]) for row in more] == [(str(visit.uuid), "dropped")]
