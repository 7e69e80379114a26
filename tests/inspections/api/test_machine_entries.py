"""Run-out, pipe strain, soft foot and shims as entries of the API."""

import pytest

from tests.inspections.visits import MACHINE_STEPS

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("step", MACHINE_STEPS)
def test_an_entry_answers_with_what_it_found(as_person, mechanic, visit, step):
    where = f"/api/v1/visits/{visit.uuid}/entries/{step}/"
    answer = as_person(mechanic).patch(where, {"fields": MACHINE_STEPS[step]}, format="json")

    assert answer.status_code == 200, answer.json()
    assert (answer.json()["errors"], answer.json()["missing"]) == ({}, {})
    (finding,) = answer.json()["findings"]
    assert finding["verdict"] == "in tolerance"
    assert "The limit is" in finding["sentence"]


def test_a_field_that_the_machine_does_not_have_is_refused_by_its_pointer(as_person, mechanic, visit):
    where = f"/api/v1/visits/{visit.uuid}/entries/soft-foot/"
    answer = as_person(mechanic).patch(where, {"fields": {"driver9l.rise": "0.1"}}, format="json")
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/fields/driver9l.rise"


def test_the_engineer_sets_the_limits_of_the_site_and_nonsense_is_refused(as_person, engineer, site):
    client, where = as_person(engineer), f"/api/v1/sites/{site.uuid}/"
    tag = client.get(where)["ETag"]

    def patch(fields):
        return client.patch(where, fields, format="json", headers={"If-Match": tag})

    assert patch({"shims_most": 0}).status_code == 422
    assert patch({"hub_run_out_table": "mine"}).status_code == 422
    assert patch({"support_material": "tin"}).status_code == 422
    changed = patch(
        {
            "shims_most": 5,
            "soft_foot_limit": {"value": 1, "unit": "thou"},
            "pipe_strain_limit": {"value": 0.05, "unit": "mm"},
            "hub_run_out_table": "iec",
            "reference_temperature": {"value": 68, "unit": "degF"},
            "support_material": "carbon steel",
        }
    )
    assert changed.status_code == 200, changed.json()
    assert changed.json()["soft_foot_limit"] == {"value": pytest.approx(0.0254), "unit": "mm"}
    assert changed.json()["reference_temperature"]["value"] == pytest.approx(20)
