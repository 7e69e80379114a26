"""A site's words for wear codes over the API."""

import pytest

from couplings.models import WearWording
from tests.couplings.api.conftest import faults
from tests.inspections.worn import starters

HERE = "/api/v1/wear-wordings/"


@pytest.fixture(autouse=True)
def _starters(site):
    starters()


def body(site, **fields):
    return {"site": str(site.uuid), "code": "play", "source": "our procedure 9"} | fields


def test_an_engineer_words_a_code_limits_its_number_and_takes_it_back(as_person, engineer, mechanic, site):
    client = as_person(engineer)
    made = client.post(HERE, body(site, code="crack", limit={"value": 0.5, "unit": "inch"}), format="json")
    assert made.status_code == 201, made.json()
    # 1 inch = 25.4 mm exactly.
    assert made.json()["limit"] == {"value": pytest.approx(12.7), "unit": "mm"}
    assert made.json()["grade_1"] == "hairlines at the surface"
    changed = client.patch(made["Location"], {"grade_1": "more"}, format="json", headers={"If-Match": made["ETag"]})
    assert (changed.status_code, changed.json()["grade_1"], changed.json()["version"]) == (200, "more", 2)
    assert as_person(mechanic).get(HERE).json()["results"][0]["title"] == "Cracks in the rubber"
    history = client.get(f"{made['Location']}history/").json()["results"]
    assert history[0]["changes"] == [{"field": "grade_1", "before": "hairlines at the surface", "after": "more"}]
    gone = client.delete(made["Location"], headers={"If-Match": changed["ETag"]})
    assert (gone.status_code, WearWording.objects.count()) == (204, 0)


@pytest.mark.parametrize(
    ("fields", "pointer", "said"),
    [
        ({"limit": {"value": 1, "unit": "mm"}}, "/limit", "mm is a unit of length"),
        ({"limit": 1}, "/limit", "unit"),
        ({"code": "dust", "limit": {"value": 1, "unit": "mm"}}, "/limit", "It has grades only"),
        ({"code": "nothing", "title": "x", "grade_0": "x"}, "/code", "No wear code is called that"),
        ({"source": ""}, "/source", "blank"),
        ({"colour": "green"}, "/colour", "not known here"),
    ],
)
def test_what_cannot_be_is_pointed_at(as_person, engineer, site, fields, pointer, said):
    answer = as_person(engineer).post(HERE, body(site, **fields), format="json")
    assert answer.status_code == 422
    assert said in faults(answer)[pointer]
