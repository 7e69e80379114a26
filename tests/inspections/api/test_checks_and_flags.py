"""Checks, flags and policies over the API: what is due and why, who deals with what, how often is wanted."""

from datetime import date

import pytest

from inspections.models import Check, Flag, Policy, Visit
from inspections.services.checks import recompute_site
from inspections.services.flags import open_flag
from inspections.services.policies import load_policies
from plant.models import Train
from plant.recording import recording
from tests.factories import NOW, TODAY
from tests.inspections.signed import sign

pytestmark = pytest.mark.django_db
CHECKS, FLAGS, POLICIES = "/api/v1/checks/", "/api/v1/flags/", "/api/v1/policies/"


@pytest.fixture
def policies(site):
    with recording(by=None, at=NOW):
        return load_policies(site=site, kinds=("alignment", "torque"))


@pytest.fixture
def installed(fit, mechanic, policies):
    """Installed on 12 October 2026, so its first checks are due 30 days later (starters, common practice)."""
    return sign(fit, on=TODAY, by=mechanic, kind=Visit.Kind.INSTALLATION, aligned=True, torqued=True)


@pytest.fixture
def flag(fit):
    with recording(by=None, at=NOW):
        return open_flag(coupling=fit.coupling, kind=Flag.Kind.OUT, evidence={"on": "2026-10-12", "role": "as-left"})


def ids(client, where):
    answer = client.get(where)
    assert answer.status_code == 200, answer.json()
    return [row["kind"] for row in answer.json()["results"]]


def test_a_check_says_why_its_day_is_what_it_is(as_person, planner, installed):
    client = as_person(planner)
    row = client.get(f"{CHECKS}?kind=alignment&state=open").json()["results"][0]
    assert row["due_on"] == "2026-11-11"
    assert (row["winner"], row["numbers"]["first_days"]) == ("first-days", 30)
    assert row["reason"].startswith("Due ")
    assert "30\u00a0days after the installation on 12" in row["reason"]
    assert row["crew_hours"] == {"value": 3, "unit": "hour"}
    one = client.get(f"{CHECKS}{row['id']}/")
    assert (one.json(), one["ETag"]) == (row, f'"{row["version"]}"')
    assert client.get(row["links"]["coupling"]).status_code == 200
    assert client.get(row["links"]["flags"]).json()["results"] == []


def test_checks_are_found_as_the_due_list_finds_them(as_person, planner, installed, fit):
    client = as_person(planner)
    assert sorted(ids(client, f"{CHECKS}?due_before=2026-11-11")) == ["alignment", "torque"]
    assert ids(client, f"{CHECKS}?due_before=2026-11-10") == []
    assert ids(client, f"{CHECKS}?due_before=2026-11-11&kind=torque") == ["torque"]
    area = fit.coupling.train.area
    assert len(ids(client, f"{CHECKS}?area={area.uuid}&coupling={fit.coupling.uuid}&state=open")) == 2
    assert ids(client, f"{CHECKS}?overdue=true") == []
    Train.objects.filter(pk=fit.coupling.train_id).update(service="out")
    assert ids(client, f"{CHECKS}?due_before=2026-11-11") == [], "out of service nothing comes due"
    assert client.get(f"{CHECKS}?overdue=maybe").status_code == 400
    assert client.get(f"{CHECKS}?due_before=soon").json()["errors"][0]["detail"]


def test_overdue_is_asked_of_the_day_and_settled_checks_name_their_visit(
    as_person, planner, installed, fit, mechanic, time_machine
):
    time_machine.move_to(NOW.replace(year=2027), tick=False)
    client = as_person(planner)
    assert sorted(ids(client, f"{CHECKS}?overdue=true")) == ["alignment", "torque"]
    visit = sign(fit, on=date(2027, 10, 11), by=mechanic, aligned=True)
    settled = client.get(f"{CHECKS}?state=settled").json()["results"]
    done = next(row for row in settled if row["settled_by"] == str(visit.uuid))
    assert (done["kind"], done["outcome"], done["settled_on"]) == ("alignment", "done", "2027-10-11")
    assert client.get(done["links"]["settled_by"]).json()["id"] == str(visit.uuid)


def test_checks_cannot_be_written_over_the_api(as_person, planner, installed):
    client = as_person(planner)
    check = Check.objects.first()
    assert client.post(CHECKS, {}, format="json").status_code == 405
    assert client.patch(f"{CHECKS}{check.uuid}/", {"due_on": "2030-01-01"}, format="json").status_code == 405


def test_an_engineer_owns_a_flag_and_clears_it_with_its_cause(as_person, engineer, flag):
    client, where = as_person(engineer), f"{FLAGS}{flag.uuid}/"
    assert client.patch(where, {"owner": str(engineer.uuid)}, format="json").status_code == 428
    owned = client.patch(where, {"owner": str(engineer.uuid)}, format="json", headers={"If-Match": '"1"'})
    assert (owned.json()["owner"], owned["ETag"]) == (str(engineer.uuid), '"2"')
    assert owned.json()["sentence"] == "Left out of tolerance on 12 October 2026."
    stale = client.patch(where, {"owner": None}, format="json", headers={"If-Match": '"1"'})
    assert (stale.status_code, stale.json()["current"]["owner"]) == (412, str(engineer.uuid))
    empty = client.patch(where, {}, format="json", headers={"If-Match": '"2"'})
    assert empty.json()["errors"][0]["pointer"] == "/owner"
    wordless = client.post(f"{where}clear/", {"cause": " "}, format="json")
    assert (wordless.status_code, wordless.json()["errors"][0]["pointer"]) == (422, "/cause")
    cleared = client.post(f"{where}clear/", {"cause": "Pipe strain taken out."}, format="json")
    assert (cleared.json()["cause"], cleared.json()["cleared_by"]) == ("Pipe strain taken out.", str(engineer.uuid))
    assert client.get(f"{FLAGS}?state=open").json()["results"] == []
    assert ids(client, f"{FLAGS}?state=cleared&owner={engineer.uuid}") == ["out-of-tolerance"]


def test_a_stranger_owns_nothing_here(as_person, engineer, stranger, flag):
    answer = as_person(engineer).patch(
        f"{FLAGS}{flag.uuid}/", {"owner": str(stranger.uuid)}, format="json", headers={"If-Match": '"1"'}
    )
    assert answer.json()["errors"] == [
        {"pointer": "/owner", "detail": "There is nothing here by that name.", "code": "missing"}
    ]


def test_who_may_handle_flags(as_person, planner, mechanic, stranger, flag):
    for person in (planner, mechanic):
        answer = as_person(person).post(f"{FLAGS}{flag.uuid}/clear/", {"cause": "-"}, format="json")
        assert answer.status_code == 403
    assert as_person(planner).get(f"{FLAGS}{flag.uuid}/").status_code == 200
    assert as_person(stranger).get(f"{FLAGS}{flag.uuid}/").status_code == 404
    assert as_person(stranger).get(FLAGS).json()["results"] == []


def test_a_policy_is_made_once_and_changed_by_its_version(as_person, engineer, site, installed):
    client = as_person(engineer)
    body = {
        "site": str(site.uuid),
        "check_kind": "alignment",
        "criticality": "A",
        "every_months": 6,
        "window": {"value": 20, "unit": "%"},
        "first_days": 10,
        "first_hours": {"value": 10, "unit": "day"},
    }
    made = client.post(POLICIES, body, format="json")
    assert made.status_code == 201, made.json()
    assert made.json()["first_hours"] == {"value": 240, "unit": "hour"}
    assert made.json()["window"] == {"value": 20, "unit": "%"}
    check = Check.objects.get(kind="alignment", settled_on__isnull=True)
    assert check.due_on == date(2026, 10, 22), "ten days after the installation: its dates followed at once"
    twice = client.post(POLICIES, body, format="json")
    assert (twice.status_code, twice.json()["errors"][0]["pointer"]) == (422, "/check_kind")
    where = made["Location"]
    assert client.patch(where, {"every_months": 9}, format="json").status_code == 428
    changed = client.patch(where, {"every_months": 9}, format="json", headers={"If-Match": made["ETag"]})
    assert (changed.json()["every_months"], changed.json()["first_days"]) == (9, 10)
    fixed = client.patch(where, {"criticality": "B"}, format="json", headers={"If-Match": changed["ETag"]})
    assert fixed.json()["errors"][0]["code"] == "fixed"


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"every_months": 0}, "/every_months"),
        ({"window": {"value": 80, "unit": "%"}}, "/window"),
        ({"window": {"value": 0.1, "unit": "mm"}}, "/window"),
        ({"first_hours": 500}, "/first_hours"),
        ({"first_hours": {"value": -1, "unit": "hour"}}, "/first_hours"),
        ({"check_kind": "paint"}, "/check_kind"),
        ({"crew_hours": {"value": 1e6, "unit": "hour"}}, "/crew_hours"),
    ],
)
def test_a_policy_that_cannot_be_is_refused_beside_its_field(as_person, engineer, site, change, pointer):
    body = {"site": str(site.uuid), "check_kind": "torque", "first_days": 30} | change
    answer = as_person(engineer).post(POLICIES, body, format="json")
    assert answer.status_code == 422
    assert {error["pointer"] for error in answer.json()["errors"]} == {pointer}
    assert not Policy.objects.exists()


def test_who_may_write_policies(as_person, planner, stranger, site, policies):
    body = {"site": str(site.uuid), "check_kind": "torque", "criticality": "C", "first_days": 30}
    assert as_person(planner).post(POLICIES, body, format="json").status_code == 403
    assert len(as_person(planner).get(POLICIES).json()["results"]) == 2
    assert as_person(stranger).get(POLICIES).json()["results"] == []
    assert as_person(stranger).post(POLICIES, body, format="json").json()["errors"][0]["pointer"] == "/site"


def test_a_delta_tells_a_check_that_moved(as_person, engineer, planner, site, installed):
    client = as_person(planner)
    start = client.get(f"{CHECKS}?site={site.uuid}&updated_since=2026-01-01T00:00:00Z").json()
    assert {row["kind"] for row in start["results"]} == {"alignment", "torque"}
    policy = Policy.objects.get(check_kind="torque")
    as_person(engineer).patch(
        f"{POLICIES}{policy.uuid}/", {"first_days": 20}, format="json", headers={"If-Match": f'"{policy.version}"'}
    )
    moved = client.get(f"{CHECKS}?after={start['after']}").json()["results"]
    assert [(row["kind"], row["due_on"]) for row in moved] == [("torque", "2026-11-01")]


def test_a_sites_run_changes_nothing_that_is_right_already(as_person, planner, site, installed):
    client = as_person(planner)
    start = client.get(f"{CHECKS}?site={site.uuid}&updated_since=2026-01-01T00:00:00Z").json()
    with recording(by=None, at=NOW):
        recompute_site(site=site, today=TODAY)
    assert client.get(f"{CHECKS}?after={start['after']}").json()["results"] == []
