"""A whole installation over the API, in inches: order, isolation, visit, survey, signature, and the checks it plans."""

import json
import uuid

import pytest

from inspections.models import Reading, SignedRecord, SurveyResult
from inspections.services.policies import load_policies
from plant.recording import recording
from tests.factories import NOW
from tests.inspections.api.inches import FITTED, LEFT, PLACED, SURVEY, tightened
from tests.reference.alignment_cases import CASES

pytestmark = pytest.mark.django_db
V1 = "/api/v1"
THOU = 0.0254


def send(client, method, where, body=None, status=200, **headers):
    answer = getattr(client, method)(where, body, format="json", headers=headers)
    assert answer.status_code == status, answer.json()
    return answer


@pytest.fixture
def begun(as_person, client_account, mechanic, fit, strict_sheet):
    """An order by the other program, isolated and verified by the mechanic, and a visit begun under it."""
    program, crew = as_person(client_account), as_person(mechanic)
    order = send(
        program,
        "post",
        f"{V1}/work-orders/",
        {
            "train": str(fit.coupling.train.uuid),
            "number": "WO-77",
            "crew": [{"person": str(mechanic.uuid)}, {"name": "A helper", "employer": "a contractor"}],
            "external_ref": {"orders": "4711"},
        },
        201,
    )
    where = order["Location"]
    send(crew, "post", f"{where}isolate/", {"permit": "P-12"}, **{"If-Match": order["ETag"]})
    send(crew, "post", f"{where}verify-isolation/", {})
    body = {
        "id": str(uuid.uuid4()),
        "coupling": str(fit.coupling.uuid),
        "kind": "installation",
        "on": "2026-10-12",
        "work_order": order.json()["id"],
    }
    visit = send(crew, "post", f"{V1}/visits/", body, 201)
    assert visit.json()["id"] == body["id"]
    return crew, visit["Location"]


def test_the_other_program_finds_its_order_by_its_own_key(begun, as_person, client_account):
    found = send(as_person(client_account), "get", f"{V1}/work-orders/?external_ref=orders:4711").json()["results"]
    assert [row["number"] for row in found] == ["WO-77"]
    assert found[0]["isolation_stands"] is True
    assert [member["name"] for member in found[0]["crew"]] == ["A helper", "Mia"]


def test_the_printed_survey_typed_in_inches_gives_the_printed_answer(begun):
    """Figures: the alignment calculation's description, which names them as solved independently."""
    crew, visit = begun
    where = f"{visit}entries/alignment/1/"
    result = send(crew, "patch", where, {"fields": SURVEY}).json()["result"]
    assert numbers(result["offset"]) == pytest.approx([-0.14, -0.03], abs=1e-9)
    assert numbers(result["angularity"]) == pytest.approx([-0.4, 0], abs=1e-9)
    a, b = result["flex_angles"]
    assert numbers(a) == pytest.approx([-1.2, -0.214], abs=5e-4)
    assert numbers(b) == pytest.approx([0.8, 0.214], abs=5e-4)
    assert [move["up"]["value"] for move in result["moves"]] == pytest.approx([0.24, 0.42], abs=1e-9)
    assert [move["right"]["value"] for move in result["moves"]] == pytest.approx([0.03, 0.03], abs=1e-9)
    assert result["tolerance_used"] == pytest.approx(2.86, abs=0.005)
    assert result["verdict"] == "out of tolerance"
    in_thou = send(crew, "get", f"{where}?units=us").json()["result"]
    assert in_thou["offset"]["vertical"]["unit"] == "thou"
    assert in_thou["offset"]["vertical"]["value"] == pytest.approx(-0.14 / THOU, abs=1e-6)
    assert in_thou["verdict"] == "out of tolerance"


def test_top_and_bottom_readings_alone_solve_their_own_plane(begun):
    """RV-02, Bloch & Geitner, Machinery Component Maintenance and Repair, p. 203, fig. 5-21: front feet .036."""
    crew, visit = begun
    case = CASES["RV-02"]
    given, wanted = case["inputs"], case["expected"]
    fields = {
        "method": "reverse-rim", "stationary": "driven", "viewed_from": "movable",
        "set0.x": f"{given['S_to_A']} inch", "set0.12": "0",
        "set0.6": f"{given['equivalent_bottom_reading_bracket_on_fixed_at_A']} inch",
        "set1.x": "0 inch", "set1.12": "0",
        "set1.6": f"{given['equivalent_bottom_reading_bracket_on_movable_at_S'] * 1000:g} mil",
        "feet0.x": f"{given['S_to_front_foot']} inch", "feet0.name": "front",
        "feet1.x": f"{given['S_to_back_foot']} inch", "feet1.name": "back",
    }  # fmt: skip
    entry = send(crew, "patch", f"{visit}entries/alignment/1/?units=us", {"fields": fields}).json()
    assert (entry["errors"], entry["missing"]) == ({}, {})
    result = entry["result"]
    front, back = (move["up"]["value"] / 1000 for move in result["moves"])
    assert front == pytest.approx(wanted["move_front"], abs=case["tolerance"])
    assert front == pytest.approx(-0.036, abs=0.0005), "as printed"
    assert back == pytest.approx(wanted["move_back"], abs=case["tolerance"])
    assert result["offset"]["horizontal"] is None
    assert result["moves"][0]["right"] is None
    assert result["verdict"] == "not known"
    assert result["reason"]


def fill(crew, visit, wrench):
    for step, fields in (
        ("alignment/1", SURVEY),
        ("placement", PLACED),
        ("as-left", LEFT),
        ("element", FITTED),
        ("fasteners", tightened(wrench)),
    ):
        entry = send(crew, "patch", f"{visit}entries/{step}/", {"fields": fields}).json()
        assert (entry["errors"], entry["missing"]) == ({}, {}), step


def test_an_installation_is_signed_and_the_planner_sees_its_first_checks(begun, as_person, planner, site, wrench):
    crew, visit = begun
    with recording(by=None, at=NOW):
        load_policies(site=site, kinds=("alignment", "torque"))
    early = send(crew, "get", f"{visit}summary/").json()
    assert not early["ready"]
    assert {row["step"] for row in early["missing"]} == {"placement", "as-left", "element", "fasteners"}
    fill(crew, visit, wrench)
    summary = send(crew, "get", f"{visit}summary/").json()
    assert (summary["ready"], summary["missing"]) == (True, [])
    assert (summary["verdict"], summary["needs_reason"]) == ("in tolerance", False)
    tag = crew.get(visit)["ETag"]
    signed = send(crew, "post", f"{visit}sign/", {}, **{"If-Match": tag, "Idempotency-Key": "sign-1"})
    assert signed.json()["state"] == "signed"
    assert (signed.json()["record"], signed.json()["as_left_verdict"]) == (1, "in tolerance")

    again = send(crew, "post", f"{visit}sign/", {}, **{"If-Match": tag, "Idempotency-Key": "sign-1"})
    assert again.json() == signed.json()
    assert (again["ETag"], again["Idempotency-Replayed"]) == (signed["ETag"], "true")
    assert SignedRecord.objects.count() == 1

    record = send(crew, "get", f"{visit}records/").json()["results"][0]
    assert (record["number"], record["kind"], record["in_force"]) == (1, "visit", True)
    assert record["content"] == json.loads(record["text"])
    kept = {(step["step"], step["number"]): step["typed"] for step in record["content"]["steps"]}
    assert kept[("alignment", 1)]["set0.6"] == SURVEY["set0.6"]
    assert Reading.objects.get(typed=SURVEY["set0.6"]).mm == pytest.approx(0.3)

    surveys = send(crew, "get", signed.json()["links"]["surveys"] + "&as_left=false&units=us").json()["results"]
    assert len(surveys) == 1
    assert surveys[0]["result"]["offset"]["vertical"]["value"] == pytest.approx(-0.14 / THOU, abs=1e-6)

    due = send(as_person(planner), "get", f"{V1}/checks/?due_before=2026-11-30&state=open").json()["results"]
    assert {row["kind"] for row in due} == {"alignment", "torque"}
    for row in due:
        assert (row["winner"], row["due_on"]) == ("first-days", "2026-11-11"), "30 days: common practice"
        assert "after the installation on" in row["reason"]
        assert row["coupling"] in row["links"]["coupling"]
        assert send(as_person(planner), "get", row["links"]["coupling"]).json()["id"] == row["coupling"]


def test_the_record_keeps_its_frame_whichever_machine_was_moved(begun, wrench):
    """The same two shafts reported with the driver standing still: offset (V, H) is then (−V, H), slope (V, −H)."""
    crew, visit = begun
    fill(crew, visit, wrench)
    swapped = {
        "method": "direct", "stationary": "driver", "viewed_from": "movable",
        "offset_v": "0.14 mm", "offset_h": "-0.03 mm", "slope_v": "-0.4 mil/inch", "slope_h": "0 mm/m",
    }  # fmt: skip
    uncertain = {"offset_v_u": "0.01 mm", "offset_h_u": "0.4 mil", "slope_v_u": "0.1 mm/m", "slope_h_u": "0.1 mm/m"}
    entry = send(crew, "patch", f"{visit}entries/alignment/2/", {"fields": swapped | uncertain}).json()
    assert (entry["errors"], entry["missing"]) == ({}, {})
    assert numbers(entry["result"]["offset"]) == pytest.approx([0.14, -0.03])
    send(crew, "post", f"{visit}sign/", {}, **{"If-Match": crew.get(visit)["ETag"]})
    rounds = send(crew, "get", f"{V1}/surveys/?visit={uuid_of(visit)}&as_left=false").json()["results"]
    assert [row["stationary"] for row in rounds] == ["driven", "driver"]
    for row in rounds:
        assert numbers(row["result"]["offset"]) == pytest.approx([-0.14, -0.03], abs=1e-9)
        assert numbers(row["result"]["angularity"]) == pytest.approx([-0.4, 0], abs=1e-9)
        assert row["result"]["offset"]["vertical"]["standard_uncertainty"]["value"] > 0
    assert rounds[0]["sets"][0]["readings"][0]["typed"] == SURVEY["set0.12"]
    assert SurveyResult.objects.filter(survey__as_left=False).count() == 2


def uuid_of(where):
    return where.rstrip("/").rsplit("/", 1)[1]


def numbers(vector):
    return [vector["vertical"]["value"], vector["horizontal"]["value"]]
