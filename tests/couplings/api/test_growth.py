"""A site's coefficients of thermal expansion over the API."""

from couplings.models import GrowthCoefficient
from tests.couplings.api.conftest import faults

ROWS = "/api/v1/growth-coefficients/"


def test_an_engineer_writes_and_changes_coefficients_and_a_mechanic_reads_them(as_person, engineer, mechanic, site):
    row = {"site": str(site.uuid), "material": "gray iron", "per_k": 11.1, "per_k_u": 0.3, "source": "test bars"}
    client = as_person(engineer)
    made = client.post(ROWS, row, format="json")
    assert made.status_code == 201, made.json()
    assert (made.json()["per_k"], made.json()["mark"]) == (11.1, "site")
    changed = client.patch(made["Location"], {"per_k": 10.9}, format="json", headers={"If-Match": made["ETag"]})
    assert (changed.status_code, changed.json()["per_k"]) == (200, 10.9)
    late = client.patch(made["Location"], {"per_k": 10.8}, format="json", headers={"If-Match": made["ETag"]})
    assert late.status_code == 412
    seen = as_person(mechanic).get(f"{ROWS}?material=gray iron").json()["results"]
    assert [(one["per_k"], one["per_k_u"]) for one in seen] == [(10.9, 0.3)]
    assert as_person(mechanic).post(ROWS, row | {"material": "carbon steel"}, format="json").status_code == 403
    again = client.post(ROWS, row, format="json")
    assert faults(again) == {"/material": "This site has a coefficient of gray iron already: change that one."}
    assert GrowthCoefficient.objects.get().per_k == 10.9


def test_what_cannot_be_meant_is_pointed_at(as_person, engineer, site):
    row = {"site": str(site.uuid), "material": "gray iron", "per_k": 0.000011, "per_k_u": 0.3, "source": "test bars"}
    answer = as_person(engineer).post(ROWS, row, format="json")
    assert answer.status_code == 422
    assert faults(answer) == {"/per_k": "It must lie between 0.1 and 100."}
    assert list(faults(as_person(engineer).post(ROWS, row | {"material": "butter"}, format="json"))) == ["/material"]
    assert not GrowthCoefficient.objects.exists()
