"""Age, hardness and lubricant of elements."""

import math
from datetime import date

import pytest

from couplings.engineering.ageing import (
    AgeingError,
    ageing_factor,
    element_age,
    life_by_ten_degrees,
    storage_conflicts,
    temperature_rows,
    years_later,
)
from couplings.engineering.hardness import HardnessError, hardness, hardness_change, within_specification
from couplings.engineering.lubrication import (
    GREASE_STATES,
    Lubricant,
    LubricationError,
    grease_state,
    interval_months,
    lubrication_due,
    months_of_running,
)
from couplings.engineering.tables.elastomers import STORAGE_POLICIES, StorageRow

CURED = date(2015, 3, 31)


def test_an_element_passes_through_both_periods_of_iso_2230():
    on = {"in tolerance": date(2022, 3, 31), "too close to call": date(2025, 3, 31)}
    on |= {"out of tolerance": date(2025, 4, 1)}
    for verdict, day in on.items():
        assert element_age("NBR", CURED, day).verdict == verdict
    assert element_age("NBR", CURED, date(2022, 4, 1)).verdict == "too close to call"
    found = element_age("nbr", CURED, date(2022, 4, 1))
    assert (found.initial_until, found.extended_until) == (date(2022, 3, 31), date(2025, 3, 31))
    assert "inspection" in found.reason


def test_published_sources_that_disagree_are_told_and_never_averaged():
    iso = element_age("CR", CURED, date(2026, 1, 1))
    handbook = element_age("CR", CURED, date(2026, 1, 1), "mil-hdbk-695e")
    assert (iso.verdict, handbook.verdict) == ("out of tolerance", "in tolerance")
    assert "MIL-HDBK-695E" in iso.conflicts[0]
    assert "15 years" in iso.conflicts[0]
    assert "7 years and 3 more" in handbook.conflicts[0]
    assert storage_conflicts("ACM", "iso-2230") == ()
    assert "no limit" in storage_conflicts("EPDM", "iso-2230")[0]
    assert element_age("FKM", CURED, date(2100, 1, 1), "mil-hdbk-695e").verdict == "in tolerance"


def test_a_site_s_own_policy_stands_beside_the_published_ones():
    policies = {**STORAGE_POLICIES, "own": (StorageRow("CR", 4.5, 0, source="the site"),)}
    found = element_age("CR", CURED, date(2019, 10, 1), "own", policies)
    assert found.verdict == "out of tolerance"
    assert found.initial_until == date(2019, 9, 30)
    assert len(found.conflicts) == 2


def test_a_polymer_without_a_row_is_not_known():
    found = element_age("XYZ", CURED, date(2020, 1, 1))
    assert (found.verdict, found.initial_until) == ("not known", None)


def test_years_end_with_the_calendar():
    assert years_later(date(2024, 2, 29), 1) == date(2025, 2, 28)
    assert years_later(date(2024, 11, 30), 0.25) == date(2025, 2, 28)
    assert years_later(date(2024, 1, 1), 1e6) == date.max


def test_the_rule_of_ten_degrees_is_arrhenius_with_51_kj_per_mol():
    # From 20 to 30 degC, as the rule's source says; natural rubber (90 kJ/mol) ages faster than the rule.
    assert ageing_factor(51.2, 20, 30) == pytest.approx(2, rel=0.01)
    assert ageing_factor(90, 20, 30) > 8 / life_by_ten_degrees(8, 20, 30)
    assert ageing_factor(90, 30, 20) == pytest.approx(1 / ageing_factor(90, 20, 30))


def test_service_temperatures_keep_their_sources_apart():
    assert [row.max_c for row in temperature_rows("nr")] == [100, 80]
    assert temperature_rows("XYZ") == ()


def test_hardness_is_compared_with_the_element_s_own_first_reading():
    first, now = hardness([80, 81, 79, 80, 83]), hardness([88, 90, 86, 87, 89])
    change = hardness_change(first, now, 10)
    assert (change.points, change.verdict, change.share) == (8, "in tolerance", 0.8)
    assert "harder" in change.reason
    softer = hardness_change(now, hardness([70] * 5), 10)
    assert (softer.points, softer.verdict) == (-18, "out of tolerance")
    assert "softer" in softer.reason
    assert hardness_change(first, now).verdict == "not known"
    assert "3 of 5 readings" in hardness([80, 81, 82]).warnings[0]
    assert "another scale" in hardness([94] * 5).warnings[0]


def test_scales_never_mix():
    with pytest.raises(HardnessError, match="cannot be compared") as caught:
        hardness_change(hardness([80] * 5, "A"), hardness([40] * 5, "D"), 10)
    assert caught.value.field == "scale"


def test_lubricant_is_due_by_calendar_or_hours_whichever_comes_first():
    grease = Lubricant("coupling grease", 120, 12, 6000)
    filled = date(2025, 1, 15)
    assert lubrication_due(grease, filled, date(2025, 6, 1), 3000).verdict == "in tolerance"
    by_hours = lubrication_due(grease, filled, date(2025, 6, 1), 6001)
    assert (by_hours.verdict, by_hours.hours_left, by_hours.due_on) == ("out of tolerance", -1, date(2026, 1, 15))
    assert "running hours" in by_hours.reason
    assert "calendar" in lubrication_due(grease, filled, date(2026, 1, 16), 10).reason
    assert lubrication_due(grease, filled, date(2025, 6, 1)).verdict == "not known"
    assert lubrication_due(Lubricant("oil"), filled, date(2025, 6, 1)).verdict == "not known"
    assert interval_months("coupling_grease") == (6, 12)


def test_grease_states_are_graded():
    assert {state.grade for state in GREASE_STATES} == {0, 1, 2, 3, 4}
    assert grease_state("metal").grade == 3


@pytest.mark.parametrize(
    ("call", "error", "field"),
    [
        (lambda: element_age("CR", CURED, date(2014, 1, 1)), AgeingError, "cured_on"),
        (lambda: element_age("CR", CURED, CURED, "none"), AgeingError, "policy"),
        (lambda: years_later(CURED, -1), AgeingError, "years"),
        (lambda: ageing_factor(0, 20, 30), AgeingError, "ea"),
        (lambda: ageing_factor(90, 20, -300), AgeingError, "to"),
        (lambda: life_by_ten_degrees(math.nan, 20, 30), AgeingError, "life"),
        (lambda: life_by_ten_degrees(0, 20, 30), AgeingError, "life"),
        (lambda: hardness([]), HardnessError, "readings"),
        (lambda: hardness([50, 101]), HardnessError, "readings.1"),
        (lambda: hardness([50], "Z"), HardnessError, "scale"),
        (lambda: hardness_change(hardness([50]), hardness([50]), 0), HardnessError, "limit"),
        (lambda: within_specification(80, math.inf), HardnessError, "reading"),
        (lambda: interval_months("butter"), LubricationError, "grease"),
        (lambda: grease_state("butter"), LubricationError, "grease_state"),
        (lambda: months_of_running(-1), LubricationError, "hours"),
        (lambda: lubrication_due(Lubricant("g"), date(2025, 1, 2), date(2025, 1, 1)), LubricationError, "filled_on"),
        (lambda: lubrication_due(Lubricant("g", 1, 0), CURED, CURED), LubricationError, "every_months"),
        (lambda: lubrication_due(Lubricant("g", 1, 700), CURED, CURED), LubricationError, "every_months"),
        (lambda: lubrication_due(Lubricant("g", 1, 1), CURED, CURED, -1), LubricationError, "hours_since"),
    ],
)
def test_what_cannot_be_is_refused_by_its_field(call, error, field):
    with pytest.raises(error) as caught:
        call()
    assert caught.value.field == field
