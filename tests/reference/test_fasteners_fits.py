"""Published cases of hub fits, through the functions that serve the pages and the API."""

import math

import numpy as np
import pytest

from couplings.engineering.fits import (
    INCH_MM,
    fit_of_class,
    specified_fit,
    standard_tolerance_um,
    zone,
)
from couplings.engineering.interference import (
    Ring,
    heating_rise_k,
    press_pressure,
    press_torque_nm,
    surface_roughness_um,
)
from couplings.engineering.pairs import judge_pair
from couplings.engineering.runout import limit_by_diameter_mm
from couplings.engineering.tables.iso286 import InchClass
from tests.reference.fastener_cases import assert_agrees, cases, ids_of

TOPICS = {"6 hub fits"}
NOT_RUN: dict[str, str] = {}


def in_the_middle(inputs):
    return math.sqrt(inputs["over_mm"] * inputs["to_incl_mm"])


@cases(*ids_of("6 hub fits", "iso286-IT"))
def test_standard_tolerances_are_the_table_s(case):
    inputs = case["inputs"]
    for size in (in_the_middle(inputs), inputs["to_incl_mm"]):
        got = {f"IT{grade}": zone(f"H{grade}", size).upper_mm * 1000 for grade in (6, 7)}
        assert_agrees(case, got)
        # The case's tolerance is there for the formula; the table itself is exact.
        assert got == pytest.approx(case["expected"], abs=1e-9)
    formula = {f"IT{grade}": standard_tolerance_um(inputs["over_mm"], inputs["to_incl_mm"], grade) for grade in (6, 7)}
    assert_agrees(case, formula)


@cases(*(one for letter in "hkmnp" for one in ids_of("6 hub fits", f"iso286-{letter}6")))
def test_shaft_deviations_are_the_table_s(case):
    inputs = case["inputs"]
    for size in (in_the_middle(inputs), inputs["to_incl_mm"]):
        found = zone(inputs["zone"], size)
        assert_agrees(case, {"upper": round(found.upper_mm * 1000, 9), "lower": round(found.lower_mm * 1000, 9)})


@cases(*ids_of("6 hub fits", "fit-H7"))
def test_the_ends_of_a_fit(case):
    inputs = case["inputs"]
    found = specified_fit(inputs["d_mm"], inputs["hole"], inputs["shaft"])
    assert_agrees(case, {"max_clearance": found.most_clearance_mm, "min_clearance": found.least_clearance_mm})
    assert found.kind == "transition"


@cases("fit-actual")
def test_a_measured_pair_is_judged(case):
    inputs = case["inputs"]
    found = judge_pair(specified_fit(60, "H7", "k6"), inputs["bore_mm"], inputs["shaft_mm"])
    assert_agrees(case, found.fit.value_mm)
    assert (found.kind, found.verdict) == ("interference", "in tolerance")
    assert (found.fit.lower_mm, found.fit.upper_mm) == pytest.approx((-0.021, 0.028))


@cases("press-pressure")
def test_pressure_of_one_material_on_a_solid_shaft(case):
    inputs = case["inputs"]
    steel = Ring(inputs["E_MPa"], 0.3)
    found = press_pressure(inputs["delta_diametral_mm"], inputs["d_mm"], inputs["do_mm"], 0, steel, steel)
    assert_agrees(case, found.pressure_mpa)


@cases("press-torque")
def test_torque_of_a_pressed_hub(case):
    inputs = case["inputs"]
    assert_agrees(case, press_torque_nm(inputs["p_MPa"], inputs["d_mm"], inputs["l_mm"], inputs["f"]))


@cases("shrink-heat")
def test_heating_of_a_hub(case):
    inputs = case["inputs"]
    assert_agrees(
        case,
        heating_rise_k(
            inputs["interference_mm"], inputs["assembly_clearance_mm"], inputs["d_mm"], inputs["alpha_per_K"]
        ),
    )


@cases(*ids_of("6 hub fits", "agma9002"))
def test_a_site_s_inch_class_is_only_arithmetic(case):
    # The rows are from memory: they check the arithmetic of a table that a site fills, and are not shipped.
    inputs = case["inputs"]
    over, up_to = float(inputs["shaft_over_in"]), float(inputs["shaft_to_in"])
    row = InchClass("press", over, up_to, tuple(inputs["bore_dev"]), tuple(inputs["shaft_dev"]), "entered by the test")
    found = fit_of_class(up_to, "press", (row,))
    assert_agrees(
        case,
        {
            "min_interference": -found.most_clearance_mm / INCH_MM,
            "max_interference": -found.least_clearance_mm / INCH_MM,
        },
    )


@cases("runout-iec")
def test_run_out_of_a_shaft_end(case):
    inputs = case["inputs"]
    assert_agrees(case, limit_by_diameter_mm(inputs["to_incl_mm"]))
    assert limit_by_diameter_mm(inputs["d_over_mm"]) != case["expected"]


@cases("ra-sine")
def test_roughness_of_a_sine(case):
    # Many samples of whole waves: the definitions' integrals, approached by sums.
    profile = case["inputs"]["amplitude_um"] * np.sin(np.arange(40_000) * 2 * np.pi / 4_000)
    assert_agrees(case, dict(zip(("Ra", "Rq", "Rz"), surface_roughness_um(profile), strict=True)))
