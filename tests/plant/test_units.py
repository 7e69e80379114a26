"""Quantities at the door: any unit of the trade in, the site's own out, a sentence for what cannot be meant."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant import units
from plant.units import UnitError, parse, quantity, written

NBSP = "\u00a0"


@pytest.mark.parametrize(
    ("value", "unit", "kind", "expected"),
    [
        # International yard and pound agreement 1959: 1 inch = 25.4 mm, 1 lb = 0.45359237 kg, exact;
        # ISO 80000-3 and -4: standard gravity 9.80665 m/s2. The products below are from those figures alone.
        (1, "mil", "gap", 0.0254),
        (1, "thou", "gap", 0.0254),
        (1, "inch", "size", 25.4),
        (1, "in", "size", 25.4),
        (1, "ft", "size", 304.8),
        (50, "um", "gap", 0.05),
        (2, "cm", "size", 20.0),
        (0.14, "m", "size", 140.0),
        (1, "lbf", "force", 0.45359237 * 9.80665),
        (1, "lbf*ft", "torque", 0.45359237 * 9.80665 * 0.3048),
        (1, "ft*lb", "torque", 0.45359237 * 9.80665 * 0.3048),
        (1, "ftlb", "torque", 0.45359237 * 9.80665 * 0.3048),
        (12, "lbf*in", "screw-torque", 0.45359237 * 9.80665 * 0.3048),
        (35, "N*m", "torque", 35.0),
        (1, "psi", "pressure", 0.45359237 * 9.80665 / 25.4**2),
        (1, "mm/m", "slope", 1.0),
        (1, "mrad", "slope", 1.0),
        (1, "mil/inch", "slope", 1.0),
        (1, "thou/inch", "slope", 1.0),
        (0.5, "deg", "slope", 1000 * math.tan(math.pi / 360)),
        (180, "deg", "angle", 180.0),
        (1000, "mm/m", "angle", 45.0),
        (212, "degF", "temperature", 100.0),
        (20, "degC", "temperature", 20.0),
        (18, "delta_degF", "temperature-difference", 10.0),
        (10, "delta_degC", "temperature-difference", 10.0),
        (1785, "rpm", "speed", 1785.0),
        # Mechanical horsepower: 550 lbf*ft/s.
        (1, "hp", "power", 550 * 0.45359237 * 9.80665 * 0.3048 / 1000),
        (55, "kW", "power", 55.0),
        (3, "MPa", "pressure", 3.0),
        (36, "hour", "days", 1.5),
        (2, "day", "hours", 48.0),
        (80, "%", "share", 0.8),
    ],
)
def test_a_program_may_use_any_unit_of_the_trade(value, unit, kind, expected):
    assert parse({"value": value, "unit": unit}, kind) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("typed", "kind", "system", "expected"),
    [
        ("2 mil", "gap", "metric", 0.0508),
        ("0,05 mm", "gap", "us", 0.05),
        ("0.05", "gap", "metric", 0.05),
        ("2", "gap", "us", 0.0508),
        ("\u22120,12", "gap", "metric", -0.12),
        ("\u2013 0.12 mm", "gap", "metric", -0.12),
        ("+.5", "gap", "metric", 0.5),
        ("  75 Mm ", "size", "metric", 75.0),
        ("3 in", "size", "metric", 76.2),
        ('1.250"', "size", "metric", 31.75),
        ("1 785", "speed", "us", 1785.0),
        (f"1{NBSP}785 rpm", "speed", "metric", 1785.0),
        ("1e-1", "gap", "metric", 0.1),
        ("35 Nm", "torque", "us", 35.0),
        ("35 N·m", "torque", "us", 35.0),
        ("10 ft-lb", "torque", "metric", 13.558179483314004),
        ("10 in-lb", "screw-torque", "metric", 1.1298482902761670),
        ("50 °C", "temperature", "us", 50.0),
        ("68", "temperature", "us", 20.0),
        ("18 °F", "temperature-difference", "metric", 10.0),
        ("50 µm", "gap", "metric", 0.05),
        ("0.5°", "slope", "metric", 1000 * math.tan(math.pi / 360)),
        ("80", "share", "metric", 0.8),
        ("80 %", "share", "us", 0.8),
        (0.05, "gap", "metric", 0.05),
    ],
)
def test_a_person_may_type_it_as_the_trade_writes_it(typed, kind, system, expected):
    assert parse(typed, kind, system) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("given_value", "kind", "system", "message"),
    [
        (None, "gap", None, "A value is missing."),
        ("", "gap", "metric", "A value is missing."),
        ("   ", "gap", "metric", "A value is missing."),
        ({}, "gap", None, "A value is missing."),
        ({"value": None, "unit": "mm"}, "gap", None, "A value is missing."),
        ({"value": "", "unit": "mm"}, "gap", None, "A value is missing."),
        (True, "gap", "metric", "True and false are not a number."),
        ({"value": True, "unit": "mm"}, "gap", None, "The value must be a number."),
        ({"value": "0.05", "unit": "mm"}, "gap", None, "The value must be a number."),
        ({"value": [1], "unit": "mm"}, "gap", None, "The value must be a number."),
        ({"value": math.nan, "unit": "mm"}, "gap", None, "The value is not a number (NaN)."),
        ({"value": math.inf, "unit": "mm"}, "gap", None, "The value is infinite."),
        ({"value": -math.inf, "unit": "mm"}, "gap", None, "The value is infinite."),
        ({"value": 10**400, "unit": "mm"}, "gap", None, "The value is larger than anything that can be meant."),
        ({"value": 2e12, "unit": "mm"}, "gap", None, "The value is larger than anything that can be meant."),
        ("1e999", "gap", "metric", "The value is infinite."),
        ("nan", "gap", "metric", "“nan” is not a number."),
        ("infinity", "gap", "metric", "“infinity” is not a number."),
        ("mm", "gap", "metric", "“mm” is not a number."),
        ("-", "gap", "metric", "“-” is not a number."),
        ({"value": 1}, "gap", None, "A number needs its unit: expected a misalignment or gap such as mm or thou."),
        (
            {"value": 1, "unit": ""},
            "torque",
            None,
            "A number needs its unit: expected a torque such as N*m or lbf*ft.",
        ),
        (
            {"value": 1, "unit": 3},
            "gap",
            None,
            "The unit must be text: expected a misalignment or gap such as mm or thou.",
        ),
        (0.05, "gap", None, 'A number needs its unit: write {"value": 0.05, "unit": "mm"}.'),
        ("0.05 mm", "gap", None, 'A number needs its unit: write {"value": 0.05, "unit": "mm"}.'),
        ([0.05], "gap", "metric", "This is not a quantity."),
        ({"value": 1, "unit": "mm", "u": 2}, "gap", None, "A quantity has value and unit; u is not known."),
        (
            {"value": 1, "unit": "mm"},
            "torque",
            None,
            "Expected a torque such as N*m or lbf*ft; mm is a unit of length.",
        ),
        (
            {"value": 40, "unit": "J"},
            "torque",
            None,
            "Expected a torque such as N*m or lbf*ft; J is a unit of energy, and a torque is not an energy.",
        ),
        (
            "40 kJ",
            "torque",
            "metric",
            "Expected a torque such as N*m or lbf*ft; kJ is a unit of energy, and a torque is not an energy.",
        ),
        (
            {"value": 40, "unit": "Wh"},
            "screw-torque",
            None,
            "Expected a torque such as N*m or lbf*in; Wh is a unit of energy, and a torque is not an energy.",
        ),
        (
            {"value": 1, "unit": "mil"},
            "slope",
            None,
            "Expected a slope such as mm/m or thou/inch; mil is a thousandth of an inch, a length and never an angle.",
        ),
        (
            {"value": 1, "unit": "mil"},
            "angle",
            None,
            "Expected an angle such as deg or mrad; mil is a thousandth of an inch, a length and never an angle.",
        ),
        (
            {"value": 1, "unit": "deg"},
            "gap",
            None,
            "Expected a misalignment or gap such as mm or thou; deg is a unit of angle.",
        ),
        (
            {"value": 1, "unit": "degC"},
            "temperature-difference",
            None,
            "Expected a temperature difference such as delta_degC or delta_degF; degC is a unit of temperature.",
        ),
        (
            {"value": 1, "unit": "furlong"},
            "gap",
            None,
            "The unit “furlong” is not known: expected a misalignment or gap such as mm or thou.",
        ),
        (
            {"value": 1, "unit": "MM"},
            "gap",
            None,
            "The unit “MM” is not known: expected a misalignment or gap such as mm or thou.",
        ),
        (
            "0.05 0.06",
            "gap",
            "metric",
            "“0.05 0.06” is not one clear number: leave out thousands separators, use one decimal mark.",
        ),
        (
            "1,250",
            "gap",
            "us",
            "“1,250” could be 1.250 or 1250: write one of them, without thousands separators.",
        ),
        (
            "1,250.5",
            "gap",
            "us",
            "“1,250.5” is not one clear number: leave out thousands separators, use one decimal mark.",
        ),
        (
            "1'250",
            "gap",
            "us",
            "“1'250” is not one clear number: leave out thousands separators, use one decimal mark.",
        ),
        ("1/2 in", "size", "us", "Write “1/2 in” as a decimal number, 0.5 for a half."),
        ("9" * 61, "size", "us", "This is too long to be a number with its unit."),
        ({"value": 90, "unit": "deg"}, "slope", None, "A slope is an angle of less than 90 degrees."),
        ({"value": -300, "unit": "degC"}, "temperature", None, "A temperature cannot be below absolute zero."),
    ],
)
def test_what_cannot_be_meant_is_refused_with_a_sentence(given_value, kind, system, message):
    with pytest.raises(UnitError) as refusal:
        parse(given_value, kind, system)
    assert str(refusal.value) == message


def test_a_reading_can_be_kept_as_it_was_typed():
    assert units.as_given("2 mil", "gap", "metric") == {"value": 2.0, "unit": "mil"}
    assert units.as_given("2", "gap", "us") == {"value": 2.0, "unit": "thou"}
    with pytest.raises(UnitError, match="A value is missing"):
        units.as_given("", "gap", "us")


def test_a_kind_or_system_that_does_not_exist_is_our_own_mistake_and_not_the_persons():
    with pytest.raises(LookupError):
        parse("1", "weight", "metric")
    with pytest.raises(LookupError):
        written(1.0, "gap", "imperial")


@pytest.mark.parametrize(
    ("base", "kind", "system", "signed", "expected"),
    [
        (0.05, "gap", "metric", False, f"0.05{NBSP}mm"),
        (0.0508, "gap", "us", False, f"2.0{NBSP}thou"),
        (-0.14, "gap", "metric", False, f"\u22120.14{NBSP}mm"),
        (0.14, "gap", "metric", True, f"+0.14{NBSP}mm"),
        (-0.001, "gap", "metric", True, f"0.00{NBSP}mm"),
        (0.0, "gap", "metric", True, f"0.00{NBSP}mm"),
        (140.0, "size", "us", False, f"5.512{NBSP}inch"),
        (-0.4, "slope", "metric", False, f"\u22120.40{NBSP}mm/m"),
        (0.5, "slope", "us", False, f"0.50{NBSP}thou/inch"),
        (35.0, "torque", "metric", False, f"35.0{NBSP}N·m"),
        (35.0, "torque", "us", False, f"25.8{NBSP}lbf·ft"),
        (20.0, "temperature", "us", False, f"68.0{NBSP}°F"),
        (10.0, "temperature-difference", "us", False, f"18.0{NBSP}°F"),
        (1785.0, "speed", "us", False, f"1785{NBSP}rpm"),
        (0.8, "share", "metric", False, f"80{NBSP}%"),
        (0.5, "angle", "metric", False, "0.50°"),
        (None, "gap", "metric", False, "not known"),
        (math.nan, "gap", "metric", False, "not known"),
    ],
)
def test_a_number_is_printed_with_fixed_decimals_a_real_minus_and_a_space_that_holds(
    base, kind, system, signed, expected
):
    assert written(base, kind, system, signed) == expected


def test_an_answer_to_a_program_has_no_binary_dust_and_no_negative_zero():
    assert quantity(3 * 0.0254, "gap", "us") == {"value": 3.0, "unit": "thou"}
    assert str(quantity(-0.0, "gap", "metric")) == "{'value': 0.0, 'unit': 'mm'}"
    assert quantity(1.3e-16, "slope", "metric") == {"value": 0.0, "unit": "mm/m"}
    assert quantity(None, "gap", "metric") is None
    assert quantity(math.nan, "gap", "metric") is None


def test_every_kind_says_its_unit_in_both_systems_and_takes_it_back():
    for system in units.SYSTEMS:
        shown = units.display_units(system)
        assert [kind for kind, _unit, _label in shown] == list(units.KINDS)
        for kind, unit, label in shown:
            assert unit in units.units_for(kind)
            assert unit == units.unit_of(kind, system)
            assert label == units.label_of(kind, system)


def test_a_file_may_name_the_unit_in_its_header():
    assert units.in_unit(25.4, "gap", "inch") == pytest.approx(1.0, rel=1e-12)
    assert units.in_unit(1000.0, "slope", "deg") == pytest.approx(45.0, rel=1e-12)
    assert units.in_unit(45.0, "angle", "mm/m") == pytest.approx(1000.0, rel=1e-12)
    with pytest.raises(UnitError, match="kW is a unit of power"):
        units.in_unit(25.4, "gap", "kW")


@settings(max_examples=50, derandomize=True, deadline=None)
@given(
    value=st.floats(-1e5, 1e5, allow_nan=False),
    kind=st.sampled_from(sorted(units.KINDS)),
    system=st.sampled_from(units.SYSTEMS),
)
def test_what_goes_out_comes_back_the_same(value, kind, system):
    if kind == "temperature":
        value = max(value, -273.0)
    there = quantity(value, kind, system)
    assert parse(there, kind) == pytest.approx(value, rel=1e-11, abs=1e-9)


@settings(max_examples=50, derandomize=True, deadline=None)
@given(
    hundredths=st.integers(-2500, 2500),
    mark=st.sampled_from([".", ","]),
    minus=st.sampled_from(["-", "\u2212", "\u2013"]),
    space=st.sampled_from(["", " ", NBSP, "\u202f"]),
)
def test_decimal_mark_minus_and_space_do_not_change_a_reading(hundredths, mark, minus, space):
    whole, part = divmod(abs(hundredths), 100)
    typed = f"{minus if hundredths < 0 else ''}{whole}{mark}{part:02d}{space}mm"
    assert parse(typed, "gap", "us") == pytest.approx(hundredths / 100, abs=1e-12)


@settings(max_examples=50, derandomize=True, deadline=None)
@given(text=st.text(max_size=80), kind=st.sampled_from(sorted(units.KINDS)))
def test_no_text_whatever_does_more_than_give_a_finite_number_or_a_unit_error(text, kind):
    try:
        value = parse(text, kind, "metric")
    except UnitError:
        return
    assert math.isfinite(value)
