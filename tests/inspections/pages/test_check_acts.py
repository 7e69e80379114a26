"""Deferring checks and dealing with flags, over the API and on the coupling's page."""

from datetime import date

import pytest
import time_machine

from inspections.models import Check, Flag, Visit
from inspections.services.flags import open_flag
from inspections.services.policies import load_policies
from plant.recording import recording
from tests.factories import NOW, TODAY, FitFactory
from tests.inspections.signed import sign

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def fit(site, mechanic):
    made = FitFactory(coupling__train__site=site, fitted_on=TODAY)
    with recording(by=None, at=NOW):
        load_policies(site=site, kinds=("alignment", "torque"))
    sign(made, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)
    return made


@pytest.fixture
def check(fit):
    return Check.objects.get(coupling=fit.coupling, kind="alignment", settled_on=None)


@pytest.fixture
def flag(fit):
    with recording(by=None, at=NOW):
        return open_flag(coupling=fit.coupling, kind=Flag.Kind.OUT, evidence={"on": "2026-10-12", "role": "as-left"})


def api(client, check, act, body):
    return client.post(f"/api/v1/checks/{check.uuid}/{act}/", body, content_type="application/json")


def test_a_check_is_deferred_and_brought_back_over_the_api(client, planner, check):
    client.force_login(planner)
    answer = api(client, check, "defer", {"until": "2026-12-20", "reason": "no stop"})
    row = answer.json()
    assert (answer.status_code, row["due_on"], row["state"]) == (200, "2026-12-20", "deferred")
    assert (row["deferred_reason"], row["deferred_by"]) == ("no stop", str(planner.uuid))
    assert answer["ETag"] == f'"{row["version"]}"'
    assert api(client, check, "withdraw", {}).json()["due_on"] == "2026-11-11"


def test_what_a_deferral_lacks_is_said_by_field_with_a_pointer(client, planner, check):
    client.force_login(planner)
    answer = api(client, check, "defer", {"until": "2027-06-01", "reason": ""})
    assert answer.status_code == 422
    assert {one["pointer"] for one in answer.json()["errors"]} == {"/until", "/reason"}


def test_a_stale_tag_stops_a_deferral(client, planner, check):
    client.force_login(planner)
    body = {"until": "2026-12-20", "reason": "no stop"}
    where = f"/api/v1/checks/{check.uuid}/defer/"
    assert client.post(where, body, content_type="application/json", headers={"If-Match": '"99"'}).status_code == 412


def test_a_check_is_pinned_owned_and_left_out_over_the_api(client, planner, mechanic, check):
    client.force_login(planner)
    assert api(client, check, "pin", {"on": "2026-11-09"}).json()["pinned_on"] == "2026-11-09"
    assert api(client, check, "own", {"owner": str(mechanic.uuid)}).json()["owner"] == str(mechanic.uuid)
    row = api(client, check, "cancel", {"reason": "rebuilt"}).json()
    assert (row["outcome"], row["cause"], row["state"]) == ("cancelled", "rebuilt", "cancelled")


def test_other_work_is_written_down_and_taken_back_over_the_api(client, planner, fit):
    client.force_login(planner)
    body = {"coupling": str(fit.coupling.uuid), "kind": "pipe", "on": "2026-10-12"}
    made = client.post("/api/v1/other-works/", body, content_type="application/json")
    assert made.status_code == 201, made.json()
    assert client.get("/api/v1/other-works/").json()["results"] == [made.json()]
    gone = client.delete(f"/api/v1/other-works/{made.json()['id']}/", headers={"If-Match": made["ETag"]})
    assert gone.status_code == 204


def test_a_planner_defers_on_the_couplings_page_and_sees_the_reason(client, planner, check):
    client.force_login(planner)
    page = f"/couplings/{check.coupling.uuid}/"
    assert f"/checks/{check.uuid}/defer/" in client.get(page).content.decode()
    answer = client.post(f"/checks/{check.uuid}/defer/", {"until": "2026-12-20", "reason": "no stop"})
    assert (answer.status_code, answer["Location"]) == (302, page)
    shown = client.get(page).content.decode()
    assert "Deferred to 20 December 2026 (no stop), was due 11 November 2026" in shown
    assert client.post(f"/checks/{check.uuid}/withdraw/").status_code == 302


@pytest.mark.parametrize(
    "typed, said",
    [
        ({"until": "soon", "reason": "no stop"}, "Write the day as 2026-10-12."),
        ({"until": "2027-06-01", "reason": "no stop"}, "until 9 February 2027 at most"),
        ({"until": "2026-12-01", "reason": ""}, "Say why it can wait."),
    ],
)
def test_a_refused_deferral_keeps_what_was_typed(client, planner, check, typed, said):
    client.force_login(planner)
    answer = client.post(f"/checks/{check.uuid}/defer/", typed)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert said in text
    assert f'value="{typed["until"]}"' in text


def test_the_engineer_sees_owns_and_clears_a_flag_on_the_page(client, engineer, mechanic, flag):
    client.force_login(engineer)
    for act, body in (("acknowledge", {}), ("own", {"owner": str(mechanic.uuid)})):
        assert client.post(f"/flags/{flag.uuid}/{act}/", body).status_code == 302
    shown = client.get(f"/couplings/{flag.coupling.uuid}/").content.decode()
    assert f"Dealt with by {mechanic}." in shown
    assert f"Seen by {engineer}." in shown
    refused = client.post(f"/flags/{flag.uuid}/clear/", {"cause": " "})
    assert (refused.status_code, "Say why it is cleared" in refused.content.decode()) == (422, True)
    assert client.post(f"/flags/{flag.uuid}/clear/", {"cause": "shims added"}).status_code == 302


def test_a_person_of_another_site_is_refused_as_owner(client, engineer, stranger, flag):
    client.force_login(engineer)
    answer = client.post(f"/flags/{flag.uuid}/own/", {"owner": str(stranger.uuid)})
    assert (answer.status_code, "no role at the site" in answer.content.decode()) == (422, True)


def test_a_mechanic_is_offered_neither(client, mechanic, check, flag):
    client.force_login(mechanic)
    shown = client.get(f"/couplings/{check.coupling.uuid}/").content.decode()
    assert "/defer/" not in shown
    assert "/acknowledge/" not in shown
    assert client.post(f"/checks/{check.uuid}/defer/", {"until": "2026-12-20", "reason": "x"}).status_code == 403


def test_a_flag_is_acknowledged_over_the_api(client, engineer, flag):
    client.force_login(engineer)
    row = client.post(f"/api/v1/flags/{flag.uuid}/acknowledge/", {}, content_type="application/json").json()
    assert (row["acknowledged_by"], row["acknowledged_at"]) == (str(engineer.uuid), NOW.strftime("%Y-%m-%dT%H:%M:%SZ"))
    assert date.fromisoformat(row["acknowledged_at"][:10]) == TODAY


def test_a_planner_plans_owns_and_leaves_out_a_check_on_the_page(client, planner, mechanic, check):
    client.force_login(planner)
    page = f"/couplings/{check.coupling.uuid}/"
    for act, body in (("pin", {"on": "2026-11-09"}), ("own", {"owner": str(mechanic.uuid)})):
        answer = client.post(f"/checks/{check.uuid}/{act}/", body)
        assert (answer.status_code, answer["Location"]) == (302, page)
    shown = client.get(page).content.decode()
    assert "planned for 9 November 2026" in shown
    assert f"seen to by {mechanic}" in shown
    assert client.post(f"/checks/{check.uuid}/pin/", {"on": ""}).status_code == 302
    assert client.post(f"/checks/{check.uuid}/cancel/", {"reason": "the train is rebuilt"}).status_code == 302
    check.refresh_from_db()
    assert (check.pinned_on, check.outcome, check.cause) == (None, "cancelled", "the train is rebuilt")


@pytest.mark.parametrize(
    ("act", "typed", "said"),
    [
        ("pin", {"on": "soon"}, "Write the day as 2026-10-12."),
        ("pin", {"on": "2026-10-01"}, "Choose today or a day that is still to come."),
        ("pin", {"on": "2027-10-01"}, "defer it first"),
        ("own", {"owner": "0f0f0f0f-0000-4000-8000-000000000000"}, "no role at the site"),
        ("own", {"owner": "nonsense"}, "no role at the site"),
        ("cancel", {"reason": "  "}, "Say why it is left out."),
        ("cancel", {"reason": "x" * 201}, "at most 200 characters"),
    ],
)
def test_what_is_refused_about_a_check_stands_beside_its_field(client, planner, check, act, typed, said):
    client.force_login(planner)
    answer = client.post(f"/checks/{check.uuid}/{act}/", typed)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert said in text
    assert text.count("aria-invalid") == 1


def test_work_on_the_pipes_is_written_down_on_the_page_and_taken_back(client, planner, mechanic, fit):
    page = f"/couplings/{fit.coupling.uuid}/"
    client.force_login(mechanic)
    assert "other-work" not in client.get(page).content.decode()
    assert client.post(f"{page}other-work/", {"kind": "pipe", "on": "2026-10-12"}).status_code == 403
    client.force_login(planner)
    for typed, said in (
        ({"kind": "pipe", "on": "2027-10-12"}, "That day is still to come"),
        ({"kind": "paint", "on": "2026-10-12"}, "Choose one of"),
        ({"kind": "pipe", "on": ""}, "Write the day as"),
    ):
        refused = client.post(f"{page}other-work/", typed)
        assert (refused.status_code, said in refused.content.decode()) == (422, True), typed
    note = {"kind": "pipe", "on": "2026-10-12", "note": "new spool piece"}
    assert client.post(f"{page}other-work/", note).status_code == 302
    shown = client.get(page).content.decode()
    assert "Work on the pipes, 12 October 2026: new spool piece." in shown
    work = fit.coupling.other_works.get()
    assert client.post(f"/other-work/{work.uuid}/take-back/").status_code == 302
    assert not fit.coupling.other_works.exists()
