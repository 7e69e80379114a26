"""Grades and instruments over the API."""

import pytest

from couplings.models import Grade, Instrument
from tests.couplings.api.conftest import faults
from tests.factories import InstrumentFactory

GRADES, INSTRUMENTS = "/api/v1/grades/", "/api/v1/instruments/"


def rpm(value):
    return {"value": value, "unit": "rpm"}


@pytest.fixture
def grade(site):
    return {
        "site": str(site.uuid),
        "name": "House",
        "criticalities": "AB",
        "rows": [
            {"kind": "short", "up_to": rpm(1800), "offset": {"value": 4, "unit": "mil"}, "source": "site rule 7"},
            {
                "kind": "spacer",
                "up_to": rpm(3600),
                "flex_angle": {"value": 0.5, "unit": "mil/in"},
                "source": "site rule 7",
                "mark": "site",
            },
        ],
    }


@pytest.fixture
def wrench(site):
    return {
        "site": str(site.uuid),
        "kind": "torque-read",
        "name": "Dial wrench",
        "serial": "T-9",
        "standard_uncertainty_share": {"value": 2, "unit": "%"},
        "calibrated_on": "2026-03-01",
        "calibration_days": 365,
    }


def test_a_grade_is_written_in_thousandths_and_its_rows_are_replaced_as_a_whole(as_person, engineer, grade):
    client = as_person(engineer)
    made = client.post(GRADES, grade, format="json")
    assert made.status_code == 201, made.json()
    # 1 thou = 0.0254 mm exactly; 1 thou/in = 1 mm/m (reference TL-14).
    assert made.json()["rows"][0]["offset"] == {"value": pytest.approx(0.1016), "unit": "mm"}
    assert made.json()["rows"][1]["flex_angle"] == {"value": pytest.approx(0.5), "unit": "mm/m"}
    us = client.get(made["Location"] + "?units=us").json()
    assert us["rows"][0]["offset"] == {"value": pytest.approx(4), "unit": "thou"}
    rows = [{"up_to": rpm(3000), "angularity": {"value": 0.4, "unit": "mm/m"}, "source": "new"}]
    changed = client.patch(made["Location"], {"rows": rows}, format="json", headers={"If-Match": made["ETag"]})
    assert [row["source"] for row in changed.json()["rows"]] == ["new"]


def test_rows_that_overlap_or_limit_nothing_are_refused_beside_the_row(as_person, engineer, grade):
    grade["rows"][1] = grade["rows"][0] | {"over": rpm(900)}
    grade["rows"].append({"kind": "rigid", "up_to": rpm(100), "source": "x"})
    refused = as_person(engineer).post(GRADES, grade, format="json")
    assert faults(refused) == {
        "/rows/1/over": "This band overlaps that of row 1.",
        "/rows/2/offset": "Give at least one limit in this row.",
    }
    assert not Grade.objects.exists()


def test_an_instrument_is_registered_calibrated_and_retired(as_person, keeper, wrench):
    client = as_person(keeper)
    made = client.post(INSTRUMENTS, wrench, format="json")
    assert made.status_code == 201, made.json()
    # 365 days on from 2026-03-01 by the calendar: no leap day lies between.
    assert made.json()["calibration_ends_on"] == "2027-03-01"
    assert made.json()["standard_uncertainty_share"] == {"value": pytest.approx(2), "unit": "%"}
    where = made["Location"]
    assert client.patch(where, {"name": "x"}, format="json").status_code == 428
    done = client.patch(where, {"retired_on": "2026-10-12"}, format="json", headers={"If-Match": made["ETag"]})
    assert done.json()["retired_on"] == "2026-10-12"
    assert client.get(INSTRUMENTS + "?retired=false").json()["results"] == []
    assert len(client.get(INSTRUMENTS + "?kind=torque-read&serial=T-9").json()["results"]) == 1


def test_an_instrument_keeps_its_kind_and_its_serial_number_is_its_own(as_person, keeper, wrench, site):
    client = as_person(keeper)
    made = client.post(INSTRUMENTS, wrench, format="json")
    assert faults(client.post(INSTRUMENTS, wrench, format="json")) == {
        "/serial": "Another instrument of this kind has this serial number here."
    }
    other = client.patch(made["Location"], {"kind": "dial"}, format="json", headers={"If-Match": "*"})
    assert faults(other) == {"/kind": "This is fixed once it is made."}
    length = {"standard_uncertainty": {"value": 0.01, "unit": "mm"}, "calibrated_on": "2026-10-13"}
    wrong = client.patch(made["Location"], length, format="json", headers={"If-Match": "*"})
    assert set(faults(wrong)) == {"/standard_uncertainty", "/calibrated_on"}
    assert Instrument.objects.get().standard_u_mm is None


def test_who_may_and_who_may_not(as_person, keeper, engineer, mechanic, stranger, grade, wrench, site):
    assert as_person(keeper).post(GRADES, grade, format="json").status_code == 403
    assert as_person(mechanic).post(INSTRUMENTS, wrench, format="json").status_code == 403
    for url, body in ((GRADES, grade), (INSTRUMENTS, wrench)):
        assert set(faults(as_person(stranger).post(url, body, format="json"))) == {"/site"}
    dial = InstrumentFactory(site=site)
    where = f"{INSTRUMENTS}{dial.uuid}/"
    assert as_person(mechanic).get(where).status_code == 200
    assert as_person(stranger).get(where).status_code == 404
    assert as_person(stranger).get(INSTRUMENTS).json()["results"] == []
    where = as_person(engineer).post(GRADES, grade, format="json")["Location"]
    assert as_person(stranger).patch(where, {"name": "x"}, format="json", headers={"If-Match": "*"}).status_code == 404


def test_lists_cost_the_same_however_long_they_are(as_person, mechanic, site, django_assert_num_queries):
    for no in range(4):
        InstrumentFactory(site=site)
        Grade.objects.create(site=site, name=f"G{no}")
    client = as_person(mechanic)
    # Roles, sites, instruments, their calibrations.
    with django_assert_num_queries(4):
        assert len(client.get(INSTRUMENTS).json()["results"]) == 4
    client = as_person(mechanic)
    # Roles, sites, grades, their rows.
    with django_assert_num_queries(4):
        assert len(client.get(GRADES).json()["results"]) == 4
