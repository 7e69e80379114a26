"""Run-out, pipe strain, soft foot and shims in a visit: what is refused, what is said, what is stored."""

import pytest

from couplings.engineering.tables.coefficients import STARTER_COEFFICIENTS
from couplings.engineering.tables.runouts import STARTER_TABLES
from inspections.models import PipeStrain, RunOut, ShimPack, SoftFoot
from inspections.selectors.summary import summary_of
from inspections.selectors.verification import verify
from inspections.selectors.visits import read_entry
from inspections.services.amendments import amend_visit
from inspections.services.signing import sign_visit
from inspections.steps import STEPS
from plant.models import Site
from plant.recording import recording
from plant.refusals import Refused
from tests.factories import NOW
from tests.inspections.visits import MACHINE_STEPS, save

SHAFT = {"driver_shaft.diameter": "60", "driver_shaft.tir": "0.03"}
RISES = MACHINE_STEPS["soft-foot"]


def read(visit, by, step, fields):
    save(visit, step, fields, by)
    return read_entry(type(visit).objects.get(pk=visit.pk), step)


def sign(visit, by):
    with recording(by=by, at=NOW):
        return sign_visit(visit=visit)


@pytest.mark.parametrize(
    ("step", "fields", "name", "said"),
    [
        ("run-out", SHAFT | {"driver_shaft.12": "0"}, "driver_shaft.tir", "not both"),
        ("run-out", {"driver_hub.tir": "-0.02"}, "driver_hub.tir", "cannot be meant"),
        ("run-out", {"driver_hub.tir": "0.02 kg"}, "driver_hub.tir", "kg"),
        ("pipe-strain", {"driven.vertical": "nan"}, "driven.vertical", "number"),
        ("pipe-strain", {"viewed_from": "above"}, "viewed_from", "is not a choice here"),
        ("soft-foot", RISES | {"driver0l.rise": "-0.1"}, "driver0l.rise", "cannot be meant"),
        ("soft-foot", {"driver0l.shims": "2.0 + tin"}, "driver0l.shims", "“tin”"),
        ("soft-foot", {"driver0l.shims": "2.0 + 0.001"}, "driver0l.shims", "between 0.01 mm and 100 mm"),
        ("soft-foot", {"driver0l.shims": " + ".join(["0.1"] * 13)}, "driver0l.shims", "at most 12"),
    ],
)
def test_what_cannot_be_taken_is_refused_beside_its_field(visit, mechanic, step, fields, name, said):
    found = read(visit, mechanic, step, fields)
    assert said in found.errors[name]
    assert found.values is None


@pytest.mark.parametrize(
    ("step", "fields", "name", "said"),
    [
        ("run-out", {"driver_hub.diameter": "60"}, "driver_hub.tir", "not there yet"),
        ("run-out", {"driver_hub.12": "0.02"}, "driver_hub.tir", "two readings or more"),
        ("pipe-strain", {"driven.vertical": "0.02"}, "driven.horizontal", "horizontal movement is missing"),
        (
            "pipe-strain",
            {"driven.vertical": "0", "driven.horizontal": "0.1"},
            "viewed_from",
            "from which end right and left",
        ),
        ("soft-foot", {"method": "rises", "driver0l.rise": "0.1"}, "driver1r.rise", "rise of this foot is missing"),
        ("soft-foot", {"method": "rises", "driver0l.shims": "0.5"}, "method", "Nothing is measured this way yet"),
        ("soft-foot", {"method": "corners", "driver0l.corner0": "0.1"}, "driver0l.corner3", "gap at this corner"),
    ],
)
def test_what_is_missing_is_said_where_it_belongs(visit, mechanic, step, fields, name, said):
    assert said in read(visit, mechanic, step, fields).missing[name]


@pytest.mark.parametrize(
    ("fields", "verdict", "said"),
    [
        # 60 mm lies in the band over 50 up to 80 mm: 0.060 mm, ANSI/EASA AR100-2015, table 2-4.
        (SHAFT, "in tolerance", "The limit is 0.06\u00a0mm (shaft extension of an IEC motor, ANSI/EASA AR100-2015"),
        (SHAFT | {"driver_shaft.tir": "0.09"}, "out of tolerance", "Run-out 0.09\u00a0mm"),
        ({"driver_shaft.tir": "0.09"}, "not known", "Enter the diameter"),
        (SHAFT | {"driver_shaft.diameter": "900"}, "not known", "has no limit for a diameter of 900.0\u00a0mm"),
        # 0.002 in, The Practical Pumping Handbook p. 179, for the hub whatever its diameter.
        ({"driven_hub.diameter": "120", "driven_hub.tir": "0.06"}, "out of tolerance", "0.05\u00a0mm (coupling hub"),
        (
            {"driver_hub.diameter": "120", "driver_hub.12": "0", "driver_hub.3": "0.04", "driver_hub.6": "0",
             "driver_hub.9": "-0.04"},
            "out of tolerance",
            "Run-out 0.08\u00a0mm, highest near 3 o'clock",
        ),
    ],
)  # fmt: skip
def test_run_out_is_held_against_the_table_by_its_diameter(visit, mechanic, fields, verdict, said):
    (found,) = read(visit, mechanic, "run-out", fields).found
    assert found.verdict == verdict
    assert said in found.sentence


def test_pipe_strain_seen_from_the_other_end_is_stored_from_the_driver_end(visit, mechanic):
    typed = {"driven.vertical": "0.03", "driven.horizontal": "0.04"}
    one = read(visit, mechanic, "pipe-strain", typed | {"viewed_from": "driver"})
    visit.entries.all().delete()
    other = read(visit, mechanic, "pipe-strain", typed | {"viewed_from": "driven"})

    assert [found.values[0].horizontal_mm for found in (one, other)] == [0.04, -0.04]
    # 3, 4, 5: the shaft moved 0.05 mm, just inside 0.0508 mm.
    assert [found.found[0].verdict for found in (one, other)] == ["in tolerance"] * 2
    assert "moved 0.05\u00a0mm up and to the left, seen from the driver end" in other.found[0].sentence


def test_the_highest_foot_is_named_with_the_shim_that_fills_it(visit, mechanic):
    """FIST 4-1A, p. 17: shim by the excess over the common rise; the others rise 0.02 mm in common."""
    found = read(visit, mechanic, "soft-foot", RISES | {"driver1r.rise": "0.12"})

    (said,) = found.found
    assert said.verdict == "out of tolerance"
    assert "The inboard right foot rises most, 0.12\u00a0mm, 0.10\u00a0mm more than the others" in said.sentence
    assert [foot.foot for foot in found.values.feet if foot.softest] == ["inboard right"]


@pytest.mark.parametrize(
    ("gaps", "kind", "verdict", "said"),
    [
        (("0", "0", "0.05", "0"), "none", "in tolerance", "No gap under the outboard left foot"),
        (("0.1", "0.1", "0.15", "0.1"), "parallel", "out of tolerance", "A parallel gap of 0.11\u00a0mm"),
        (("0", "0.05", "0.3", "0.1"), "angular", "out of tolerance", "widest outboard right: make foot or pad flat"),
    ],
)
def test_corner_gaps_tell_parallel_from_angular(visit, mechanic, gaps, kind, verdict, said):
    typed = {"method": "corners"} | {f"driver0l.corner{number}": gap for number, gap in enumerate(gaps)}
    found = read(visit, mechanic, "soft-foot", typed)

    assert (found.values.feet[0].kind, found.found[0].verdict) == (kind, verdict)
    assert said in found.found[0].sentence


def test_too_many_shims_are_said_and_stop_nobody(visit, mechanic):
    found = read(visit, mechanic, "soft-foot", {"driver0l.shims": "1.0 + 0.5 + 0,25 + 0.1 + 0.05"})

    assert "5 shims under the outboard left foot, driver side; this site allows 4" in found.warnings[0]
    assert found.values.packs[0].shims_mm == (1.0, 0.5, 0.25, 0.1, 0.05)


def test_shims_in_thou_are_kept_in_millimetres(visit, mechanic):
    visit.site.units = "us"
    visit.site.save()
    found = read(visit, mechanic, "soft-foot", {"driver0l.shims": "80 + 20"})
    assert found.values.packs[0].shims_mm == pytest.approx((2.032, 0.508))


def test_only_machines_that_can_be_moved_are_asked_for(visit):
    names = {row.name for row in STEPS["soft-foot"].fields(visit, {"method": "rises"})}
    assert "driver1r.rise" in names
    assert not any(name.startswith("driven") for name in names)


def test_feet_of_a_machine_that_stays_where_it_is_are_refused(visit, mechanic):
    with pytest.raises(Refused) as refused:
        save(visit, "soft-foot", {"driven0l.rise": "0.1"}, mechanic)
    assert "fields.driven0l.rise" in refused.value.as_dict()


def test_a_vertical_machine_has_no_soft_foot(visit):
    for machine in (visit.coupling.driver_machine, visit.coupling.driven_machine):
        machine.mounting = "vertical"
    assert not STEPS["soft-foot"].applies(visit)


def test_the_steps_are_optional_and_what_is_out_stands_in_the_summary(filled, mechanic):
    assert summary_of(filled).ready
    save(filled, "run-out", SHAFT | {"driver_shaft.tir": "0.2"}, mechanic)

    summary = summary_of(type(filled).objects.get(pk=filled.pk))

    assert summary.ready
    assert any(said.startswith("Shaft, driver side: out of tolerance. Run-out 0.20") for said in summary.warnings)


def test_signing_stores_every_fact_and_an_amendment_replaces_its_own_step_only(filled, mechanic, engineer):
    for step, typed in MACHINE_STEPS.items():
        save(filled, step, typed, mechanic)
    record = sign(filled, mechanic)

    out = RunOut.objects.get(record=record)
    assert (out.side, out.part, out.run_out_mm, out.diameter_mm) == ("driver", "shaft", 0.03, 60.0)
    assert (out.limit_mm, out.limit_table, out.verdict) == (pytest.approx(0.06), "iec", "in tolerance")
    strain = PipeStrain.objects.get(record=record)
    assert (strain.side, strain.vertical_mm, strain.horizontal_mm) == ("driven", 0.02, -0.01)
    feet = {foot.foot: foot.size_mm for foot in SoftFoot.objects.filter(record=record)}
    assert feet == {"outboard left": 0.02, "outboard right": 0.01, "inboard left": 0.02, "inboard right": 0.04}
    pack = ShimPack.objects.get(record=record)
    assert (pack.foot, pack.shims_mm, pack.count) == ("outboard left", [2.0, 0.5, 0.05], 3)
    assert pack.total_mm == pytest.approx(2.55)
    assert verify().findings == []

    filled.refresh_from_db()
    with recording(by=engineer, at=NOW):
        second = amend_visit(
            visit=filled, steps={"run-out": SHAFT | {"driver_shaft.tir": "0.05"}}, reason="misread the dial"
        )

    assert RunOut.objects.get(record=second).run_out_mm == 0.05
    assert ShimPack.objects.get(record=second).shims_mm == [2.0, 0.5, 0.05], "what is not amended goes over"
    assert SoftFoot.objects.filter(record=second).count() == 4
    assert RunOut.objects.get(record=record).run_out_mm == 0.03
    assert verify().findings == []


def test_an_amendment_refuses_by_the_path_of_its_field(filled, mechanic, engineer):
    sign(filled, mechanic)
    filled.refresh_from_db()
    with recording(by=engineer, at=NOW), pytest.raises(Refused) as refused:
        amend_visit(visit=filled, steps={"soft-foot": {"driver0l.shims": "tin"}}, reason="shims forgotten")
    assert "steps.soft-foot.driver0l.shims" in refused.value.as_dict()


def test_the_choices_of_a_site_are_the_rows_of_the_tables():
    assert set(Site.RunOutTable.values) == set(STARTER_TABLES)
    assert set(Site.SupportMaterial.values) == {row.material for row in STARTER_COEFFICIENTS}
