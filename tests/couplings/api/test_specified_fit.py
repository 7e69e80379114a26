"""The specified fit, key standard and mounting of a data sheet over the API and in the administration."""

import pytest

from couplings.models import SheetVersion
from tests.couplings.api.conftest import faults
from tests.factories import FamilyFactory

SHEETS = "/api/v1/data-sheets/"
SPECIFIED = {"fit_hole": "H7", "fit_shaft": "m6", "key_standard": "din-6885", "mounting_kind": "clamp"}


def body(site, **version):
    return {
        "site": str(site.uuid), "family": FamilyFactory().code, "designation": "Jaw 50", "first_version": version,
    }  # fmt: skip


def test_what_is_specified_is_written_and_read_back(as_person, engineer, site):
    made = as_person(engineer).post(SHEETS, body(site, **SPECIFIED, bore={"value": 50, "unit": "mm"}), format="json")
    assert made.status_code == 201, made.json()
    version = made.json()["versions"][0]
    assert {name: version[name] for name in SPECIFIED} == SPECIFIED
    row = SheetVersion.objects.get()
    assert (row.fit_hole, row.fit_shaft, row.bore_mm) == ("H7", "m6", 50.0)


@pytest.mark.parametrize(
    ("given", "pointer", "said"),
    [
        ({"fit_hole": "H7"}, "/first_version/fit_shaft", "class of the shaft as well"),
        ({"fit_hole": "H9", "fit_shaft": "m6"}, "/first_version/fit_hole", "H6, H7, H8"),
        ({"key_standard": "mine"}, "/first_version/key_standard", "mine"),
        ({"mounting_kind": "glue"}, "/first_version/mounting_kind", "glue"),
    ],
)
def test_what_cannot_be_specified_is_pointed_at(as_person, engineer, site, given, pointer, said):
    answer = as_person(engineer).post(SHEETS, body(site, **given), format="json")
    assert answer.status_code == 422
    assert said in faults(answer)[pointer]
    assert not SheetVersion.objects.exists()
