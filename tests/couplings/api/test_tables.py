"""A site's own tables over the API."""

import pytest

from couplings.models import FailureCode, NutFactor, SecondScrewFactor
from tests.couplings.api.conftest import faults
from tests.world import World

NOUNS = {
    "nut-factors": ("nut_factor", {"nut_factor": 0.25}),
    "tightening-scatter": ("tightening_scatter", {"scatter": {"value": 30, "unit": "%"}}),
    "second-screw-factors": ("second_screw_factor", {"factor": 1.6}),
    "fit-classes": ("fit_class", {"bore_upper": {"value": 0.002, "unit": "inch"}}),
    "failure-codes": ("failure_code", {"name": "a crow sat on it"}),
}


@pytest.mark.parametrize("noun", NOUNS)
def test_a_row_is_written_changed_followed_and_removed(as_person, engineer, mechanic, site, noun):
    name, change = NOUNS[noun]
    client, begin = as_person(engineer), f"/api/v1/{noun}/"
    token = client.get(f"{begin}?site={site.uuid}&updated_since=2020-01-01T00:00:00Z").json()["after"]
    made = client.post(begin, getattr(World(site, engineer), f"new_{name}")(), format="json")
    assert made.status_code == 201, made.json()
    assert made.json()["mark"] == "site"
    changed = client.patch(made["Location"], change, format="json", headers={"If-Match": made["ETag"]})
    assert changed.status_code == 200, changed.json()
    assert client.patch(made["Location"], change, format="json").status_code == 428
    assert client.patch(made["Location"], change, format="json", headers={"If-Match": made["ETag"]}).status_code == 412
    kept = as_person(mechanic).get(f"{made['Location']}history/").json()["results"]
    assert [(one["done"], one["by"], one["version"]) for one in kept] == [
        ("changed", str(engineer), 2),
        ("made", str(engineer), 1),
    ]
    assert len(kept[0]["changes"]) == 1
    assert as_person(mechanic).delete(made["Location"], headers={"If-Match": changed["ETag"]}).status_code == 403
    assert client.delete(made["Location"], headers={"If-Match": changed["ETag"]}).status_code == 204
    told = client.get(f"{begin}?site={site.uuid}&after={token}").json()["results"]
    assert told == [{"id": made.json()["id"], "removed": True}]


@pytest.mark.parametrize(("noun", "loaded"), [(noun, noun != "fit-classes") for noun in NOUNS])
def test_loading_the_starters_is_an_act_and_harmless_twice(as_person, engineer, planner, site, noun, loaded):
    body, address = {"site": str(site.uuid)}, f"/api/v1/{noun}/load-starters/"
    assert as_person(planner).post(address, body, format="json").status_code == 403
    first = as_person(engineer).post(address, body, format="json")
    assert first.status_code == 200, first.json()
    assert bool(first.json()["loaded"]) == loaded
    assert as_person(engineer).post(address, body, format="json").json() == {"loaded": 0}
    rows = as_person(planner).get(f"/api/v1/{noun}/").json()["results"]
    assert bool(rows) == loaded
    assert not [row for row in rows if not row["source"] or row["mark"] == "site"]


@pytest.mark.parametrize(
    ("noun", "wrong", "pointers"),
    [
        ("nut-factors", {"nut_factor": 20}, {"/nut_factor": "It must lie between 0.03 and 1."}),
        ("nut-factors", {"nut_factor": "a fifth"}, {"/nut_factor": "A valid number is required."}),
        ("nut-factors", {"source": ""}, {"/source": "This field may not be blank."}),
        ("nut-factors", {"k": 0.2}, {"/k": "This field is not known here."}),
        ("nut-factors", {"set": "my set"}, None),
        ("tightening-scatter", {"scatter": 0.25}, None),
        ("tightening-scatter", {"scatter": {"value": 25, "unit": "mm"}}, None),
        (
            "tightening-scatter",
            {"scatter": {"value": 120, "unit": "%"}},
            {"/scatter": "It must lie between 0 and 0.99."},
        ),
        ("second-screw-factors", {"from": {"value": 190, "unit": "deg"}}, {"/from": "It must lie between 0 and 180."}),
        (
            "second-screw-factors",
            {"to": {"value": 10, "unit": "deg"}},
            {"/to": "The range ends before it begins: exchange the two."},
        ),
        ("second-screw-factors", {"factor": 3}, {"/factor": "It must lie between 1 and 2."}),
        ("fit-classes", {"up_to": {"value": 0.5, "unit": "inch"}}, {"/up_to": "The band ends below its beginning."}),
        (
            "fit-classes",
            {"shaft_upper": {"value": 0, "unit": "inch"}},
            {"/shaft_upper": "The upper deviation lies below the lower one."},
        ),
        ("failure-codes", {"kind": "mood"}, None),
        ("failure-codes", {"code": "far too long a code"}, None),
        ("failure-codes", {"mark": "published", "name": ""}, None),
    ],
)
def test_what_cannot_be_meant_is_pointed_at(as_person, engineer, site, noun, wrong, pointers):
    body = getattr(World(site, engineer), f"new_{NOUNS[noun][0]}")() | wrong
    answer = as_person(engineer).post(f"/api/v1/{noun}/", body, format="json")
    assert answer.status_code == 422
    said = faults(answer)
    if pointers is None:
        assert f"/{next(iter(wrong))}" in said or "/name" in said
        assert all(said.values())
    else:
        assert said == pointers


def test_a_row_keeps_what_names_it(as_person, engineer, site):
    row = NutFactor.objects.create(site=site, of_set="ours", condition="waxed", nut_factor=0.15, source="a test")
    answer = as_person(engineer).patch(
        f"/api/v1/nut-factors/{row.uuid}/", {"condition": "dry"}, format="json", headers={"If-Match": '"1"'}
    )
    assert faults(answer) == {"/condition": "This is fixed once it is made."}


def test_lists_are_filtered_by_name_and_asked_in_few_queries(as_person, engineer, site, django_assert_max_num_queries):
    client = as_person(engineer)
    for noun in ("nut-factors", "failure-codes", "second-screw-factors"):
        client.post(f"/api/v1/{noun}/load-starters/", {"site": str(site.uuid)}, format="json")
    sets = client.get("/api/v1/nut-factors/?set=shigley").json()["results"]
    assert {row["set"] for row in sets} == {"shigley"}
    causes = client.get("/api/v1/failure-codes/?kind=cause").json()["results"]
    assert len(causes) == FailureCode.objects.filter(kind="cause").count()
    assert SecondScrewFactor.objects.count() == 4
    client = as_person(engineer)
    # sites and roles of the person (2), the page of rows
    with django_assert_max_num_queries(4):
        assert client.get("/api/v1/failure-codes/?limit=100").status_code == 200
