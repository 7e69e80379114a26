"""Stress areas, strengths and proof loads against their published values."""

import pytest

from couplings.engineering.bolts import proof_load_n, strength_of, tensile_load_n
from couplings.engineering.tables.bolt_strengths import STARTER_STRENGTHS
from couplings.engineering.threads import (
    COARSE_PITCH_MM,
    INCH_AREA_CONSTANT,
    INCH_MM,
    METRIC_AREA_CONSTANT,
    inch_stress_area_in2,
    metric_stress_area_mm2,
    parse_thread,
)
from tests.reference.fastener_cases import CASES, assert_agrees, cases, ids_of

TOPICS = ("1 tensile stress area", "2 proof strength", "3 torque-preload", "9 tools")
NOT_RUN: dict[str, str] = {}
LBF = 4.4482216152605

AREAS, STRENGTHS = TOPICS[:2]
METRIC = tuple(one for one in ids_of(AREAS) if "d_mm" in CASES[one]["inputs"])
INCH = tuple(one for one in ids_of(AREAS) if "D_in" in CASES[one]["inputs"])


@cases(*METRIC)
def test_a_metric_thread_has_the_published_stress_area(case):
    given = case["inputs"]
    assert_agrees(case, metric_stress_area_mm2(given["d_mm"], given["pitch_mm"]))
    assert_agrees(case, parse_thread(f"M{given['d_mm']}x{given['pitch_mm']}").area_mm2)


@cases(*INCH)
def test_an_inch_thread_has_the_published_stress_area(case):
    given = case["inputs"]
    assert_agrees(case, inch_stress_area_in2(given["D_in"], given["tpi"]))
    assert_agrees(case, parse_thread(f"{given['D_in']}-{given['tpi']}").area_mm2 / INCH_MM**2)


@cases("area-const-inch", "area-const-metric")
def test_each_system_has_its_own_constant(case):
    assert_agrees(case, INCH_AREA_CONSTANT if case["id"].endswith("inch") else METRIC_AREA_CONSTANT)


@cases(*ids_of(STRENGTHS, "j429-proofload"))
def test_a_grade_of_inch_bolt_has_the_published_proof_load(case):
    given = case["inputs"]
    thread = parse_thread(f"{given['size']}-{given['tpi']}")
    row = strength_of("SAE J429", str(given["grade"]), thread.diameter_mm)
    assert row.proof == given["proof_ksi"]
    assert_agrees(case, proof_load_n(thread, row) / LBF)


@cases("j429-ratio-8-5")
def test_grade_8_to_grade_5_is_the_ratio_of_their_proof_strengths(case):
    eight, five = (strength_of("SAE J429", name, INCH_MM).proof_mpa for name in ("8", "5"))
    assert_agrees(case, eight / five)
    # Above 1 in grade 5 drops, so the ratio does not hold there (the case's own note: 1.62).
    above = INCH_MM * 1.125
    assert strength_of("SAE J429", "8", above).proof / strength_of("SAE J429", "5", above).proof == pytest.approx(
        1.62, abs=0.005
    )


@cases(*ids_of(STRENGTHS, "j429-strength"))
def test_a_grade_has_the_published_strengths_over_its_whole_range(case):
    given = case["inputs"]
    first, last = given["size_in"].split("-")
    for size in (first, last):
        inches = sum(float(over) / float(under or 1) for over, _bar, under in (p.partition("/") for p in size.split()))
        row = strength_of("SAE J429", str(given["grade"]), inches * INCH_MM)
        assert row.unit == "ksi"
        assert_agrees(case, {"proof": row.proof, "yield": row.yield_, "tensile": row.tensile})


@cases(*ids_of(STRENGTHS, "iso898-proofload"))
def test_a_property_class_has_the_published_proof_load(case):
    given = case["inputs"]
    row = strength_of("ISO 898-1", given["class"], given["d_mm"])
    assert row.proof == given["Sp_MPa"]
    thread = coarse(given["d_mm"])
    # The table was multiplied with areas of three figures (for M6 that matters) and rounded down once more.
    assert float(f"{thread.area_mm2:.3g}") == given["As_mm2"]
    assert_agrees(case, proof_load_n(thread, row, given["As_mm2"]))


@cases(*ids_of(STRENGTHS, "iso898-minbreak"))
def test_a_property_class_has_the_published_breaking_load(case):
    given = case["inputs"]
    row = strength_of("ISO 898-1", given["class"], given["d_mm"])
    assert row.tensile == given["Rm_MPa"]
    assert_agrees(case, tensile_load_n(coarse(given["d_mm"]), row))


@cases("iso898-strength-12.9")
def test_a_property_class_has_the_published_strengths(case):
    row = strength_of("ISO 898-1", case["inputs"]["class"], 20)
    assert_agrees(case, {"Sp": row.proof_mpa, "yield": row.yield_mpa, "Rm": row.tensile_mpa})


def coarse(diameter_mm):
    return parse_thread(f"M{diameter_mm:g}x{COARSE_PITCH_MM[diameter_mm]:g}")


def test_every_starter_row_names_its_source_and_a_superseded_one_stands_beside_todays():
    assert all(row.source and row.mark in ("published", "from memory") for row in STARTER_STRENGTHS)
    (old,) = [row for row in STARTER_STRENGTHS if row.superseded]
    assert strength_of("SAE J429", "5", 22.225) is not old
    assert strength_of("SAE J429", "5", 22.225, superseded=True) is old
