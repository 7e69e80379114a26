"""Two hands at one visit over the API: what merges, what asks, what stays typed, and where each error points."""

import uuid

import pytest

from inspections.models import Entry, SignedRecord, Survey
from tests.factories import MembershipFactory, PersonFactory
from tests.inspections.api.inches import SURVEY

pytestmark = pytest.mark.django_db


@pytest.fixture
def where(visit):
    return f"/api/v1/visits/{visit.uuid}/entries/"


@pytest.fixture
def mate(site):
    person = PersonFactory(username="moa")
    MembershipFactory(person=person, site=site, role="mechanic")
    return person


def save(client, where, fields, **more):
    headers = {"If-Match": more.pop("seen")} if "seen" in more else {}
    return client.patch(where, {"fields": fields} | more, format="json", headers=headers)


def test_an_empty_step_says_what_it_asks_for_and_which_version_it_has(as_person, mechanic, where):
    answer = as_person(mechanic).get(f"{where}placement/?units=us")
    assert answer["ETag"] == '"0"'
    asked = {row["name"]: row for row in answer.json()["asks"]}
    assert asked["dbse"]["required"] is True
    # A bare number stays in the site's own unit, whatever units the answer comes in.
    assert asked["dbse"]["unit"] == "mm"
    assert set(answer.json()["missing"]) == {"dbse", "driver_engagement", "driven_engagement"}


def test_different_fields_of_one_step_merge_and_the_same_field_asks(as_person, mechanic, mate, where):
    one, other = as_person(mechanic), as_person(mate)
    first = save(one, f"{where}placement/", {"dbse": "5.52 inch"})
    assert (first.status_code, first["ETag"]) == (200, '"1"')
    second = save(other, f"{where}placement/", {"driver_engagement": "3.07 inch"})
    assert second.json()["typed"] == {"dbse": "5.52 inch", "driver_engagement": "3.07 inch"}
    clash = save(other, f"{where}placement/", {"dbse": "5.5 inch", "driven_engagement": "80"}, seen='"0"')
    assert clash.status_code == 412
    assert clash["ETag"] == '"2"'
    current = clash.json()["current"]
    assert current["version"] == 2
    assert set(current["fields"]) == {"dbse"}
    told = current["fields"]["dbse"]
    assert (told["yours"], told["theirs"], told["by"]) == ("5.5 inch", "5.52 inch", "Mia")
    assert told["at"]
    assert [error["pointer"] for error in clash.json()["errors"]] == ["/fields/dbse"]
    assert Entry.objects.get().typed == {"dbse": "5.52 inch", "driver_engagement": "3.07 inch"}, "nothing half-saved"
    chosen = save(other, f"{where}placement/", {"dbse": "5.5 inch"}, seen=clash["ETag"])
    assert (chosen.status_code, chosen.json()["typed"]["dbse"]) == (200, "5.5 inch")


def test_sending_the_same_text_again_changes_nothing(as_person, mechanic, where):
    client = as_person(mechanic)
    body = {"dbse": "140"}
    first = save(client, f"{where}placement/", body, id=str(uuid.uuid4()))
    again = save(client, f"{where}placement/", body, id=first.json()["id"])
    assert again.json() == first.json()
    assert again["ETag"] == '"1"'


def test_a_version_that_never_was_is_stale(as_person, mechanic, where):
    answer = save(as_person(mechanic), f"{where}placement/", {"dbse": "140"}, seen='"7"')
    assert (answer.status_code, answer.json()["current"]) == (412, {"version": 0, "fields": {}})
    assert not Entry.objects.exists()
    assert save(as_person(mechanic), f"{where}placement/", {"dbse": "140"}, seen="*").status_code == 200


def test_what_cannot_be_taken_stays_typed_with_its_error_and_reaches_no_column(as_person, mechanic, where):
    bad = SURVEY | {"set0.12": "NaN", "set0.6": "12 kg", "set0.x": "3 mrad", "set1.3": "0.01 parsec"}
    answer = save(as_person(mechanic), f"{where}alignment/1/", bad)
    assert answer.status_code == 200
    entry = answer.json()
    assert set(entry["errors"]) == {"set0.12", "set0.6", "set0.x", "set1.3"}
    assert entry["typed"]["set0.12"] == "NaN"
    assert entry["result"] is None
    assert not Survey.objects.exists()


@pytest.mark.parametrize(
    ("step", "body", "pointer", "said"),
    [
        ("placement/", {"fields": {"colour": "green"}}, "/fields/colour", "has no field of this name"),
        ("alignment/1/", {"fields": {"set9.12": "1"}}, "/fields/set9.12", "has no field of this name"),
        ("placement/", {"fields": {"dbse": 140}}, "/fields/dbse", "Send what was typed, as text."),
        ("placement/", {"fields": {"dbse": None}}, "/fields/dbse", "Send what was typed, as text."),
        ("placement/", {"fields": {"dbse": "1" * 1001}}, "/fields/dbse", "At most 1000 characters."),
        ("placement/", {"fields": {"dbse": "\x00"}}, "/fields/dbse", "characters that are not text"),
        ("placement/", {"fields": "140"}, "/fields", "dictionary"),
        ("placement/", {}, "/fields", "Send fields, or a survey."),
        ("placement/", {"fields": {}, "typed": {}}, "/typed", "not known here"),
        ("polishing/", {"fields": {}}, "/step", "There is no step"),
        ("alignment/", {"fields": {}}, "/number", "Rounds count from 1"),
        ("alignment/31/", {"fields": {}}, "/number", "Rounds count from 1"),
        ("placement/2/", {"fields": {}}, "/number", "one entry only"),
        ("isolation/", {"fields": {}}, "/step", "confirmed on the work order"),
    ],
)
def test_what_no_step_can_keep_is_refused_beside_its_field(as_person, mechanic, where, step, body, pointer, said):
    answer = as_person(mechanic).patch(where + step, body, format="json")
    assert answer.status_code == 422, answer.json()
    assert answer["Content-Type"] == "application/problem+json"
    found = {error["pointer"]: error["detail"] for error in answer.json()["errors"]}
    assert set(found) == {pointer}
    assert said in found[pointer]
    assert not Entry.objects.exists()


def test_a_step_inside_the_guard_waits_for_a_verified_isolation(as_person, mechanic, where, visit):
    type(visit.work_order).objects.filter(pk=visit.work_order_id).update(verified_at=None)
    answer = save(as_person(mechanic), f"{where}placement/", {"dbse": "140"})
    assert answer.status_code == 422
    assert "is not verified yet" in answer.json()["detail"]
    assert answer.json()["errors"][0]["code"] == "isolation-not-verified"
    assert not Entry.objects.exists()


def test_the_list_of_steps_has_a_state_and_an_address_for_each(as_person, mechanic, where):
    client = as_person(mechanic)
    save(client, f"{where}placement/", {"dbse": "140"})
    save(client, f"{where}alignment/1/", SURVEY)
    save(client, f"{where}element/", {"act": "kept"})
    steps = {row["step"]: row for row in client.get(where).json()["results"]}
    states = {name: row["state"] for name, row in steps.items()}
    assert states["isolation"] == "complete"
    assert (states["placement"], states["alignment"], states["element"]) == ("begun", "complete", "wrong")
    assert states["as-left"] == "open"
    assert steps["alignment"]["url"] is None
    assert client.get(steps["alignment"]["entries"][0]["url"]).json()["number"] == 1
    assert client.get(steps["placement"]["url"]).json()["typed"] == {"dbse": "140"}


def test_signing_points_to_every_field_that_is_still_wanting(as_person, mechanic, where, visit):
    client = as_person(mechanic)
    save(client, f"{where}alignment/1/", SURVEY | {"set0.12": "x"})
    answer = client.post(f"/api/v1/visits/{visit.uuid}/sign/", {}, format="json", headers={"If-Match": '"1"'})
    assert answer.status_code == 422
    pointers = {error["pointer"] for error in answer.json()["errors"]}
    assert {"/steps/alignment.1/set0.12", "/steps/placement", "/steps/as-left"} <= pointers
    assert not SignedRecord.objects.exists()
    visit.refresh_from_db()
    assert (visit.state, visit.version) == ("draft", 1)
