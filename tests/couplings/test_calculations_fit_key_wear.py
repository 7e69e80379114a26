"""Fit, key and wear as the API takes them: the worked request, every refusal by its field, and nothing breaks."""

import copy
import json
import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from couplings.calculations.wear_request import families, starter_codes
from couplings.engineering.wear import codes_of
from plant.calculations import get, run
from plant.refusals import Refused

NAMES = ("fit", "key", "wear")


def changed(name, **parts):
    """The worked request with parts replaced; None takes one away. Dots lead into an object."""
    payload = copy.deepcopy(dict(get(name).example))
    for path, value in parts.items():
        *parents, last = path.split("__")
        place = payload
        for parent in parents:
            place = place[parent]
        if value is None:
            place.pop(last, None)
        else:
            place[last] = value
    return payload


def errors_of(name, payload):
    with pytest.raises(Refused) as caught:
        run(name, payload, "metric")
    return caught.value.as_dict()


def mm(value):
    return {"value": value, "unit": "mm"}


def test_the_worked_fit():
    # 60.005 mm bore on a 60.018 mm shaft, H7/k6 allows -0.021 to +0.028 mm: published limits, fit arithmetic.
    answer = run("fit", get("fit").example, "metric")
    assert answer["specified"]["kind"] == "transition"
    assert answer["specified"]["least_clearance"] == mm(-0.021)
    assert answer["specified"]["most_clearance"] == mm(0.028)
    assert answer["measured"]["clearance"]["value"] == pytest.approx(-0.013)
    assert (answer["measured"]["kind"], answer["verdict"]) == ("interference", "in tolerance")
    (tight,) = answer["interference"]
    # Steel on solid steel: E delta/(2d) (1 - (d/D)^2); its torque pi f p l d^2/2.
    pressure = 207_000 * 0.013 / (2 * 60.018) * (1 - (60.018 / 100) ** 2)
    assert tight["pressure"]["value"] == pytest.approx(pressure, rel=1e-9)
    torque = math.pi * 0.15 * pressure * 70 * 60.018**2 / 2 / 1000
    assert tight["slip_torque"]["value"] == pytest.approx(torque, rel=1e-9)
    assert tight["hub_temperature"]["value"] == pytest.approx(20 + 0.043 / (11.6e-6 * 60.018))
    assert "burns" in answer["cautions"][0]
    assert "fire" in answer["cautions"][0]


def test_a_fit_that_is_not_measured_shows_what_its_classes_allow():
    answer = run("fit", changed("fit", measured=None, shaft="p6", taper={"ratio": 16}), "metric")
    assert (answer["verdict"], answer["measured"]) == ("not known", None)
    assert [one["at"] for one in answer["interference"]] == ["loosest", "tightest"]
    # H7/p6 over 50 up to 80 mm: 0.002 to 0.051 mm of interference, ISO 286-2.
    assert [one["interference"]["value"] for one in answer["interference"]] == pytest.approx([0.002, 0.051])
    assert answer["interference"][1]["advance"]["value"] == pytest.approx(0.816)
    loose = run("fit", changed("fit", measured=None, shaft="g6"), "metric")
    assert loose["interference"] == []
    assert "no interference" in loose["warnings"][0]
    either = run("fit", changed("fit", measured=None), "metric")
    assert "not tight at all" in either["warnings"][0]


def test_deviations_of_a_site_s_own_class_are_taken():
    payload = changed("fit", method="deviations", hole=None, shaft=None, source="own copy")
    thou = {"lower": {"value": -1, "unit": "thou"}, "upper": {"value": -0.5, "unit": "thou"}}
    payload |= {"bore_deviations": thou, "shaft_deviations": {**thou, "lower": thou["upper"], "upper": mm(0)}}
    answer = run("fit", payload, "us")
    assert answer["specified"]["least_clearance"] == {"value": -1.0, "unit": "thou"}
    assert answer["specified"]["most_clearance"] == {"value": 0.0, "unit": "thou"}
    assert (answer["specified"]["bore"]["mark"], answer["specified"]["bore"]["source"]) == ("site", "own copy")


@pytest.mark.parametrize(
    ("parts", "field", "words"),
    [
        ({"method": None}, "method", "iso-286"),
        ({"hole": "F7"}, "hole", "H6"),
        ({"shaft": None}, "shaft", "such as k6"),
        ({"nominal": mm(300)}, "nominal", "over 3 up to 250 mm"),
        ({"measured__bore": mm(600.05)}, "measured.bore", "a tenth away"),
        ({"measured__shaft": None}, "measured.shaft", "missing"),
        ({"measured__bore": 60.005}, "measured.bore", "unit"),
        ({"press__hub_outside": mm(50)}, "press.hub_outside", "larger than its bore"),
        ({"press__shaft_bore": mm(70)}, "press.shaft_bore", "smaller than the shaft"),
        ({"press__friction": None}, "press.friction", "both the length"),
        ({"press__length": None}, "press.length", "both the length"),
        ({"press__friction": 5}, "press.friction", "above zero"),
        ({"press__hub_modulus": {"value": 207, "unit": "MPa"}}, "press.hub_modulus", "right"),
        ({"heating__shaft_temperature": None}, "heating.shaft_temperature", "temperature"),
        ({"heating__expansion": 11.6}, "heating.expansion", "per kelvin"),
        ({"heating__highest": {"value": 5000, "unit": "degC"}}, "heating.highest", "right"),
        ({"taper": {"ratio": 0.0625}}, "taper.ratio", "16 for 1:16"),
        ({"confidence": 95}, "confidence", "0.95"),
        ({"friciton": 0.1}, "friciton", "not known"),
        ({"bore_deviations": {}}, "bore_deviations", "not known"),
    ],
)
def test_a_fit_that_cannot_be_computed_is_refused_beside_its_field(parts, field, words):
    assert words in errors_of("fit", changed("fit", **parts))[field]


def test_a_hub_hotter_than_allowed_is_told():
    answer = run("fit", changed("fit", heating__highest={"value": 60, "unit": "degC"}), "metric")
    assert "hotter than is allowed" in answer["warnings"][0]


def test_the_worked_key():
    # Jiang, Analysis and Design of Machine Elements, Example 4.1 a, pp. 95-96: 40.6 MPa.
    answer = run("key", get("key").example, "metric")
    assert answer["bearing_stress"]["value"] == pytest.approx(40.6, abs=0.06)
    assert answer["verdict"] == "in tolerance"
    assert answer["size"]["printed"] == "22 × 14 mm"
    assert answer["size"]["keyway_in_shaft"] == mm(9.0)
    assert "Shear is not judged" in " ".join(answer["warnings"])
    # Example b: twice the torque, 81.2 MPa, above what is allowed; d: two keys, 54.1 MPa.
    double = {"value": 2000, "unit": "N*m"}
    assert run("key", changed("key", torque=double), "metric")["verdict"] == "out of tolerance"
    two = run("key", changed("key", torque=double, keys=2), "metric")
    assert two["bearing_stress"]["value"] == pytest.approx(54.1, abs=0.06)
    assert two["counted_keys"] == 1.5


def test_an_inch_key_in_inches():
    payload = {"method": "asme-b17-1", "shaft": {"value": 1, "unit": "inch"}}
    answer = run("key", payload, "us")
    assert answer["size"]["printed"] == "1/4 × 1/4 inch"
    # ASME B17.1 Table 2, from memory: 0.859 and 1.114 in.
    assert answer["size"]["over_shaft"]["value"] == pytest.approx(0.859, abs=0.001)
    assert answer["size"]["over_bore"]["value"] == pytest.approx(1.114, abs=0.001)
    assert answer["verdict"] == "not known"
    flat = run("key", payload | {"shape": "rectangular"}, "us")
    assert flat["size"]["printed"] == "1/4 × 3/16 inch"


def test_a_key_judged_by_the_published_range_of_its_material():
    answer = run("key", changed("key", allowed_bearing=None, material="cast iron"), "metric")
    assert answer["verdict"] == "too close to call"
    assert "shock" in answer["reason"]
    assert "Jiang" in answer["limits"][0]["source"]
    assert run("key", changed("key", allowed_bearing=None), "metric")["verdict"] == "not known"
    shear = run("key", changed("key", allowed_shear={"value": 10, "unit": "MPa"}), "metric")
    assert shear["verdict"] == "out of tolerance"


@pytest.mark.parametrize(
    ("parts", "field", "words"),
    [
        ({"method": "woodruff"}, "method", "din-6885"),
        ({"shaft": mm(500)}, "shaft", "over 6 up to 230"),
        ({"width": mm(5)}, "width", "own-size"),
        ({"method": "own-size"}, "width", "missing"),
        ({"length": None}, "length", "needs the key's length"),
        ({"length": mm(20)}, "length", "longer than it is wide"),
        ({"keys": 3}, "keys", "One or two"),
        ({"ends": "pointed"}, "ends", "square"),
        ({"material": "wood"}, "material", "cast iron"),
        ({"torque": {"value": 10, "unit": "J"}}, "torque", "not an energy"),
    ],
)
def test_a_key_that_cannot_be_computed_is_refused_beside_its_field(parts, field, words):
    assert words in errors_of("key", changed("key", **parts))[field]


def test_the_worked_look_at_an_element():
    answer = run("wear", get("wear").example, "metric")
    assert (answer["grade"], answer["raises_flag"], answer["do_not_run"]) == (2, False, False)
    assert answer["observations"][1]["verdict"] == "in tolerance"
    assert (answer["hardness"]["change"], answer["hardness"]["verdict"]) == (7, "in tolerance")
    assert answer["element"]["verdict"] == "too close to call"
    assert "MIL-HDBK-695E" in answer["element"]["conflicts"][0]
    assert [row["max_c"] for row in answer["element"]["service_temperatures"]] == [125, 120]


def test_a_fracture_says_do_not_run_and_defers_to_the_site():
    answer = run("wear", {"family": "disc", "observations": [{"code": "blade-fracture", "grade": 1}]}, "metric")
    assert (answer["grade"], answer["raises_flag"], answer["do_not_run"]) == (4, True, True)
    assert "site's procedure" in answer["words"]


def test_a_measurement_at_its_limit_raises_a_flag():
    chain = {"pitch": {"value": 0.5, "unit": "inch"}, "links": 20, "measured": {"value": 10.3, "unit": "inch"}}
    answer = run("wear", {"family": "chain", "chain": chain}, "metric")
    assert (answer["grade"], answer["raises_flag"]) == (3, True)
    assert answer["chain"]["elongation"]["value"] == pytest.approx(3)
    shorter = {**chain, "measured": {"value": 10.2, "unit": "inch"}}
    quiet = run("wear", {"family": "chain", "chain": shorter}, "metric")
    assert (quiet["grade"], quiet["raises_flag"], quiet["chain"]["verdict"]) == (None, False, "in tolerance")
    fixed = run("wear", {"family": "chain", "chain": {**shorter, "fixed_centres": True}}, "metric")
    assert fixed["grade"] == 3
    hard = changed("wear", hardness__limit=5)
    assert run("wear", hard, "metric")["grade"] == 3
    worn = {"new": mm(20), "now": mm(14.9), "limit": mm(15), "hours": {"value": 6000, "unit": "hour"}}
    assert run("wear", {"family": "gear", "wear": worn}, "metric")["grade"] == 3


def test_lubricant_is_named_with_its_quantity_and_next_fill():
    oil = {"name": "coupling grease", "quantity_g": 120, "every_months": 12, "filled_on": "2025-01-15"}
    oil |= {"on": "2026-02-01", "grease_state": "metal"}
    answer = run("wear", {"family": "gear", "lubricant": oil}, "metric")
    assert (answer["lubricant"]["due_on"], answer["lubricant"]["verdict"]) == ("2026-01-15", "out of tolerance")
    assert answer["grade"] == 3
    assert answer["raised_by"][0]["title"].startswith("Glitters")


@pytest.mark.parametrize(
    ("parts", "field", "words"),
    [
        ({"family": "rope"}, "family", "gear"),
        ({"observations": [{"code": "blade-fracture", "grade": 4}]}, "observations.0.code", "crack"),
        ({"observations": [{"code": "dust", "grade": 7}]}, "observations.0.grade", "0, 1, 2, 3 or 4"),
        ({"observations": [{"code": "dust", "grade": 1.5}]}, "observations.0.grade", "0, 1, 2, 3 or 4"),
        ({"observations": [{"code": "dust"}]}, "observations.0.grade", "Give a grade"),
        ({"observations": [{"code": "dust", "grade": 1, "value": mm(1)}]}, "observations.0.value", "no number"),
        ({"observations": [{"code": "play", "grade": 1, "value": mm(1)}]}, "observations.0.value", "angle"),
        ({"observations": [{"code": "dust", "grade": 1}] * 2}, "observations.1.code", "twice"),
        ({"observations": [{"code": "set", "grade": 1, "limit": mm(1)}]}, "observations.0.value", "missing"),
        ({"observations": [{"code": "set", "value": mm(1), "limit": mm(1e-320)}]}, "observations.0.limit", "greater"),
        ({"hardness__scale": None}, "hardness.scale", "nothing without"),
        ({"hardness__now": [101]}, "hardness.now.0", "0 to 100"),
        ({"hardness__first": "80"}, "hardness.first", "list"),
        ({"element__cured_on": "31.5.2018"}, "element.cured_on", "2026-03-31"),
        ({"element__on": "2017-01-01"}, "element.cured_on", "after"),
        ({"element__policy": "none"}, "element.policy", "iso-2230"),
        ({"chain": {"pitch": mm(12.7), "links": 20, "measured": mm(2.54)}}, "chain.measured", "not near"),
        ({"wear": {"new": mm(2), "now": mm(1), "limit": mm(2)}}, "wear.limit", "differ"),
        ({"lubricant": {"name": "g", "every_months": 6}}, "lubricant.filled_on", "last fill"),
    ],
)
def test_a_look_that_cannot_be_meant_is_refused_beside_its_field(parts, field, words):
    assert words in errors_of("wear", changed("wear", **parts))[field]


def test_nothing_seen_is_refused():
    assert "Nothing was seen" in errors_of("wear", {"family": "gear"})[""]


@pytest.mark.parametrize("family", list(families()))
def test_every_grade_of_every_code_is_answered(family):
    for code in codes_of(family, starter_codes()):
        for grade, words in enumerate(code.grades):
            answer = run("wear", {"family": family, "observations": [{"code": code.code, "grade": grade}]}, "metric")
            counted = 4 if code.fracture and grade else grade
            assert (answer["grade"], answer["do_not_run"]) == (counted, counted == 4)
            assert answer["observations"][0]["words"] == (words or code.grades[4])


JUNK = st.one_of(
    st.none(), st.booleans(), st.integers(-3, 300), st.floats(), st.text(max_size=6), st.lists(st.floats(), max_size=3),
    st.builds(dict, value=st.floats(-1e3, 1e6) | st.just(math.nan), unit=st.sampled_from(
        ["mm", "inch", "thou", "MPa", "degC", "N*m", "hour", "deg", "%"])),
    st.dictionaries(st.sampled_from(["value", "unit", "bore", "x"]), st.floats(), max_size=2),
)  # fmt: skip


def places(value, path=()):
    """Every place of a request, inner ones last."""
    yield path
    if isinstance(value, dict | list):
        for key, item in value.items() if isinstance(value, dict) else enumerate(value):
            yield from places(item, (*path, key))


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=120, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_whatever_is_sent_is_answered_or_refused_with_its_field(name, data):
    payload = copy.deepcopy(dict(get(name).example))
    for _ in range(data.draw(st.integers(1, 3))):
        path = data.draw(st.sampled_from(list(places(payload))[1:]))
        place = payload
        for key in path[:-1]:
            place = place[key]
        place[path[-1]] = data.draw(JUNK)
    try:
        answer = run(name, payload, data.draw(st.sampled_from(["metric", "us"])))
    except Refused as refused:
        answer = refused.as_dict()
    assert answer
    json.dumps(answer, allow_nan=False)
