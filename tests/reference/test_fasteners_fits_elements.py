"""Published cases of elements, wear and lubrication, through the functions that serve the pages and the API."""

from couplings.engineering.ageing import (
    KCAL_KJ,
    ageing_factor,
    life_by_ten_degrees,
    storage_conflicts,
    storage_row,
    temperature_rows,
)
from couplings.engineering.hardness import hardness, within_specification
from couplings.engineering.lubrication import interval_months, months_of_running
from couplings.engineering.tables.elastomers import HANDBOOK, STORAGE_POLICIES
from couplings.engineering.worn import chain_elongation_limit, chain_length_mm, wear_left
from tests.reference.fastener_cases import assert_agrees, cases

TOPICS = {"10 elastomer", "10 wear", "10 lubrication"}
NOT_RUN: dict[str, str] = {}
INCH = 25.4


@cases("chain-3pc")
def test_length_at_which_a_chain_is_replaced(case):
    inputs = case["inputs"]
    assert chain_elongation_limit() == inputs["elongation"]
    assert chain_elongation_limit(fixed_centres=True) == 0.015  # as the case's note has it
    length = chain_length_mm(inputs["pitch_in"] * INCH, inputs["links"], chain_elongation_limit())
    assert_agrees(case, length / INCH)


@cases("chain-200N")
def test_large_sprockets_allow_less(case):
    assert_agrees(case, 100 * chain_elongation_limit(case["inputs"]["N_teeth"]))


@cases("wear-gearclear")
def test_wear_by_subtraction(case):
    # Constructed: the independent route is the same straight line by its two points.
    inputs = case["inputs"]
    found = wear_left(inputs["new_mm"], inputs["now_mm"], inputs["limit_mm"], inputs["hours"])
    assert_agrees(case, {"worn": found.worn_mm, "hours_left": found.hours_left})
    crossing = (inputs["limit_mm"] - inputs["new_mm"]) / (inputs["now_mm"] - inputs["new_mm"]) * inputs["hours"]
    assert_agrees(case, {"worn": found.worn_mm, "hours_left": crossing - inputs["hours"]})


@cases("iso2230-B")
def test_storage_group_of_iso_2230(case):
    for polymer in case["inputs"]["polymers"].split():
        row = storage_row(polymer, STORAGE_POLICIES["iso-2230"])
        assert row.group == case["inputs"]["group"]
        total = row.initial_years + row.extension_years
        assert_agrees(case, {"initial": row.initial_years, "extension": row.extension_years, "total": total})


@cases("milhdbk695-CR", "milhdbk695-SBR")
def test_storage_by_the_handbook_that_disagrees(case):
    for polymer in case["inputs"]["polymers"].split():
        assert_agrees(case, storage_row(polymer, STORAGE_POLICIES["mil-hdbk-695e"]).initial_years)
        told = " ".join(storage_conflicts(polymer, "mil-hdbk-695e"))
        assert "ISO 2230" in told
        assert polymer in told


@cases("arrhenius-nr")
def test_heat_ageing_of_natural_rubber(case):
    inputs = case["inputs"]
    assert_agrees(case, ageing_factor(inputs["Ea_kJ_mol"], inputs["T1_C"], inputs["T2_C"]))


@cases("arrhenius-nbr")
def test_heat_ageing_of_nitrile_rubber(case):
    inputs = case["inputs"]
    assert_agrees(case, ageing_factor(inputs["Ea_kcal_mol"] * KCAL_KJ, inputs["T1_C"], inputs["T2_C"]))


@cases("rule-10C")
def test_ten_degrees_halve_a_life(case):
    inputs = case["inputs"]
    assert_agrees(case, life_by_ten_degrees(inputs["life_yr"], inputs["T_ref_C"], inputs["T_C"]))


@cases("tmax-NR", "tmax-CR", "tmax-NBR", "tmax-HNBR")
def test_highest_service_temperature(case):
    first = temperature_rows(case["inputs"]["polymer"])[0]
    assert first.source == HANDBOOK
    assert_agrees(case, first.max_c)


@cases("trange-HTPE")
def test_service_temperatures_from_memory_are_marked(case):
    (row,) = temperature_rows(case["inputs"]["polymer"])
    assert row.mark == case["source_kind"]
    assert_agrees(case, {"min": row.min_c, "max": row.max_c})


@cases("shorea-spec")
def test_hardness_as_ordered(case):
    inputs = case["inputs"]
    assert_agrees(case, [within_specification(inputs["nominal"], one) for one in inputs["reading"]])


@cases("shorea-median")
def test_hardness_is_the_median(case):
    assert_agrees(case, hardness(case["inputs"]["readings"]).median)


@cases("relube-long_term_grease")
def test_interval_of_long_term_grease(case):
    assert_agrees(case, list(interval_months(case["inputs"]["grease"])))


@cases("relube-hours-a")
def test_running_hours_in_months(case):
    # Constructed: half a year of running without a stop.
    assert_agrees(case, months_of_running(case["inputs"]["hours"]))
