"""A vertical pump from its installation to its record: compass points, no sag, no feet; and a rigid coupling."""

import json

import pytest
import time_machine
from django.urls import reverse

from couplings.engineering.alignment import METHODS
from inspections.models import Check, Reading, RunOut, Survey
from inspections.prints.certificate import certificate, content_of
from inspections.selectors.summary import summary_of
from inspections.selectors.verification import verify
from inspections.selectors.visits import draft_result, read_entry
from inspections.services.amendments import amend_visit
from inspections.services.policies import load_policies
from inspections.services.signing import sign_visit
from inspections.steps import STEPS
from plant.recording import recording
from plant.refusals import Refused
from tests.factories import NOW
from tests.inspections.visits import ELEMENT, PLACEMENT, fasteners, save

pytestmark = pytest.mark.django_db
# Motor above a pump. The motor's shaft stands 0.02 mm to the north and 0.01 mm to the east of the pump's and is square
# to it: a dial on its rim, carried by the pump's shaft, reads c + 0.02 cos + 0.01 sin by hand; the face reads nothing.
READ = {
    "method": "rim-and-face", "stationary": "driven", "north_is": "discharge nozzle", "taken_at": "09:40",
    "set0.carried_by": "stationary", "set0.x": "0", "set0.u": "0.005",
    "set0.12": "0", "set0.3": "-0.01", "set0.6": "-0.04", "set0.9": "-0.03",
    "set1.swing_radius": "90", "set1.u": "0.005", "set1.12": "0", "set1.3": "0", "set1.6": "0", "set1.9": "0",
}  # fmt: skip


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def pump(visit):
    visit.coupling.train.machines.update(mounting="vertical")
    return type(visit).objects.get(pk=visit.pk)


def fresh(visit):
    return type(visit).objects.get(pk=visit.pk)


def filled(visit, by, wrench, read=READ):
    save(visit, "placement", PLACEMENT, by)
    save(visit, "run-out", {f"driver_shaft.{hour}": text for hour, text in ((12, "0"), (3, "0.01"), (6, "0.03"))}, by)
    save(visit, "as-left", read, by)
    save(visit, "element", ELEMENT, by)
    save(visit, "fasteners", fasteners(wrench), by)
    return fresh(visit)


def test_a_form_by_compass_points_asks_for_nothing_a_vertical_machine_has_not(pump, mechanic):
    for step, typed in (("as-left", {"method": "rim-and-face"}), ("run-out", {}), ("placement", {})):
        rows = STEPS[step].fields(pump, typed)
        labels = " ".join(row.label for row in rows)
        assert "o'clock" not in labels
        assert not {"viewed_from", "set0.sag", "set0.sag_u", "set0.bracket", "feet0.x", "driver_support"} & {
            row.name for row in rows
        }
    labels = [row.label for row in STEPS["as-left"].fields(pump, {"method": "rim-and-face"}) if row.group == "Rim"]
    assert labels[:4] == ["N", "E", "S", "W"]
    offered = next(row for row in STEPS["as-left"].fields(pump, {}) if row.name == "method").choices
    assert [name for name, _title in offered] == ["rim-and-face", "reverse-rim", "double-radial"]
    assert set(dict(offered)) < set(METHODS)


def test_the_shaft_lies_where_the_readings_by_hand_put_it(pump, mechanic):
    save(pump, "as-left", READ, mechanic)
    found = draft_result(fresh(pump), "as-left")
    assert found.misalignment.mean == pytest.approx((0.02, 0.01, 0, 0), abs=1e-9)
    assert found.verdict == "in tolerance"
    assert found.feet == ()
    assert found.feet_missing.startswith("An upright or flange-mounted machine has no feet to move")


def test_the_record_keeps_its_frame_whichever_machine_stood_still(pump, mechanic):
    """Seen from the other machine's shaft the offset turns over in both planes, and the record stays what it was."""
    turned = READ | {"stationary": "driver", "set0.carried_by": "movable"}
    other = {"set0.3": "-0.01", "set0.6": "-0.04", "set0.9": "-0.03"}
    save(pump, "alignment", READ, mechanic, number=1)
    save(pump, "alignment", turned | other, mechanic, number=2)
    one, two = (draft_result(fresh(pump), "alignment", number) for number in (1, 2))
    assert two.misalignment.mean[:2] == pytest.approx((-0.02, -0.01), abs=1e-9)
    assert two.record.mean[:2] == pytest.approx(one.record.mean[:2], abs=1e-9)


def test_the_whole_installation_is_signed_shown_and_amended(pump, mechanic, engineer, wrench, client):
    here = filled(pump, mechanic, wrench)
    summary = summary_of(here)
    assert summary.missing == []
    assert summary.verdict == "in tolerance"
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=here)
    survey = Survey.objects.get()
    assert (survey.positions, survey.north_is, survey.viewed_from) == ("compass", "discharge nozzle", "movable")
    assert {(one.angle_deg, one.typed) for one in Reading.objects.filter(set__number=1)} == {
        (0.0, "0"), (90.0, "-0.01"), (180.0, "-0.04"), (270.0, "-0.03"),
    }  # fmt: skip
    assert json.loads(fresh(here).record.text)["surveys"][0]["positions"] == "compass"
    client.force_login(mechanic)
    page = client.get(reverse("visit-record", args=[here.uuid])).content.decode()
    for words in ("by compass points", "N being discharge nozzle", "Offset N", "Angularity E"):
        assert words in page
    assert "Offset up" not in page
    with recording(by=engineer, at=NOW):
        amend_visit(visit=fresh(here), steps={"as-left": READ | {"set0.6": "-0.05"}}, reason="The south reading.")
    assert Survey.objects.filter(positions="compass").count() == 2
    assert verify().findings == []


def test_soft_foot_is_not_asked_and_says_why(pump, mechanic, client):
    with pytest.raises(Refused) as refused:
        save(pump, "soft-foot", {"method": "rises"}, mechanic)
    assert "Neither machine stands on feet" in refused.value.as_dict()["step"]
    client.force_login(mechanic)
    page = client.get(reverse("visit", args=[pump.uuid])).content.decode()
    assert "Neither machine stands on feet, so there is no soft foot" in page


def test_the_page_of_the_step_names_the_points(pump, mechanic, client):
    save(pump, "as-left", READ, mechanic)
    client.force_login(mechanic)
    page = client.get(reverse("visit-step", args=[pump.uuid, "as-left"])).content.decode()
    assert '<label for="f-set0-12">N</label>' in page
    assert "12, top" not in page
    assert "Towards N" in page
    assert "What if it moved so" not in page
    assert "centre it at its fit" in page


def test_the_run_out_of_a_vertical_shaft_is_highest_near_a_point(pump, mechanic):
    readings = {"driver_shaft.12": "0", "driver_shaft.3": "0.05", "driver_shaft.6": "0", "driver_shaft.9": "-0.05"}
    save(pump, "run-out", readings | {"driver_shaft.diameter": "60"}, mechanic)
    assert "highest near E" in read_entry(fresh(pump), "run-out").found[0].sentence


@pytest.mark.parametrize(
    ("typed", "name", "said"),
    [
        ({"set0.sag": "-0.02"}, "set0.sag", "does not sag"),
        ({"set0.sag_u": "0.01"}, "set0.sag_u", "does not sag"),
        ({"set1.bracket": "long"}, "set1.bracket", "does not sag"),
        ({"set0.half": "half"}, "set0.half", "write down what the dial showed, whole"),
        ({"viewed_from": "movable"}, "viewed_from", "the same from both machines"),
        ({"feet0.x": "250"}, "feet0.x", "no feet to move"),
        ({"feet0.name": "inboard"}, "feet0.name", "no feet to move"),
        ({"driver_support": "40"}, "driver_support", "not corrected for the growth of its feet"),
        ({"method": "straightedge"}, "method", "is not a choice here"),
        ({"method": "face-face"}, "method", "is not a choice here"),
        ({"method": "direct"}, "method", "is not a choice here"),
        ({"set0.12": "north"}, "set0.12", "is not a number"),
        ({"set0.more": "NE 0.1"}, "set0.more", "is not an angle with its reading"),
        ({"set0.x": "far"}, "set0.x", "is not a number"),
        ({"north_is": "n" * 61}, "north_is", "At most 60 characters"),
    ],
)
def test_what_only_a_lying_machine_has_is_refused_with_its_reason(pump, mechanic, typed, name, said):
    save(pump, "as-left", READ | typed, mechanic)
    assert said in read_entry(fresh(pump), "as-left").errors[name]


def test_a_flange_mounted_machine_is_read_so_too(visit, mechanic):
    visit.coupling.train.machines.filter(position=1).update(mounting="flange")
    rows = STEPS["as-left"].fields(fresh(visit), {"method": "rim-and-face"})
    assert "N" in [row.label for row in rows]
    assert STEPS["soft-foot"].applies(fresh(visit)), "the other machine stands on feet"


def test_a_rigid_coupling_is_left_by_its_run_out(pump, mechanic, site, wrench):
    family = pump.sheet_version.sheet.family
    family.kind = "rigid"
    family.save()
    with recording(by=None, at=NOW):
        load_policies(site=site, kinds=("alignment", "torque"))
    save(pump, "placement", PLACEMENT, mechanic)
    save(pump, "element", ELEMENT, mechanic)
    save(pump, "fasteners", fasteners(wrench), mechanic)
    assert [one.step for one in summary_of(fresh(pump)).missing] == ["run-out"]
    save(pump, "run-out", {"driver_shaft.diameter": "60", "driver_shaft.tir": "0.01"}, mechanic)
    assert summary_of(fresh(pump)).missing == []
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=fresh(pump))
    assert RunOut.objects.get().verdict == "in tolerance"
    assert not Survey.objects.exists()
    assert Check.objects.filter(coupling=pump.coupling).exists()


def test_the_certificate_names_compass_points(pump, mechanic, wrench):
    here = filled(pump, mechanic, wrench)
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=here)
    content = content_of(fresh(here), "https://plant.example")
    assert certificate(fresh(here), address="https://plant.example").startswith(b"%PDF-")
    assert (content["compass"], content["pictures"]) == (True, {})
    said = json.dumps(content["readings"])
    assert "by compass points, N is discharge nozzle" in said
    assert "E: -0.01" in said
    assert "3: -0.01" not in said
