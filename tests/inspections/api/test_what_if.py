"""Moves tried on paper over the API: the same selector as the page, nothing kept."""

import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inspections.models import Entry, Survey
from plant.models import Event
from tests.inspections.visits import PRINTED, save

pytestmark = pytest.mark.django_db


def q(value, unit="mm"):
    return {"value": value, "unit": unit}


@pytest.fixture
def surveyed(visit, mechanic):
    save(visit, "alignment", PRINTED, mechanic, number=1)
    return visit


@pytest.fixture
def ask(as_person, mechanic, surveyed):
    client = as_person(mechanic)
    where = f"/api/v1/visits/{surveyed.uuid}/what-if/"

    def post(*moves, query="", **more):
        body = {"step": "alignment", "number": 1, "moves": list(moves)} | more
        return client.post(where + query, body, format="json")

    return post


def test_moves_that_undo_the_printed_answer_leave_the_machine_on_its_target(ask, surveyed):
    # By hand as on the page: 0.14 + 0.4 x 0.27 = 0.248 and 0.14 + 0.4 x 0.77 = 0.448 upwards, 0.03 to the right.
    known = ask({"name": surveyed.coupling.driver_machine.foot_planes.first().name}).json()["trial"]["moves"]
    by_x = [one["name"] for one in sorted(known, key=lambda one: one["x"]["value"])]
    answer = ask(
        {"name": by_x[0], "up": q(0.248), "right": q(0.03)}, {"name": by_x[1], "up": q(0.448), "right": q(30, "um")}
    )
    assert answer.status_code == 200, answer.json()
    trial = answer.json()["trial"]
    for part in ("offset", "angularity"):
        for word in ("vertical", "horizontal"):
            assert trial[part][word]["value"] == pytest.approx(0, abs=1e-6)
    assert trial["verdict"] == "in tolerance"
    assert answer.json()["train"] is None, "a train of two machines is its coupling's own picture"


def test_nothing_is_stored(ask, surveyed):
    before = (Entry.objects.get().version, Event.objects.count(), Survey.objects.count())
    assert ask().status_code == 200
    assert ask().json()["trial"] is None
    assert (Entry.objects.get().version, Event.objects.count(), Survey.objects.count()) == before


def test_it_answers_in_the_units_asked_for(ask):
    name = ask({"name": "x"}).json()["errors"][0]["detail"].split("There are: ")[1].split(",")[0].rstrip(".")
    trial = ask({"name": name, "up": q(10, "mil")}, query="?units=us").json()["trial"]
    moved = next(one for one in trial["moves"] if one["name"] == name)
    assert moved["up"] == {"value": 10.0, "unit": "thou"}


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"moves": [{"name": "nowhere"}]}, "/moves/0/name"),
        ({"moves": [{"up": q(1)}]}, "/moves/0/name"),
        ({"moves": [{"name": "inboard", "up": 1}]}, "/moves/0/up"),
        ({"moves": [{"name": "inboard", "up": q(30)}]}, "/moves/0/up"),
        ({"moves": [{"name": "inboard", "right": q(1, "kW")}]}, "/moves/0/right"),
        ({"moves": [{"name": "inboard"}, {"name": "inboard"}]}, "/moves/1/name"),
        ({"moves": [{"name": "inboard", "left": q(1)}]}, "/moves/0/left"),
        ({"step": "placement"}, "/step"),
        ({"step": "as-left"}, "/number"),
        ({"step": "as-left", "number": 0}, "/step"),
        ({"number": 0}, "/number"),
        ({"number": 2}, "/step"),
    ],
)
def test_what_cannot_be_tried_is_refused_at_its_field(ask, body, pointer):
    answer = ask(**body)
    assert answer.status_code == 422
    assert pointer in {error["pointer"] for error in answer.json()["errors"]}


def test_a_signed_visit_has_no_more_what_if(ask, surveyed, mechanic):
    surveyed.state = "dropped"
    surveyed.save()
    assert ask().status_code == 404


@given(
    up=st.floats() | st.integers(-30, 30) | st.none() | st.text(max_size=3), unit=st.sampled_from(["mm", "mil", "N"])
)
@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
def test_whatever_is_sent_is_answered_in_numbers_or_refused(ask, up, unit):
    if isinstance(up, float) and not math.isfinite(up):
        return
    answer = ask({"name": "inboard", "up": {"value": up, "unit": unit}})
    assert answer.status_code in (200, 422)
    assert "NaN" not in answer.content.decode()
