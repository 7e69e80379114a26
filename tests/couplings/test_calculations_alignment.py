"""The `alignment` calculation from request to answer: the interface's own example, units, views, planes, verdicts."""

from __future__ import annotations

import copy
import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from couplings.calculations import ALIGNMENT
from plant import units
from plant.calculations import run
from plant.refusals import Refused

CLOCKS = (12, 3, 6, 9)


def q(value, unit="mm"):
    return {"value": value, "unit": unit}


def example():
    return copy.deepcopy(dict(ALIGNMENT.example))


def numbers(vector):
    return vector["vertical"]["value"], vector["horizontal"]["value"]


def in_us_units(request):
    """The same request as a crew with inch tools would send it: thou for what is small, inch for sizes."""
    if isinstance(request, dict):
        if set(request) == {"value", "unit"} and request["unit"] == "mm":
            small = abs(request["value"]) <= 1
            return q(request["value"] / (0.0254 if small else 25.4), "mil" if small else "inch")
        if set(request) == {"value", "unit"} and request["unit"] == "mm/m":
            return q(request["value"], "mil/inch")
        return {key: in_us_units(value) for key, value in request.items()}
    return [in_us_units(item) for item in request] if isinstance(request, list) else request


def test_the_example_of_the_interface_gives_the_figures_printed_there():
    # Printed in the interface description; constructed there, confirmed by hand: rim at +75 gives half of 0.34 in
    # offset once the sag is out, d(75) = -0.17, d(-75) = -0.11, so offset -0.14 and slope -0.06/0.15.
    answer = run("alignment", example(), "metric")
    assert numbers(answer["offset"]) == pytest.approx((-0.14, -0.03), abs=1e-9)
    assert numbers(answer["angularity"]) == pytest.approx((-0.4, 0.0), abs=1e-9)
    a, b = answer["flex_angles"]
    assert (a["plane"], b["plane"]) == ("A", "B")
    assert numbers(a) == pytest.approx((-1.2, -0.214), abs=5e-4)
    assert numbers(b) == pytest.approx((0.8, 0.214), abs=5e-4)
    assert [(move["name"], move["up"]["value"], move["right"]["value"]) for move in answer["moves"]] == [
        ("inboard", pytest.approx(0.24, abs=1e-9), pytest.approx(0.03, abs=1e-9)),
        ("outboard", pytest.approx(0.42, abs=1e-9), pytest.approx(0.03, abs=1e-9)),
    ]
    assert answer["tolerance_used"] == pytest.approx(2.86, abs=0.005)
    assert answer["verdict"] == "out of tolerance"
    assert answer["probability_in_tolerance"] < 1e-6
    assert answer["from_target"]["offset"] == answer["offset"]


def test_standard_uncertainties_follow_the_geometry():
    # One rim of four readings has var(offset at its plane) = u^2/2 (equally spaced full turn, 2/n, times 1); two
    # rims 150 mm apart halve it at the centre and give slope sqrt(2 * u^2/2)/0.15.
    answer = run("alignment", example(), "metric")
    assert answer["offset"]["vertical"]["standard_uncertainty"]["value"] == pytest.approx(0.01 / 2, rel=1e-9)
    assert answer["angularity"]["vertical"]["standard_uncertainty"]["value"] == pytest.approx(0.01 / 0.15, rel=1e-9)
    outboard = answer["moves"][1]["up"]["standard_uncertainty"]["value"]
    assert outboard == pytest.approx(math.hypot(0.005, 0.7 * 0.01 / 0.15), rel=1e-9)


def test_the_same_survey_in_inch_units_is_the_same_alignment():
    metric = run("alignment", example(), "metric")
    from_inches = run("alignment", in_us_units(example()), "metric")
    assert numbers(from_inches["offset"]) == pytest.approx(numbers(metric["offset"]), abs=1e-9)
    assert from_inches["tolerance_used"] == pytest.approx(metric["tolerance_used"], rel=1e-9)
    shown = run("alignment", example(), "us")
    assert shown["offset"]["vertical"]["unit"] == "thou"
    assert shown["offset"]["vertical"]["value"] == pytest.approx(-0.14 / 0.0254, rel=1e-9)
    assert shown["angularity"]["vertical"] == {
        "value": pytest.approx(-0.4),
        "unit": "thou/inch",
        "standard_uncertainty": q(pytest.approx(0.0666667, rel=1e-5), "thou/inch"),
    }
    assert shown["moves"][0]["x"] == q(pytest.approx(250 / 25.4), "inch")


def test_seen_from_the_stationary_machine_only_left_and_right_change_places():
    request = example() | {"viewed_from": "stationary"}
    answer = run("alignment", request, "metric")
    assert numbers(answer["offset"]) == pytest.approx((-0.14, 0.03), abs=1e-9)
    assert answer["moves"][0]["right"]["value"] == pytest.approx(-0.03, abs=1e-9)


def test_twelve_and_six_alone_solve_the_vertical_plane_and_the_other_is_null():
    request = example()
    for one in request["reading_sets"]:
        one["readings"] = [reading for reading in one["readings"] if reading["clock"] in (12, 6)]
    answer = run("alignment", request, "metric")
    assert answer["offset"]["vertical"]["value"] == pytest.approx(-0.14, abs=1e-9)
    assert answer["offset"]["horizontal"] is None
    assert answer["offset"]["magnitude"] is None
    assert answer["moves"][0]["right"] is None
    assert answer["flex_angles"][0]["horizontal"] is None
    assert answer["tolerance_used"] is None
    assert answer["verdict"] == "not known"
    assert answer["reason_code"] == "plane-missing"
    assert "horizontal plane was not measured" in answer["reason"]


def test_a_target_is_taken_off_before_moves_and_verdict():
    target = {"offset": {"vertical": q(-0.14), "horizontal": q(-0.03)}, "angularity": {"vertical": q(-0.4, "mrad")}}
    request = example() | {"target": target}
    answer = run("alignment", request, "metric")
    assert numbers(answer["offset"]) == pytest.approx((-0.14, -0.03), abs=1e-9)
    assert numbers(answer["from_target"]["offset"]) == pytest.approx((0, 0), abs=1e-9)
    assert answer["moves"][1]["up"]["value"] == pytest.approx(0, abs=1e-9)
    assert answer["verdict"] == "in tolerance"


def test_named_parts_of_a_target_add_up():
    whole = example() | {"target": {"offset": {"vertical": q(-0.10)}}}
    parts = example() | {
        "target": {
            "parts": [
                {"name": "growth", "offset": {"vertical": q(-0.12)}},
                {"name": "gear lift", "offset": {"vertical": q(0.02)}},
            ]
        }
    }
    one, other = run("alignment", whole, "metric"), run("alignment", parts, "metric")
    assert numbers(one["from_target"]["offset"]) == pytest.approx((-0.04, -0.03), abs=1e-9)
    assert numbers(other["from_target"]["offset"]) == pytest.approx((-0.04, -0.03), abs=1e-9)


def test_a_closure_that_cannot_be_believed_keeps_the_figures_and_leaves_the_verdict_not_known():
    request = example()
    request["reading_sets"][1]["readings"][2]["value"] = q(-0.16)  # 0.1 mm from where it closes
    answer = run("alignment", request, "metric")
    first, second = answer["quality"]["sets"]
    assert first["closure"]["value"] == pytest.approx(0, abs=1e-9)
    assert second["closure"]["value"] == pytest.approx(0.1, abs=1e-9)
    assert second["closure"]["standard_uncertainty"] == q(pytest.approx(0.02))
    assert any("do not add up" in warning for warning in second["warnings"])
    assert answer["offset"]["vertical"]["value"] is not None
    assert answer["verdict"] == "not known"
    assert answer["reason_code"] == "closure-refused"
    assert answer["probability_in_tolerance"] is None


def test_without_limits_the_verdict_is_not_known_and_says_why():
    request = example()
    del request["limits"]
    answer = run("alignment", request, "metric")
    assert (answer["verdict"], answer["reason_code"]) == ("not known", "no-limits")
    assert answer["limits"] == []


def test_where_no_uncertainty_is_given_the_starter_is_used_and_named():
    request = example()
    del request["reading_sets"][1]["standard_uncertainty"]
    stated, starter = run("alignment", request, "metric")["quality"]["sets"]
    assert stated["standard_uncertainty_from"] == "stated"
    assert starter["standard_uncertainty_from"] == "starter"
    assert starter["standard_uncertainty"] == q(0.01)


def test_an_angle_in_degrees_may_stand_for_the_clock():
    request = example()
    for one in request["reading_sets"]:
        for reading in one["readings"]:
            reading["angle"] = reading.pop("clock") % 12 * 30 - 360
    assert run("alignment", request, "metric")["offset"] == run("alignment", example(), "metric")["offset"]


@pytest.mark.parametrize("decision", ["guarded", "simple"])
def test_what_is_too_close_for_a_guarded_decision_is_judged_by_its_value_in_a_simple_one(decision):
    request = example() | {"decision": decision}
    request["limits"] = {"angularity": q(0.42, "mm/m")}
    answer = run("alignment", request, "metric")
    assert answer["verdict"] == {"guarded": "too close to call", "simple": "in tolerance"}[decision]
    assert 0.05 < answer["probability_in_tolerance"] < 0.95


def test_an_angular_limit_may_be_degrees_or_a_gap_difference_over_a_diameter():
    by_gap, by_degrees = example(), example()
    by_gap["limits"] = {"angularity": {"gap_difference": q(0.1), "over_diameter": q(200)}}
    by_degrees["limits"] = {"angularity": q(math.degrees(math.atan(0.0005)), "deg")}
    for request in (by_gap, by_degrees):
        (line,) = run("alignment", request, "metric")["limits"]
        assert line["limit"] == q(pytest.approx(0.5), "mm/m")


def test_the_gap_is_judged_with_the_rotor_in_its_place():
    request = example()
    request["axial"] = {
        "gaps": [q(3.10), q(3.14), {"clock": 6, "value": q(3.12)}, {"angle": 270, "value": q(3.12)}],
        "rotor_from_place": q(0.5),
        "nominal": q(3.5),
        "float": q(1.2),
        "standard_uncertainty": q(0.02),
    }
    request["limits"] = {"axial": q(0.25)}
    answer = run("alignment", request, "metric")
    assert answer["axial"]["gap_in_place"] == q(pytest.approx(3.62)) | {"standard_uncertainty": q(0.01)}
    assert answer["axial"]["from_nominal"]["value"] == pytest.approx(0.12)
    assert answer["tolerance_used"] == pytest.approx(0.12 / 0.25)
    assert answer["verdict"] == "in tolerance"
    beside = copy.deepcopy(request)
    beside["axial"]["limit"] = beside.pop("limits")["axial"]
    assert run("alignment", beside, "metric")["tolerance_used"] == answer["tolerance_used"]


def test_an_axial_limit_without_a_measured_gap_leaves_the_verdict_not_known():
    request = example()
    request["limits"] = {"offset": q(1.0), "axial": q(0.25)}
    answer = run("alignment", request, "metric")
    assert (answer["verdict"], answer["reason_code"]) == ("not known", "axial-missing")


def test_the_combined_rule_adds_the_ratios():
    request = example()
    request["limits"] = {"offset": q(0.30), "angularity": q(0.5, "mm/m"), "combined": True}
    answer = run("alignment", request, "metric")
    summed = answer["limits"][-1]
    assert (summed["quantity"], summed["limit"], summed["measured"]) == ("combined", None, None)
    assert summed["tolerance_used"] == pytest.approx(math.hypot(0.14, 0.03) / 0.30 + 0.4 / 0.5, rel=1e-9)
    assert answer["verdict"] == "out of tolerance"


def test_direct_takes_what_an_instrument_reported_and_an_answer_sent_back_is_the_same_alignment():
    answer = run("alignment", example(), "metric")
    sent_back = {"method": "direct", "offset": answer["offset"], "angularity": answer["angularity"]}
    again = run("alignment", sent_back, "metric")
    assert numbers(again["offset"]) == pytest.approx(numbers(answer["offset"]), abs=1e-9)
    assert again["offset"]["vertical"]["standard_uncertainty"] == answer["offset"]["vertical"]["standard_uncertainty"]
    assert again["quality"] == {
        "sets": [],
        "starter_uncertainties": [],
        "degrees_of_freedom": 0,
        "scatter": 1.0,
        "warnings": [],
    }
    by_angles = run(
        "alignment",
        {"method": "direct", "flex_angles": answer["flex_angles"], "flex_planes": example()["flex_planes"]},
        "metric",
    )
    assert numbers(by_angles["offset"]) == pytest.approx(numbers(answer["offset"]), abs=1e-9)
    assert numbers(by_angles["angularity"]) == pytest.approx(numbers(answer["angularity"]), abs=1e-9)


def test_direct_without_uncertainty_names_each_starter():
    answer = run(
        "alignment",
        {"method": "direct", "offset": {"vertical": q(0.02)}, "angularity": {"vertical": q(0.1, "mm/m")}},
        "metric",
    )
    assert answer["quality"]["starter_uncertainties"] == [
        "angularity.vertical.standard_uncertainty",
        "offset.vertical.standard_uncertainty",
    ]
    assert answer["offset"]["horizontal"] is None


def test_an_answer_is_plain_json_in_both_systems():
    for system in units.SYSTEMS:
        json.dumps(run("alignment", example(), system), allow_nan=False)


def surveys(method, shafts, constant=0.0):
    """Readings of each method on two shafts, by the sign rules of the interface, plus any constant of the dial."""
    (v, h), (sv, sh) = shafts

    def at(x):
        return v + sv * x / 1000, h + sh * x / 1000

    xa, xb = -70.0, 90.0
    length = (xb - xa) / 1000
    angle_a = tuple(y / length for y in at(xb))
    angle_b = tuple(-y / length for y in at(xa))

    def one(vector, arm, **named):
        readings = []
        for clock in CLOCKS:
            turn = math.radians(clock * 30)
            value = constant + arm * (vector[0] * math.cos(turn) + vector[1] * math.sin(turn))
            readings.append({"clock": clock, "value": q(value)})
        return {"readings": readings, **named}

    slope = (sv, sh)
    rows = {
        "rim-and-face": [
            one(at(40), -1, kind="rim", carried_by="movable", x=q(40)),
            one(slope, 0.06, kind="face", swing_radius=q(60)),
        ],
        "reverse-rim": [
            one(at(75), 1, kind="rim", carried_by="stationary", x=q(75)),
            one(at(-60), -1, kind="rim", carried_by="movable", x=q(-60)),
        ],
        "double-radial": [
            one(at(20), 1, kind="rim", carried_by="stationary", x=q(20)),
            one(at(180), 1, kind="rim", carried_by="stationary", x=q(180)),
        ],
        "face-face": [
            one(angle_a, 0.08, kind="flex-angle", plane="A", swing_radius=q(80)),
            one(angle_b, -0.08, kind="flex-angle", plane="B", swing_radius=q(80), surface="far"),
        ],
        "shaft-to-spool": [
            one(angle_a, 0.1, kind="flex-angle", plane="A", distance=q(100)),
            one(angle_b, 0.12, kind="flex-angle", plane="B", distance=q(120)),
        ],
        "straightedge": [
            one(at(0), 1, kind="step"),
            one(slope, -0.06, kind="gap", swing_radius=q(60)),
        ],
    }[method]
    return {"method": method, "reading_sets": rows, "flex_planes": [q(xa), q(xb)]}


METHODS_READ = ("rim-and-face", "reverse-rim", "double-radial", "face-face", "shaft-to-spool", "straightedge")
small = st.floats(-1, 1, allow_nan=False).map(lambda number: round(number, 6))


@settings(max_examples=50, derandomize=True, deadline=None)
@given(method=st.sampled_from(METHODS_READ), v=small, h=small, sv=small, sh=small, zero=small, view=st.booleans())
def test_shafts_read_by_any_method_are_found_again_whatever_the_zero_the_units_or_the_side(
    method, v, h, sv, sh, zero, view
):
    seen_h, seen_sh = (-h, -sh) if view else (h, sh)  # from the stationary machine right is left
    request = surveys(method, ((v, seen_h), (sv, seen_sh)), zero + 2)
    request["viewed_from"] = "stationary" if view else "movable"
    for payload in (request, in_us_units(request)):
        answer = run("alignment", payload, "metric")
        assert numbers(answer["offset"]) == pytest.approx((v, h), abs=1e-6)
        assert numbers(answer["angularity"]) == pytest.approx((sv, sh), abs=1e-6)


def places(request, path=()):
    """Every place in a request, leaves and branches."""
    found = [path] if path else []
    items = request.items() if isinstance(request, dict) else enumerate(request) if isinstance(request, list) else ()
    for key, value in items:
        found += places(value, (*path, key))
    return found


@settings(max_examples=200, derandomize=True, deadline=None)
@given(
    place=st.sampled_from(places(example())),
    junk=st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8) | st.just([]) | st.just({}),
)
def test_a_request_spoilt_in_any_place_gets_a_finite_answer_or_a_refusal_in_words(place, junk):
    request = example()
    inner = request
    for key in place[:-1]:
        inner = inner[key]
    inner[place[-1]] = junk
    try:
        answer = run("alignment", request, "metric")
    except Refused as refused:
        refusal = refused
    else:
        json.dumps(answer, allow_nan=False)
        return
    assert refusal.errors
    assert all(error.message.endswith((".", "?")) for error in refusal.errors)
