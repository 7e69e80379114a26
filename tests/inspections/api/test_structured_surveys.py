"""A survey sent as the request of the calculation becomes the typed fields of its step, in the units it came in."""

import pytest

from couplings.calculations.alignment_example import EXAMPLE
from inspections.models import Entry
from tests.factories import InstrumentFactory

pytestmark = pytest.mark.django_db
READ = {name: EXAMPLE[name] for name in ("method", "viewed_from", "reading_sets", "feet")}


@pytest.fixture
def where(visit):
    return f"/api/v1/visits/{visit.uuid}/entries/"


def test_it_gives_the_result_of_the_calculation_itself(as_person, mechanic, where, site):
    client = as_person(mechanic)
    InstrumentFactory(site=site, serial="D-7")
    sets = [READ["reading_sets"][0] | {"instrument": "D-7"}, READ["reading_sets"][1]]
    survey = READ | {"stationary": "driven", "taken_at": "08:20", "stopped": {"value": 1, "unit": "day"}}
    saved = client.patch(f"{where}alignment/1/", {"survey": survey | {"reading_sets": sets}}, format="json")
    assert saved.status_code == 200, saved.json()
    entry = saved.json()
    assert (entry["errors"], entry["missing"]) == ({}, {})
    assert (entry["typed"]["set1.3"], entry["typed"]["stopped"]) == ("-0.1 mm", "1 day")
    assert entry["typed"]["set0.instrument"] == "D-7"
    answer = client.post("/api/v1/calculations/alignment/", EXAMPLE, format="json").json()
    for name in ("offset", "angularity", "flex_angles"):
        assert entry["result"][name] == answer[name]
    assert [row["up"] for row in entry["result"]["moves"]] == [row["up"] for row in answer["moves"]]


def test_it_replaces_the_whole_survey(as_person, mechanic, where):
    client = as_person(mechanic)
    client.patch(f"{where}as-left/", {"fields": {"not_measured": "no light", "set0.1": "1"}}, format="json")
    survey = READ | {"stationary": "driven"}
    unseen = client.patch(f"{where}as-left/", {"survey": survey}, format="json")
    assert unseen.status_code == 412, "somebody typed there already"
    saved = client.patch(f"{where}as-left/", {"survey": survey}, format="json", headers={"If-Match": '"1"'})
    assert (saved.json()["typed"]["not_measured"], saved.json()["typed"]["set0.1"]) == ("", "")
    assert saved.json()["missing"] == {}


@pytest.mark.parametrize(
    ("step", "body", "pointers"),
    [
        ("placement/", {"survey": READ}, {"/survey"}),
        ("alignment/1/", {"survey": READ, "fields": {}}, {"/fields"}),
        ("alignment/1/", {"survey": READ | {"limits": {}, "stopped": 3}}, {"/survey/limits", "/survey/stopped"}),
        ("alignment/1/", {"survey": READ | {"taken_at": 3}}, {"/survey/taken_at"}),
        ("alignment/1/", {"survey": {}}, {"/survey/method"}),
        ("alignment/1/", {"survey": READ | {"loosened_at": "08:00"}}, {"/fields/loosened_at"}),
        (
            "alignment/1/",
            {"survey": READ | {"reading_sets": [READ["reading_sets"][0] | {"turned": "half"}]}},
            {"/survey/reading_sets/0/turned"},
        ),
    ],
)
def test_what_a_visit_does_not_keep_is_refused_and_nothing_is_saved(as_person, mechanic, where, step, body, pointers):
    answer = as_person(mechanic).patch(where + step, body, format="json")
    assert answer.status_code == 422
    assert {error["pointer"] for error in answer.json()["errors"]} == pointers
    assert not Entry.objects.exists()
