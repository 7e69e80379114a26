"""Typed fields of a form or a visit step: to the request, to its errors, and back beside the field."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from couplings.calculations import (
    ALIGNMENT,
    compute_alignment,
    field_of,
    flat_errors,
    form_fields,
    payload_from_page,
    payload_from_typed,
    read_alignment,
    read_typed,
)
from couplings.engineering.alignment import METHODS
from plant.calculations import all_calculations, get, register
from plant.refusals import Refused

# The survey of the interface description as a mechanic types it: decimal commas, a real minus, some units, some not.
TYPED = {
    "viewed_from": "movable",
    "set0.12": "0",
    "set0.3": "0,12",
    "set0.6": "0,30 mm",
    "set0.9": "0.18",
    "set0.x": "75",
    "set0.sag": "\u22120,04",
    "set1.12": "0",
    "set1.3": "-0,10",
    "set1.6": "-0,26",
    "set1.9": "\u22120,16",
    "set1.x": "-75 mm",
    "set1.sag": "-0.04",
    "set1.u": "",
    "feet0.name": "inboard",
    "feet0.x": "250",
    "feet1.name": "outboard",
    "feet1.x": "0,7 m",
    "flex_a": "-70",
    "flex_b": "70",
    "limit_offset": "0,05",
    "limit_angularity": "0,5",
    "limit_rule": "vector",
}

PROBABILITY = "A probability between 0.5 and 1 is expected, such as 0.95."
NOMINAL = "A limit on the gap needs the nominal gap."


def mean_of(typed, method="reverse-rim", system="metric"):
    return compute_alignment(read_typed(method, typed, system)).solution.misalignment.mean


def test_a_typed_survey_is_the_survey_of_the_interface():
    payload, errors = payload_from_typed("reverse-rim", TYPED, "metric")
    assert errors == {}
    result = compute_alignment(read_alignment(payload))
    assert result.solution.misalignment.mean == pytest.approx((-0.14, -0.03, -0.4, 0.0), abs=1e-9)
    assert [move.up_mm for move in result.moves] == pytest.approx([0.24, 0.42], abs=1e-9)
    assert result.judgement.verdict == "out of tolerance"


def test_a_reading_is_kept_in_the_unit_it_was_typed_in():
    typed = TYPED | {"set0.6": "12 mil", "feet1.x": "27 in"}
    payload, _errors = payload_from_typed("reverse-rim", typed, "metric")
    assert payload["reading_sets"][0]["readings"][2] == {"clock": 6, "value": {"value": 12.0, "unit": "mil"}}
    assert payload["feet"][1]["x"] == {"value": 27.0, "unit": "inch"}


def test_a_bare_number_is_in_the_sites_unit():
    metric, us = (
        payload_from_typed("reverse-rim", TYPED, "metric")[0],
        payload_from_typed("reverse-rim", TYPED, "us")[0],
    )
    assert metric["reading_sets"][0]["readings"][1]["value"] == {"value": 0.12, "unit": "mm"}
    assert us["reading_sets"][0]["readings"][1]["value"] == {"value": 0.12, "unit": "thou"}
    assert us["reading_sets"][0]["x"] == {"value": 75.0, "unit": "inch"}


def test_a_blank_is_absent_and_never_zero():
    typed = TYPED | {"set0.3": "", "set0.9": "  ", "set1.3": "", "set1.9": ""}
    payload, errors = payload_from_typed("reverse-rim", typed, "metric")
    assert errors == {}
    assert [reading["clock"] for reading in payload["reading_sets"][0]["readings"]] == [12, 6]
    assert "standard_uncertainty" not in payload["reading_sets"][1]
    found = compute_alignment(read_alignment(payload)).solution.misalignment
    assert found.has_vertical
    assert not found.has_horizontal


def test_a_rule_without_a_limit_is_only_the_forms_default():
    typed = {name: text for name, text in TYPED.items() if name not in ("limit_offset", "limit_angularity")}
    payload, _errors = payload_from_typed("reverse-rim", typed, "metric")
    assert "limits" not in payload
    assert compute_alignment(read_alignment(payload)).judgement.reason_code == "no-limits"


@pytest.mark.parametrize(
    ("method", "changed", "errors"),
    [
        ("reverse-rim", {"set0.3": "twelve"}, {"set0.3": "“twelve” is not a number."}),
        (
            "reverse-rim",
            {"set0.3": "1,200"},
            {"set0.3": "“1,200” could be 1.200 or 1200: write one of them, without thousands separators."},
        ),
        (
            "reverse-rim",
            {"set1.6": "0.1 deg"},
            {"set1.6": "Expected a misalignment or gap such as mm or thou; deg is a unit of angle."},
        ),
        ("reverse-rim", {"set1.6": "30"}, {"set1.6": "This is more than a dial's travel (25 mm): is the unit right?"}),
        ("reverse-rim", {"set1.x": ""}, {"set1.x": "Say where along the shaft the dial reads."}),
        (
            "reverse-rim",
            {"set1.x": "75"},
            {"set1.x": "One plane is read twice, so nothing gives the slope: read a rim at another plane, or a face."},
        ),
        (
            "reverse-rim",
            {f"set1.{hour}": "" for hour in (12, 3, 6, 9)},
            {"set1.12": "Readings are missing in this set."},
        ),
        (
            "reverse-rim",
            {"feet1.x": "250"},
            {"feet1.x": "Another foot plane has the same distance: each plane is given once."},
        ),
        (
            "reverse-rim",
            {"feet0.x": ""},
            {"feet0.x": "Say how far the foot plane is from the coupling's centre."},
        ),
        ("reverse-rim", {"feet0.x": "near"}, {"feet0.x": "“near” is not a number."}),
        ("reverse-rim", {"gap1": "3", "gap2": "-3"}, {"gap2": "This must not be negative."}),
        ("reverse-rim", {"feet1.name": ""}, {"feet1.name": "Name the foot plane, such as inboard or outboard."}),
        (
            "reverse-rim",
            {"flex_b": ""},
            {"flex_b": "A value is missing."},
        ),
        (
            "reverse-rim",
            {"flex_b": "-70"},
            {"flex_b": "Flex plane B must lie on the movable side of flex plane A."},
        ),
        (
            "reverse-rim",
            {"limit_angularity": "0.5 mil"},
            {
                "limit_angularity": "Expected a slope such as mm/m or thou/inch; mil is a thousandth of an inch, "
                "a length and never an angle."
            },
        ),
        (
            "reverse-rim",
            {"limit_gap_difference": "0.1"},
            {"limit_angularity": "Give the angularity or a gap difference over a diameter, not both."},
        ),
        (
            "reverse-rim",
            {"limit_angularity": "", "limit_gap_difference": "0.1"},
            {"limit_over_diameter": "Say over which diameter."},
        ),
        ("reverse-rim", {"gap_nominal": "3"}, {"gap0": "Gaps are missing."}),
        (
            "reverse-rim",
            {"limit_axial": "0.2", "gap0": "3"},
            {"gap_nominal": "A limit on the gap needs the nominal gap."},
        ),
        ("reverse-rim", {"viewed_from": "left"}, {"viewed_from": "Choose one of: movable, stationary."}),
        ("reverse-rim", {"confidence": "0.95 mm"}, {"confidence": "A probability is expected, such as 0.95 or 95 %."}),
        (
            "reverse-rim",
            {"confidence": "5 %"},
            {"confidence": "A probability between 0.5 and 1 is expected, such as 0.95."},
        ),
        (
            "face-face",
            {"set0.swing_radius": "80", "flex_a": "", "flex_b": ""},
            {
                "set1.swing_radius": (
                    "Give the swing radius of a face dial, or the distance of a rim dial on the spool."
                ),
                "flex_a": "This method reads at the flex planes: say where they lie.",
            },
        ),
        (
            "direct",
            {"offset_v": "0.02", "slope_v": ""},
            {
                "slope_v": "Its vertical and horizontal values are missing.",
            },
        ),
        (
            "direct",
            {"offset_v": "0.02", "slope_v": "0.1", "slope_v_u": "-1"},
            {"slope_v_u": "This must be greater than zero."},
        ),
        (
            "direct",
            {"offset_v_u": "0.01"},
            {"offset_v": "Its uncertainty is given, and the value is missing."},
        ),
        (
            "direct",
            {"angle_a_v": "0.2", "flex_a": "-70", "flex_b": "70"},
            {"angle_b_v": "The other component of this plane is given, so this one is needed too."},
        ),
        (
            "",
            {},
            {"method": "Say by which method the readings were taken."},
        ),
    ],
)
def test_an_error_stands_beside_the_field_it_was_typed_in(method, changed, errors):
    with pytest.raises(Refused) as refusal:
        compute_typed(method, TYPED | changed)
    found = refusal.value.as_dict()
    assert {name: found.get(name) for name in errors} == errors
    if method == "reverse-rim":
        assert found == errors


def compute_typed(method, typed):
    request = read_typed(method, typed, "metric")
    try:
        compute_alignment(request)
    except Refused as refused:
        payload, _errors = payload_from_typed(method, typed, "metric")
        raise Refused(flat_errors(refused, payload)) from None


def test_an_error_of_reading_and_an_error_of_meaning_come_together():
    with pytest.raises(Refused) as refusal:
        read_typed("reverse-rim", TYPED | {"set0.3": "x", "set1.x": ""}, "metric")
    assert set(refusal.value.as_dict()) == {"set0.3", "set1.x"}


def test_reverse_rim_keeps_its_carriers_and_other_methods_take_the_crews():
    payload, _errors = payload_from_typed("reverse-rim", {"set0.carried_by": "movable"}, "metric")
    assert [one["carried_by"] for one in payload["reading_sets"]] == ["stationary", "movable"]
    payload, _errors = payload_from_typed("rim-and-face", {"set0.carried_by": "movable"}, "metric")
    assert [one["carried_by"] for one in payload["reading_sets"]] == ["movable", "stationary"]


def test_a_dial_carried_by_the_movable_shaft_turns_the_offset_over():
    typed = {
        "set0.12": "0",
        "set0.6": "0.20",
        "set0.3": "0.1",
        "set0.9": "0.1",
        "set0.x": "0",
        "set1.12": "0",
        "set1.6": "0",
        "set1.3": "0",
        "set1.9": "0",
        "set1.swing_radius": "60",
    }
    assert mean_of(typed, "rim-and-face")[0] == pytest.approx(-0.1, abs=1e-9)
    assert mean_of(typed | {"set0.carried_by": "movable"}, "rim-and-face")[0] == pytest.approx(0.1, abs=1e-9)


def test_half_readings_count_double():
    whole = mean_of(TYPED | {"set0.sag": "", "set1.sag": ""})
    halved = {
        name: str(float(text.replace(",", ".").replace("\u2212", "-").split()[0]) / 2)
        for name, text in TYPED.items()
        if name.split(".")[-1] in ("12", "3", "6", "9")
    }
    half = mean_of(TYPED | halved | {"set0.sag": "", "set1.sag": "", "set0.half": "half", "set1.half": "half"})
    assert half == pytest.approx(whole, abs=1e-9)


def sample(field):
    if field.kind == "choice":
        return next(value for value, _label in reversed(field.choices) if value)
    if field.kind == "text":
        return "45: 1.5" if field.name.endswith("more") else "inboard"
    return "1.5"


@pytest.mark.parametrize("method", METHODS)
def test_every_field_of_a_form_reaches_the_request_and_its_error_comes_back_to_it(method):
    fields = form_fields(method)
    assert len({field.name for field in fields}) == len(fields)
    for field in fields:
        # A foot's name and the choices about limits count only beside a foot and a limit.
        around = {"feet0.x": "250", "feet1.x": "700", "feet2.x": "900", "feet3.x": "1100", "limit_offset": "1"}
        around.pop(field.name, None)
        without = payload_from_typed(method, around, "metric")
        if field.name.endswith("_u"):
            around[field.name.removesuffix("_u")] = "1"
            without = payload_from_typed(method, around, "metric")
        typed = payload_from_typed(method, around | {field.name: sample(field)}, "metric")
        assert typed != without, field.name
        if field.kind not in ("choice", "text"):
            assert payload_from_typed(method, {field.name: "?"}, "metric")[1] == {field.name: "“?” is not a number."}


@pytest.mark.parametrize("method", METHODS)
def test_an_empty_form_says_what_is_missing_beside_fields_it_has(method):
    names = {field.name for field in form_fields(method)}
    with pytest.raises(Refused) as refusal:
        read_typed(method, {}, "metric")
    assert refusal.value.errors
    assert {error.field for error in refusal.value.errors} <= names


def test_a_page_chooses_nothing_for_the_person_and_a_visit_asks_by_itself():
    typed = TYPED | {"viewed_from": ""}
    assert payload_from_typed("reverse-rim", typed, "metric")[1] == {}
    _payload, errors = payload_from_page("reverse-rim", typed, "metric")
    assert errors == {"viewed_from": "Choose one: from the movable machine, from the stationary machine."}
    assert payload_from_page("reverse-rim", TYPED, "metric") == payload_from_typed("reverse-rim", TYPED, "metric")


def test_an_instrument_may_report_the_angles_at_the_flex_planes():
    typed = {"flex_a": "-70", "flex_b": "70", "angle_a_v": "-1.2", "angle_b_v": "0,8 mil/in", "angle_a_v_u": "0.1"}
    result = compute_alignment(read_typed("direct", typed, "metric"))
    # offset(x_B) = L A and offset(x_A) = -L B, so at the centre L (A - B) / 2 and slope A + B: plane geometry.
    assert result.solution.misalignment.mean[0] == pytest.approx(0.14 * (-1.2 - 0.8) / 2, abs=1e-9)
    assert result.solution.misalignment.mean[2] == pytest.approx(-1.2 + 0.8, abs=1e-9)
    assert result.request.starters == {"flex_angles.1.vertical.standard_uncertainty"}


def test_a_form_for_a_method_that_is_not_there_is_refused():
    with pytest.raises(Refused) as refusal:
        form_fields("laser")
    assert list(refusal.value.as_dict()) == ["method"]


@settings(max_examples=50, derandomize=True, deadline=None)
@given(name=st.sampled_from(sorted(TYPED)), text=st.text(max_size=12), method=st.sampled_from([*METHODS, "", "other"]))
def test_no_typed_text_whatever_gets_more_than_a_request_or_errors_beside_fields(name, text, method):
    try:
        read_typed(method, TYPED | {name: text}, "metric")
    except Refused as refused:
        refusal = refused
    else:
        return
    assert refusal.errors


def test_a_path_that_belongs_to_no_single_field_belongs_to_the_whole():
    assert field_of("reading_sets", {"reading_sets": []}) == ""
    assert field_of("something.else", {}) == ""
    assert field_of("limits", {}) == "limit_offset"


def test_the_registry_knows_the_calculation_once():
    assert get("alignment") is ALIGNMENT
    assert ALIGNMENT in all_calculations()
    register(ALIGNMENT)
    assert all_calculations().count(ALIGNMENT) == 1
    with pytest.raises(LookupError):
        register(replace(ALIGNMENT, title="Another"))
    assert ALIGNMENT.form is not None
    assert dict(ALIGNMENT.form.variants())["reverse-rim"] == "Reverse rim"


def test_a_target_in_two_parts_adds_up():
    parts = {
        "target_name": "growth",
        "target_offset_v": "0.1",
        "target1_name": "gear lift",
        "target1_offset_v": "-4 mil",
    }
    request = read_typed("reverse-rim", TYPED | parts | {"target1_slope_h": "0.2"}, "metric")
    assert request.target == pytest.approx((0.1 - 4 * 0.0254, 0, 0, 0.2))
    assert read_typed("reverse-rim", TYPED | {"target_offset_v": "0.1"}, "metric").target == (0.1, 0, 0, 0)
    with pytest.raises(Refused) as refused:
        read_typed("reverse-rim", TYPED | parts | {"target1_offset_v": "40 mm"}, "metric")
    assert "more than a dial's travel" in refused.value.as_dict()["target1_offset_v"]


def test_a_part_of_the_target_that_is_only_named_asks_for_its_figures():
    with pytest.raises(Refused) as refused:
        read_typed("reverse-rim", TYPED | {"target1_name": "gear lift"}, "metric")
    assert set(refused.value.as_dict()) <= {field.name for field in form_fields("reverse-rim")}
