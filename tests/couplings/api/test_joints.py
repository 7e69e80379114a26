"""Joints over the API: quantities in, the advice out, faults beside their fields."""

import pytest

from tests.couplings.api.conftest import faults
from tests.factories import FamilyFactory

URL = "/api/v1/data-sheets/"


@pytest.fixture
def body(site):
    joint = {
        "name": "flange", "positions": 4, "torque": {"value": 30, "unit": "lbf*ft"}, "thread": "3/8-16",
        "strength_standard": "SAE J429", "strength_class": "5", "nut_factor": 0.2, "nut_factor_source": "own tests",
        "pass_shares": [{"value": 50, "unit": "%"}, {"value": 100, "unit": "%"}],
    }  # fmt: skip
    first = {"joints": [joint], "bore": {"value": 2, "unit": "inch"}, "set_screw_angle": {"value": 60, "unit": "deg"}}
    return {"site": str(site.uuid), "family": FamilyFactory().code, "designation": "Flange 4", "first_version": first}


def test_a_joint_is_answered_with_its_passes_and_its_preload_in_the_units_asked_for(as_person, keeper, body):
    client = as_person(keeper)
    made = client.post(URL, body, format="json")
    assert made.status_code == 201, made.json()
    version = client.get(made["Location"] + "?units=us").json()["versions"][0]
    joint = version["joints"][0]
    advice = joint["advice"]
    assert [one["positions"] for one in advice["passes"]] == [[1, 3, 2, 4], [1, 3, 2, 4], [1, 2, 3, 4]]
    assert advice["passes"][0]["torque"] == {"value": pytest.approx(15), "unit": "lbf*ft"}
    # T / (K D), 30 lbf·ft × 12 / (0.2 × 0.375 in) = 4800 lbf: by hand.
    assert advice["preload"]["nominal"] == {"value": pytest.approx(4800), "unit": "lbf"}
    assert advice["passes_source"] == "data sheet"
    assert advice["missing"] == []
    assert joint["pass_shares"][0]["value"] == pytest.approx(50)
    assert version["bore"] == {"value": pytest.approx(2), "unit": "inch"}


def test_what_was_read_can_be_sent_back_with_its_advice(as_person, keeper, body):
    client = as_person(keeper)
    made = client.post(URL, body, format="json")
    joints = made.json()["versions"][0]["joints"]
    address = made["Location"] + "versions/1/"
    again = client.patch(address, {"joints": joints}, format="json", headers={"If-Match": made["ETag"]})
    assert again.status_code == 200, again.json()
    answered = again.json()["versions"][0]["joints"][0]
    assert {name for name in answered if answered[name] != joints[0][name]} <= {"advice"}  # its last digits are dust
    assert answered["advice"]["preload"]["nominal"]["value"] == pytest.approx(
        joints[0]["advice"]["preload"]["nominal"]["value"]
    )


def test_faults_of_a_joint_point_at_their_field(as_person, keeper, body):
    body["first_version"]["joints"][0] |= {
        "nut_factor_source": "", "feature": "single-use", "recheck": "allowed", "pass_shares": [],
    }  # fmt: skip
    said = faults(as_person(keeper).post(URL, body, format="json"))
    assert said["/first_version/joints/0/nut_factor_source"].startswith("Say where this nut factor is from")
    assert "replaced" in said["/first_version/joints/0/recheck"]
