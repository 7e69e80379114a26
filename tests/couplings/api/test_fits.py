"""Fits and elements over the API: put in, taken out, each with its day and reason."""

import pytest

from couplings.models import Element, Fit
from tests.couplings.api.conftest import faults, mm
from tests.factories import CouplingFactory, DataSheetFactory, FitFactory, SheetVersionFactory, TrainFactory

FITS, ELEMENTS = "/api/v1/fits/", "/api/v1/elements/"


@pytest.fixture
def body(coupling, version):
    return {
        "coupling": str(coupling.uuid),
        "data_sheet": str(version.sheet.uuid),
        "data_sheet_version": 1,
        "fitted_on": "2026-10-10",
        "serial": "S-1",
        "dbse": {"value": 5.5, "unit": "inch"},
    }


def test_a_fit_is_recorded_changed_and_removed(as_person, mechanic, body, version):
    SheetVersionFactory(sheet=version.sheet, number=2)
    client = as_person(mechanic)
    made = client.post(FITS, body, format="json")
    assert made.status_code == 201, made.json()
    assert made.json()["dbse"] == mm(139.7)
    assert (made.json()["data_sheet"], made.json()["data_sheet_version"]) == (str(version.sheet.uuid), 1)
    where = made["Location"]
    again = client.patch(where, body | {"match_marks": "1 to 1"}, format="json", headers={"If-Match": made["ETag"]})
    assert (again.status_code, again.json()["match_marks"]) == (200, "1 to 1")
    adopted = client.patch(where, {"data_sheet_version": 2}, format="json", headers={"If-Match": again["ETag"]})
    assert adopted.json()["data_sheet_version"] == 2
    gone = client.post(where + "remove/", {"removed_on": "2026-10-12"}, format="json")
    assert gone.json()["removed_on"] == "2026-10-12"
    assert client.get(FITS + "?open=true").json()["results"] == []
    assert len(client.get(FITS + "?serial=S-1&open=false").json()["results"]) == 1


def test_a_fit_of_a_missing_unpublished_or_other_version_is_refused_beside_the_number(
    as_person, mechanic, body, version, site
):
    client = as_person(mechanic)
    missing = client.post(FITS, body | {"data_sheet_version": 9}, format="json")
    assert faults(missing) == {"/data_sheet_version": "Jaw 80 has no version 9."}
    SheetVersionFactory(sheet=version.sheet, number=2, published_at=None, digest="")
    draft = client.post(FITS, body | {"data_sheet_version": 2, "fitted_on": "2026-10-13"}, format="json")
    assert set(faults(draft)) == {"/data_sheet_version", "/fitted_on"}
    made = client.post(FITS, body, format="json")
    other = SheetVersionFactory(sheet=DataSheetFactory(site=site)).sheet
    swapped = client.patch(made["Location"], {"data_sheet": str(other.uuid)}, format="json", headers={"If-Match": "*"})
    assert faults(swapped) == {
        "/data_sheet_version": "This is another data sheet: remove this fit and record the new one."
    }
    moved = client.patch(made["Location"], {"fitted_on": "2026-10-09"}, format="json", headers={"If-Match": "*"})
    assert faults(moved) == {"/fitted_on": "This is fixed once it is made."}


def test_the_same_fit_sent_twice_under_one_key_is_one(as_person, mechanic, body):
    client, key = as_person(mechanic), {"Idempotency-Key": "fit-1"}
    first, again = (client.post(FITS, body, format="json", headers=key) for _ in range(2))
    assert (again.status_code, again.json()) == (201, first.json())
    without = client.post(FITS, body, format="json")
    assert set(faults(without)) == {"/coupling", "/serial"}
    assert Fit.objects.count() == 1


def test_an_element_closes_the_one_in_place(as_person, mechanic, fit):
    client = as_person(mechanic)
    sent = {"fit": str(fit.uuid), "part_number": "E-80", "cured_on": "2026-05-01", "fitted_on": "2026-10-02"}
    first = client.post(ELEMENTS, sent, format="json")
    assert first.status_code == 201, first.json()
    new = {"fit": str(fit.uuid), "part_number": "E-80", "fitted_on": "2026-10-12"}
    assert faults(client.post(ELEMENTS, new, format="json")) == {
        "/replaced_because": "Say why the element in place was taken out: its life is learned from it."
    }
    second = client.post(
        ELEMENTS, new | {"replaced_because": "cracked", "replaced_went_to": "quarantine shelf"}, format="json"
    )
    assert second.status_code == 201, second.json()
    old = client.get(first["Location"]).json()
    assert (old["removed_on"], old["removal_reason"], old["went_to"]) == ("2026-10-12", "cracked", "quarantine shelf")
    open_now = client.get(f"{ELEMENTS}?coupling={fit.coupling.uuid}&open=true").json()["results"]
    assert [row["id"] for row in open_now] == [second.json()["id"]]


def test_an_element_before_its_cure_date_makes_no_row(as_person, mechanic, fit):
    sent = {"fit": str(fit.uuid), "part_number": "E-80", "cured_on": "2026-10-03", "fitted_on": "2026-10-02"}
    answer = as_person(mechanic).post(ELEMENTS, sent, format="json")
    assert faults(answer) == {"/cured_on": "The cure date 2026-10-03 lies after the day it was fitted, 2026-10-02."}
    assert not Element.objects.exists()


def test_who_may_and_who_may_not(as_person, planner, stranger, mechanic, body, fit):
    fit.delete()
    assert as_person(planner).post(FITS, body, format="json").status_code == 403
    assert set(faults(as_person(stranger).post(FITS, body, format="json"))) == {"/coupling", "/data_sheet"}
    made = as_person(mechanic).post(FITS, body, format="json")
    assert as_person(planner).get(made["Location"]).status_code == 200
    assert as_person(stranger).get(made["Location"]).status_code == 404
    remove = made["Location"] + "remove/"
    assert as_person(stranger).post(remove, {"removed_on": "2026-10-12"}, format="json").status_code == 404
    assert as_person(planner).post(remove, {"removed_on": "2026-10-12"}, format="json").status_code == 403
    element = {"fit": made.json()["id"], "part_number": "E", "fitted_on": "2026-10-12"}
    assert as_person(planner).post(ELEMENTS, element, format="json").status_code == 403
    assert set(faults(as_person(stranger).post(ELEMENTS, element, format="json"))) == {"/fit"}


def test_lists_cost_the_same_however_long_they_are(as_person, mechanic, site, version, django_assert_num_queries):
    for no in range(4):
        fit = FitFactory(coupling=CouplingFactory(train=TrainFactory(site=site, tag=f"T-{no}")), sheet_version=version)
        Element.objects.create(site=site, fit=fit, part_number="E", fitted_on=fit.fitted_on)
    client = as_person(mechanic)
    # Roles, sites, fits joined with coupling, version and sheet, their hub halves.
    with django_assert_num_queries(4):
        assert len(client.get(FITS).json()["results"]) == 4
    client = as_person(mechanic)
    # Roles, sites, elements joined with their fits.
    with django_assert_num_queries(3):
        assert len(client.get(ELEMENTS).json()["results"]) == 4
