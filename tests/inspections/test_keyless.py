"""A hub pushed up a taper or held by screws: advance, oil pressure and screw torque judged in the visit's step."""

import json

import pytest

from couplings.engineering.interference import STEEL
from couplings.models import HubHalf, SheetScrew, SheetVersion
from inspections.models import Mounting
from inspections.selectors.verification import verify
from inspections.selectors.visits import visit_for
from inspections.services.signing import sign_visit
from inspections.steps import STEPS, Place
from plant.recording import recording
from tests.factories import NOW
from tests.inspections.visits import save

# ISO 286-2: at 100 mm H7 is 0 to +35 um and p6 +37 to +59 um, so the interference lies from 0.002 to 0.059 mm. On a
# taper of 1:30 that is 0.06 to 1.77 mm of advance.
PUSHED = {"driver.kind": "hydraulic", "driver.nominal": "100", "driver.taper": "30"}


@pytest.fixture
def tapered(visit):
    SheetVersion.objects.filter(pk=visit.sheet_version_id).update(
        fit_hole="H7", fit_shaft="p6", hub_diameter_mm=160.0, mounting_kind="hydraulic"
    )
    return type(visit).objects.get(pk=visit.pk)


def found(visit, by, fields):
    read = STEPS["mounting"].read(fields, Place(visit_for(by, visit.uuid), NOW))
    assert read.errors == read.missing == {}
    return {one.subject: one for one in read.found}, read


@pytest.mark.parametrize(
    ("advance", "verdict"),
    [("0.05", "out of tolerance"), ("0.07", "in tolerance"), ("1.76", "in tolerance"), ("1.8", "out of tolerance")],
)
def test_the_advance_is_held_against_the_interference_of_the_data_sheet(tapered, mechanic, advance, verdict):
    told, _ = found(tapered, mechanic, PUSHED | {"driver.advance": advance})
    one = told["Advance, driver side"]
    assert one.verdict == verdict
    assert "on a taper of 1:30 0.060\u00a0mm to 1.770\u00a0mm of advance" in one.sentence


@pytest.mark.parametrize(
    ("sheet", "fields", "said"),
    [
        ({}, {"driver.taper": ""}, "Enter the taper"),
        ({"fit_hole": "", "fit_shaft": ""}, {}, "specifies no fit at this size"),
        ({"fit_shaft": "g6"}, {}, "H7/g6 is no interference fit"),
    ],
)
def test_without_something_to_judge_by_the_advance_is_not_known(tapered, mechanic, sheet, fields, said):
    SheetVersion.objects.filter(pk=tapered.sheet_version_id).update(**sheet)
    told, _ = found(tapered, mechanic, PUSHED | {"driver.advance": "1"} | fields)
    one = told["Advance, driver side"]
    assert one.verdict == "not known"
    assert said in one.sentence


def test_oil_that_cannot_float_the_hub_is_told(tapered, mechanic):
    # Lame for one material and a solid shaft, E delta / (2 d) (1 - (d/D)^2): Shigley, 9th ed., sec. 3-16, from memory.
    needed = STEEL.e_mpa * (1.5 / 30) / 200 * (1 - (100 / 160) ** 2)
    for share, verdict in ((0.9, "out of tolerance"), (1.1, "in tolerance")):
        typed = {"driver.advance": "1.5", "driver.expansion_pressure": f"{share * needed:.2f} MPa"}
        told, _ = found(tapered, mechanic, PUSHED | typed)
        assert told["Oil pressure, driver side"].verdict == verdict
    told, _ = found(tapered, mechanic, {"driver.kind": "hydraulic", "driver.expansion_pressure": "100 MPa"})
    assert "Missing: the nominal size, the taper, the advance." in told["Oil pressure, driver side"].sentence


def test_what_the_half_took_before_stands_beside(tapered, mechanic):
    HubHalf.objects.create(
        fit=tapered.fit, side="driver", serial="H-1", advance_mm=1.4, fitted_on=tapered.fit.fitted_on
    )
    _, read = found(tapered, mechanic, PUSHED | {"driver.advance": "1.5"})
    assert any("On record of this hub half H-1: advance 1.4\u00a0mm." in note for note in read.notes)


@pytest.mark.parametrize(
    ("torque", "verdict"),
    [("30", "in tolerance"), ("29.8", "in tolerance"), ("28", "out of tolerance"), ("33", "out of tolerance")],
)
@pytest.mark.parametrize("kind", ["shrink-disc", "clamp", "tapered-bush"])
def test_the_screws_of_a_hub_are_held_against_the_sheets_table_for_its_bore(
    visit, wrench, mechanic, torque, verdict, kind
):
    row = {"version": visit.sheet_version, "kind": "clamp", "size": "M8", "source": "invented"}
    SheetScrew.objects.create(**row, over_bore_mm=0, up_to_bore_mm=50, torque_nm=12)
    SheetScrew.objects.create(**row, over_bore_mm=50, up_to_bore_mm=70, torque_nm=30)
    typed = {"driver.kind": kind, "driver.nominal": "60", "driver.screw_torque": torque, "driver.wrench": wrench.serial}
    told, _ = found(visit, mechanic, typed)
    assert told["Screws of the hub, driver side"].verdict == verdict
    beyond, _ = found(visit, mechanic, typed | {"driver.nominal": "80"})
    assert beyond["Screws of the hub, driver side"].verdict == "not known"


def test_the_verdicts_are_signed_and_the_record_verifies(filled, tapered, mechanic):
    save(filled, "mounting", PUSHED | {"driver.advance": "1.8", "driver.expansion_pressure": "200 MPa"}, mechanic)
    with recording(by=mechanic, at=NOW):
        record = sign_visit(visit=filled)
    row = Mounting.objects.get(record=record)
    assert (row.advance_verdict, row.pressure_verdict, row.screw_verdict) == ("out of tolerance", "in tolerance", "")
    assert "screw_verdict" not in json.loads(record.text)["facts"]["mounting"][0]
    assert verify().findings == []
