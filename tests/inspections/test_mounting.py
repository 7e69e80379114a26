"""Mounting of the hubs in a visit: refusals, the fit and the key judged, the kinds of mounting, what is stored."""

import pytest

from couplings.models import SheetVersion
from inspections.models import Mounting
from inspections.selectors.summary import summary_of
from inspections.selectors.verification import verify
from inspections.selectors.visits import read_entry
from inspections.services.amendments import amend_visit
from inspections.services.signing import sign_visit
from inspections.steps import STEPS
from plant.recording import recording
from plant.refusals import Refused
from tests.factories import NOW, InstrumentFactory
from tests.inspections.visits import MOUNTING, save


@pytest.fixture(autouse=True)
def micrometers(site):
    """Invented: 1 and 2 micrometres, and one whose uncertainty nobody entered."""
    InstrumentFactory(site=site, kind="caliper", name="Outside micrometer", serial="C-1", standard_u_mm=0.001)
    InstrumentFactory(site=site, kind="caliper", name="Inside micrometer", serial="C-2", standard_u_mm=0.002)
    InstrumentFactory(site=site, kind="caliper", name="Old caliper", serial="C-3", standard_u_mm=None)


@pytest.fixture
def specify(visit):
    """State something on the visit's data sheet."""

    def specify(**fields):
        SheetVersion.objects.filter(pk=visit.sheet_version_id).update(**fields)
        return type(visit).objects.get(pk=visit.pk)

    return specify


def read(visit, by, fields):
    save(visit, "mounting", fields, by)
    return read_entry(type(visit).objects.get(pk=visit.pk), "mounting")


def pair(bore, shaft, **more):
    return {"driver.bore": bore, "driver.shaft": shaft, "driver.bore_gauge": "C-2", "driver.shaft_gauge": "C-1"} | more


@pytest.mark.parametrize(
    ("fields", "name", "said"),
    [
        ({"driver.bore": "nan"}, "driver.bore", "number"),
        ({"driver.bore": "50 kg"}, "driver.bore", "kg"),
        ({"driver.shaft": "0.2"}, "driver.shaft", "cannot be meant"),
        ({"driver.kind": "glue"}, "driver.kind", "is not a choice here"),
        ({"driver.cleaned": "nearly"}, "driver.cleaned", "is not a choice here"),
        ({"driver.bore_gauge": "T-1"}, "driver.bore_gauge", "this needs a caliper or micrometer"),
        ({"driver.kind": "clamp", "driver.wrench": "C-1"}, "driver.wrench", "this needs a click torque wrench"),
        ({"driver.hub_temperature": "120"}, "driver.hub_temperature", "Say how the hub is held"),
        (
            {"driver.kind": "clamp", "driver.hub_temperature": "120"},
            "driver.hub_temperature",
            "does not belong to a hub held by: clamp",
        ),
        ({"driver.kind": "tapered-bore", "driver.bore": "50"}, "driver.bore", "held by: tapered bore"),
        ({"driver.kind": "tapered-bore", "driver.contact": "120 %"}, "driver.contact", "cannot be meant"),
        ({"driver.kind": "hydraulic", "driver.taper": "30.5"}, "driver.taper", "A whole number from 1 to 200"),
        ({"driver.kind": "hydraulic", "driver.push_pressure": "-1"}, "driver.push_pressure", "cannot be meant"),
    ],
)
def test_what_cannot_be_taken_is_refused_beside_its_field(visit, wrench, mechanic, fields, name, said):
    found = read(visit, mechanic, fields)
    assert said in found.errors[name]
    assert found.values is None
    assert name in {row.name for row in STEPS["mounting"].fields(visit, fields)}, "what is refused can be mended"


@pytest.mark.parametrize(
    ("fields", "name", "said"),
    [
        ({"driver.bore": "50"}, "driver.shaft", "Measure the shaft as well"),
        ({"driven.shaft": "50"}, "driven.bore", "Measure the bore as well"),
        ({"driver.key_width": "14"}, "driver.key_height", "height of the key is missing"),
        ({"driver.kind": "shrink-disc", "driver.screw_torque": "30"}, "driver.wrench", "Name the wrench"),
    ],
)
def test_what_is_missing_is_said_where_it_belongs(visit, mechanic, fields, name, said):
    assert said in read(visit, mechanic, fields).missing[name]


@pytest.mark.parametrize(
    ("bore", "shaft", "verdict", "said"),
    [
        # ISO 286-2, H7 and m6 over 30 up to 50 mm: from interference 0.025 to clearance 0.016 mm.
        ("50.012", "50.015", "in tolerance", "Interference 0.003\u00a0mm. H7/m6 at 50.0\u00a0mm is a transition fit"),
        ("50.012", "50.015", "in tolerance", "from interference 0.025\u00a0mm to clearance 0.016\u00a0mm (ISO 286"),
        ("50.040", "50.010", "out of tolerance", "Clearance 0.030\u00a0mm, 0.014\u00a0mm looser than it may be"),
        ("50.000", "50.035", "out of tolerance", "Interference 0.035\u00a0mm, 0.010\u00a0mm tighter than it may be"),
        ("50.025", "50.009", "too close to call", "measure again, or finer"),
        ("60.012", "60.015", "not known", "do not belong to a nominal size of 50.0\u00a0mm"),
    ],
)
def test_a_measured_pair_is_held_against_the_fit_of_the_data_sheet(specify, mechanic, bore, shaft, verdict, said):
    visit = specify(fit_hole="H7", fit_shaft="m6", bore_mm=50.0)
    (found,) = read(visit, mechanic, pair(bore, shaft)).found
    assert (found.subject, found.verdict) == ("Fit, driver side", verdict)
    assert said in found.sentence


@pytest.mark.parametrize(
    ("sheet", "fields", "said"),
    [
        ({}, pair("50.012", "50.015"), "The data sheet specifies no fit."),
        ({"fit_hole": "H7", "fit_shaft": "m6"}, pair("50.012", "50.015"), "Enter the nominal size"),
        (
            {"fit_hole": "H7", "fit_shaft": "m6"},
            pair("260.012", "260.015", **{"driver.nominal": "260"}),
            "The table of fits does not hold 260.0\u00a0mm",
        ),
        (
            {"fit_hole": "H7", "fit_shaft": "m6", "bore_mm": 50.0},
            pair("50.012", "50.015", **{"driver.shaft_gauge": "C-3"}),
            "Name both instruments",
        ),
    ],
)
def test_without_something_to_judge_by_the_fit_is_not_known(specify, mechanic, sheet, fields, said):
    (found,) = read(specify(**sheet), mechanic, fields).found
    assert found.verdict == "not known"
    assert "nterference 0.003\u00a0mm" in found.sentence
    assert said in found.sentence


@pytest.mark.parametrize(
    ("standard", "nominal", "size", "verdict", "said"),
    [
        # DIN 6885-1: over 44 up to 50 mm 14 x 9, over 58 up to 65 mm 18 x 11.
        ("din-6885", "50", ("13.98", "9"), "in tolerance", "14.000\u00a0mm × 9.000\u00a0mm (DIN 6885-1"),
        ("din-6885", "60", ("14", "9"), "out of tolerance", "18.000\u00a0mm × 11.000\u00a0mm (DIN 6885-1"),
        # ASME B17.1 Table 1: over 1 3/4 up to 2 1/4 inch 1/2 x 1/2 or 1/2 x 3/8.
        ("asme-b17-1", "2 in", ("0.5 in", "0.375 in"), "in tolerance", "12.700\u00a0mm × 9.525\u00a0mm (ASME B17.1"),
        ("asme-b17-1", "2 in", ("0.5 in", "0.25 in"), "out of tolerance", "12.700\u00a0mm × 12.700\u00a0mm or"),
        ("din-6885", "300", ("14", "9"), "not known", "has no row for a shaft of 300.0\u00a0mm"),
        ("none", "50", ("14", "9"), "out of tolerance", "has no key here"),
        ("", "50", ("14", "9"), "not known", "names no standard of keys"),
        ("din-6885", "", ("14", "9"), "not known", "Enter the nominal size"),
    ],
)
def test_the_key_found_is_held_against_its_standard(specify, mechanic, standard, nominal, size, verdict, said):
    typed = {"driver.nominal": nominal, "driver.key_width": size[0], "driver.key_height": size[1]}
    (found,) = read(specify(key_standard=standard), mechanic, typed).found
    assert found.verdict == verdict
    assert said in found.sentence


def test_a_heated_hub_is_told_how_hot_with_the_caution(specify, mechanic):
    """Linear expansion, (0.05 + 0.05) / (11.6e-6 x 60) = 143.7 K: constructed figures, worked by hand."""
    visit = specify(mounting_kind="heated")
    typed = pair("59.950", "60.000", **{"driver.nominal": "60"})

    (note,) = read(visit, mechanic, typed).notes
    assert "Heat the hub at least 143.7\u00a0°C above the shaft: interference 0.050\u00a0mm as measured" in note
    typed = {"driver.shaft_temperature": "20", "driver.hub_temperature": "150"}
    save(visit, "mounting", typed, mechanic, seen=1)
    found = read_entry(type(visit).objects.get(pk=visit.pk), "mounting")
    assert "Heat the hub to at least 163.7\u00a0°C" in found.notes[0]
    assert "went on at 150.0\u00a0°C, colder than advised" in found.warnings[0]
    told = STEPS["mounting"].tells(visit, {})
    assert "burns the skin and sets fire" in told.answer("metric")["cautions"][0]
    assert STEPS["mounting"].tells(specify(mounting_kind="clamp"), {}) is None


def test_a_loose_hub_needs_no_heating(specify, mechanic):
    (note,) = read(specify(mounting_kind="heated", bore_mm=60.0), mechanic, pair("60.05", "60.00")).notes
    assert "nothing needs heating" in note


def test_an_advance_on_a_taper_is_told_as_interference(visit, mechanic):
    typed = {"driven.kind": "hydraulic", "driven.advance": "4.8", "driven.taper": "16"}
    (note,) = read(visit, mechanic, typed).notes
    assert note == "Driven side: 4.800\u00a0mm of advance on a taper of 1:16 is 0.300\u00a0mm of interference."


def test_another_kind_than_the_data_sheets_and_dirt_are_warned_of(specify, mechanic):
    found = read(specify(mounting_kind="clamp"), mechanic, {"driver.kind": "heated", "driver.cleaned": "no"})
    assert "heated, interference; the data sheet says: clamp" in found.warnings[0]
    assert "are not cleaned" in found.warnings[1]
    assert found.values[0].kind == "heated"


def test_the_step_is_optional_and_what_is_out_stands_in_the_summary(filled, specify, mechanic):
    assert summary_of(filled).ready
    specify(fit_hole="H7", fit_shaft="m6", bore_mm=50.0)
    save(filled, "mounting", pair("50.040", "50.010"), mechanic)
    summary = summary_of(type(filled).objects.get(pk=filled.pk))
    assert summary.ready
    assert any(said.startswith("Fit, driver side: out of tolerance.") for said in summary.warnings)


def test_signing_stores_the_mounting_and_an_amendment_replaces_it(filled, specify, mechanic, engineer):
    specify(fit_hole="H7", fit_shaft="m6", bore_mm=50.0, key_standard="din-6885", mounting_kind="clamp")
    visit = type(filled).objects.get(pk=filled.pk)
    save(visit, "mounting", MOUNTING, mechanic)
    with recording(by=mechanic, at=NOW):
        record = sign_visit(visit=type(filled).objects.get(pk=filled.pk))

    one = Mounting.objects.get(record=record)
    assert (one.side, one.kind, one.cleaned, one.nominal_mm) == ("driver", "clamp", True, 50.0)
    assert (one.bore_mm, one.shaft_mm, one.fit_hole, one.fit_shaft) == (50.012, 50.015, "H7", "m6")
    assert one.clearance_mm == pytest.approx(-0.003)
    assert (one.bore_u_mm, one.shaft_u_mm, one.shaft_instrument.serial) == (0.002, 0.001, "C-1")
    assert (one.fit_verdict, one.key_verdict, one.key_standard) == ("in tolerance", "in tolerance", "din-6885")
    assert (one.screw_torque_nm, one.wrench_instrument.serial) == (30.0, "T-1")
    assert verify().findings == []

    filled.refresh_from_db()
    with recording(by=engineer, at=NOW):
        second = amend_visit(visit=filled, steps={"mounting": MOUNTING | {"driver.bore": "50.042"}}, reason="misread")
    again = Mounting.objects.get(record=second)
    assert (again.bore_mm, again.fit_verdict) == (50.042, "out of tolerance")
    assert Mounting.objects.get(record=record).bore_mm == 50.012
    assert verify().findings == []


def test_an_amendment_refuses_by_the_path_of_its_field(filled, mechanic, engineer):
    with recording(by=mechanic, at=NOW):
        sign_visit(visit=filled)
    filled.refresh_from_db()
    with recording(by=engineer, at=NOW), pytest.raises(Refused) as refused:
        amend_visit(visit=filled, steps={"mounting": {"driver.bore": "wide"}}, reason="bore forgotten")
    assert "steps.mounting.driver.bore" in refused.value.as_dict()


def test_a_hub_is_held_as_its_own_row_of_the_sheet_says(visit, mechanic, specify):
    visit.sheet_version.hubs.create(side="driven", mounting_kind="heated", bore_length_mm=80)
    here = specify(mounting_kind="clearance")
    hints = {row.name: row.hint for row in STEPS["mounting"].fields(here, {}) if row.name.endswith(".kind")}
    assert "clearance with set screws" in hints["driver.kind"]
    assert "heated, interference" in hints["driven.kind"]
    told = STEPS["mounting"].tells(here, {})
    assert told is not None
    assert "burn" in told.caution.lower()
    found = read(here, mechanic, {"driven.kind": "clearance", "driver.kind": "clearance"})
    assert [one for one in found.warnings if "the data sheet says: heated, interference" in one]
    assert len([one for one in found.warnings if "the data sheet says" in one]) == 1
