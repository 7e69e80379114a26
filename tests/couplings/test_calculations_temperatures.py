"""Temperatures in an alignment: corrected with their uncertainty, refused beside the field, typed on the page."""

from __future__ import annotations

import copy
import math

import numpy as np
import pytest

from couplings.calculations import ALIGNMENT, compute_alignment, read_alignment
from couplings.calculations.alignment_temperatures_form import page_field_of
from couplings.calculations.form import page_fields, payload_from_page
from plant.calculations import run
from plant.refusals import Refused


def q(value, unit="mm"):
    return {"value": value, "unit": unit}


def degc(value):
    return q(value, "degC")


IRON_400 = {
    "material": "gray iron",
    "stationary": {"support_height": q(400), "temperature": degc(20), "reference": degc(20)},
    "movable": {"support_height": q(400), "temperature": degc(35), "reference": degc(20)},
}
IN_LINE = {
    "method": "direct",
    "offset": {"vertical": q(0), "horizontal": q(0)},
    "angularity": {"vertical": q(0, "mm/m"), "horizontal": q(0, "mm/m")},
    "feet": [{"name": "inboard", "x": q(250)}, {"name": "outboard", "x": q(700)}],
}


def asked(temperatures=IRON_400, **more):
    return copy.deepcopy(IN_LINE | {"temperatures": temperatures} | more)


def changed(path, value):
    """IRON_400 with one place changed; "-" takes the field away."""
    given = copy.deepcopy(IRON_400)
    *parents, last = path.split(".")
    place = given
    for part in parents:
        place = place[part]
    if value == "-":
        del place[last]
    else:
        place[last] = value
    return given


def test_fifteen_degrees_over_400_mm_of_iron_are_seven_hundredths():
    """The published figure for it is 0.07 mm; supports that are alike lift a machine evenly, so no slope."""
    answer = run("alignment", asked(), "metric")
    correction = answer["correction"]
    assert correction["applied"] is True
    assert correction["added"]["offset"]["value"] == pytest.approx(-0.07, abs=0.005)
    assert correction["added"]["angularity"]["value"] == pytest.approx(0, abs=1e-9)
    # Read in line while warm, so the cold machine lies low and has to come up by it at every foot.
    assert answer["offset"]["vertical"]["value"] == 0
    assert correction["corrected"]["offset"]["vertical"]["value"] == pytest.approx(-0.07, abs=0.005)
    assert answer["from_target"]["offset"]["vertical"]["value"] == pytest.approx(-0.07, abs=0.005)
    assert [move["up"]["value"] for move in answer["moves"]] == pytest.approx([0.07, 0.07], abs=0.005)
    assert correction["coefficients"][0]["name"] == "gray iron"
    assert "temperatures.movable.temperature_standard_uncertainty" in answer["quality"]["starter_uncertainties"]


def test_the_uncertainty_of_coefficient_and_temperatures_is_added_as_drawing_them_shows():
    """Independent route: coefficient and both temperatures drawn at random, the rise of each machine by hand."""
    given = {
        "coefficient": {"value": 11.4, "unit": "1e-6/degC", "standard_uncertainty": 0.5},
        "stationary": {"support_height": q(300), "temperature": degc(50), "reference": degc(20),
                       "temperature_standard_uncertainty": q(3, "delta_degC")},
        "movable": {"support_height": q(400), "temperature": degc(35), "reference": degc(20),
                    "temperature_standard_uncertainty": q(2, "delta_degC")},
    }  # fmt: skip
    before = compute_alignment(read_alignment(IN_LINE))
    after = compute_alignment(read_alignment(asked(given)))
    rng = np.random.default_rng(5)
    alpha = rng.normal(11.4, 0.5, 400_000) * 1e-6
    movable = alpha * 400 * (20 - rng.normal(35, 2, 400_000))
    stationary = alpha * 300 * (20 - rng.normal(50, 3, 400_000))
    drawn = movable - stationary
    assert after.position.mean[0] == pytest.approx(drawn.mean(), abs=1e-4)
    added = after.position.covariance_array - before.position.covariance_array
    assert math.sqrt(added[0, 0]) == pytest.approx(drawn.std(), rel=0.01)
    rest = added.copy()
    rest[0, 0] = 0
    assert np.abs(rest).max() < 1e-12


def test_feet_with_their_own_heights_and_temperatures_give_a_slope():
    """By hand: gray iron, 11.4 millionths; 400 mm fall 15 K at the inner feet and 5 K at the outer ones."""
    feet = [
        {"name": "inboard", "x": q(250), "height": q(400)},
        {"name": "outboard", "x": q(700), "height": q(400), "temperature": degc(25)},
    ]
    movable = {"feet": feet, "temperature": degc(35), "reference": degc(20)}
    added = run("alignment", asked(IRON_400 | {"movable": movable}), "metric")["correction"]["added"]
    inner, outer = -11.4e-6 * 400 * 15, -11.4e-6 * 400 * 5
    slope = (outer - inner) / 450 * 1000
    assert added["angularity"]["value"] == pytest.approx(slope)
    assert added["offset"]["value"] == pytest.approx(inner - slope * 0.25)


def test_feet_that_are_alike_and_one_height_for_all_say_the_same():
    feet = [{"x": q(250), "height": q(400)}, {"x": q(700), "height": q(400)}]
    movable = {"feet": feet, "temperature": degc(35), "reference": degc(20)}
    one = compute_alignment(read_alignment(asked()))
    other = compute_alignment(read_alignment(asked(IRON_400 | {"movable": movable})))
    assert other.position.mean == pytest.approx(one.position.mean)
    assert other.position.covariance_array == pytest.approx(one.position.covariance_array)


def test_both_machines_as_warm_and_as_high_as_each_other_need_no_correction():
    same = IRON_400 | {"stationary": IRON_400["movable"]}
    assert compute_alignment(read_alignment(asked(same))).position.mean == pytest.approx((0, 0, 0, 0))


def test_what_is_the_same_for_both_may_be_said_once():
    once = {"material": "gray iron", "reference": degc(20)} | {
        name: {key: value for key, value in IRON_400[name].items() if key != "reference"}
        for name in ("stationary", "movable")
    }
    assert run("alignment", asked(once), "metric") == run("alignment", asked(), "metric")


def test_the_verdict_is_that_of_the_corrected_position():
    limits = {"offset": q(0.05), "rule": "vector"}
    warm = run("alignment", asked(limits=limits, decision="simple"), "metric")
    as_read = run("alignment", IN_LINE | {"limits": limits, "decision": "simple"}, "metric")
    assert (as_read["verdict"], warm["verdict"]) == ("in tolerance", "out of tolerance")


def test_without_temperatures_nothing_is_corrected_and_nothing_else_is_different():
    example = copy.deepcopy(dict(ALIGNMENT.example))
    plain = run("alignment", example, "metric")
    even = {"coefficient": {"value": 11, "unit": "1e-6/degC", "standard_uncertainty": 0.1}} | {
        name: {
            "support_height": q(0), "temperature": degc(20), "reference": degc(20),
            "temperature_standard_uncertainty": q(0, "delta_degC"),
        }
        for name in ("stationary", "movable")
    }  # fmt: skip
    nothing_added = run("alignment", example | {"temperatures": even}, "metric")
    assert plain.pop("correction") is None
    assert nothing_added.pop("correction")["applied"] is True
    assert nothing_added == plain
    assert compute_alignment(read_alignment(example)).position.mean == pytest.approx((-0.14, -0.03, -0.4, 0))


def test_a_plane_that_was_not_measured_stays_unknown():
    only = IN_LINE | {"offset": {"horizontal": q(0.1)}, "angularity": {"horizontal": q(0, "mm/m")}}
    corrected = run("alignment", only | {"temperatures": IRON_400}, "metric")["correction"]["corrected"]
    assert corrected["offset"]["vertical"] is None
    assert corrected["offset"]["horizontal"]["value"] == pytest.approx(0.1)


def test_it_is_answered_in_the_units_asked_for():
    metric, us = (run("alignment", asked(), system)["correction"] for system in ("metric", "us"))
    assert us["added"]["offset"]["unit"] == "thou"
    assert us["added"]["offset"]["value"] == pytest.approx(metric["added"]["offset"]["value"] / 0.0254)
    assert us["coefficients"][0]["coefficient"] == pytest.approx(11.4 / 1.8)


AT = "temperatures"
HEIGHT = "Give the height from the base to the shaft's centre."
LACKING = "This temperature is missing, here and for the machine."


@pytest.mark.parametrize(
    ("temperatures", "field", "message"),
    [
        (3, AT, "An object with named fields is expected here."),
        (changed("movable", "-"), f"{AT}.movable",
         "Give height and temperature of the movable machine's supports too."),
        (changed("stationary", "-"), f"{AT}.stationary",
         "Give height and temperature of the stationary machine's supports too."),
        (changed("movable.support_height", "-"), f"{AT}.movable.support_height", HEIGHT),
        (changed("movable.support_height", q(-1)), f"{AT}.movable.support_height", "This must not be negative."),
        (changed("movable.support_height", q(400, "m")), f"{AT}.movable.support_height",
         "This is more than 20 m: is the unit right?"),
        (changed("movable.temperature", "-"), f"{AT}.movable.temperature", LACKING),
        (changed("movable.reference", "-"), f"{AT}.movable.reference", LACKING),
        (changed("movable.temperature", degc(-300)), f"{AT}.movable.temperature",
         "A temperature cannot be below absolute zero."),
        (changed("movable.temperatur", degc(30)), f"{AT}.movable.temperatur",
         "This field is not known here. Was “temperature” meant?"),
        (changed("hot", degc(30)), f"{AT}.hot", "This field is not known here."),
        (changed("coefficient", {"value": 11, "unit": "1e-6/degC"}), f"{AT}.coefficient",
         "Give a material of the table, or a coefficient of your own, not both."),
        (changed("movable.coefficient", {"value": float("nan"), "unit": "1e-6/degC"}),
         f"{AT}.movable.coefficient.value", "The value is not a number (NaN)."),
        (changed("movable.feet", [{"x": q(250)}, {"x": q(700)}]), f"{AT}.movable.support_height",
         "Give one height for all supports, or the feet with theirs, not both."),
        (changed("movable.feet", [{"x": q(-250), "height": q(400)}, {"x": q(700), "height": q(400)}]),
         f"{AT}.movable.feet.0.x", "The movable machine's feet lie at positive distances from the coupling's centre."),
        (changed("movable.feet", [{"x": q(250), "height": q(400)}]), f"{AT}.movable.feet",
         "Give two to four foot planes."),
    ],
)  # fmt: skip
def test_what_cannot_be_meant_is_refused_beside_its_field(temperatures, field, message):
    with pytest.raises(Refused) as refused:
        run("alignment", asked(temperatures), "metric")
    assert refused.value.as_dict()[field] == message


def test_without_a_material_each_machine_asks_for_one():
    with pytest.raises(Refused) as refused:
        run("alignment", asked(changed("material", "-")), "metric")
    missing = "Give the material, or a coefficient."
    assert refused.value.as_dict() == {
        f"{AT}.stationary.material": missing,
        f"{AT}.movable.material": missing,
    }


TYPED = {
    "viewed_from": "movable", "offset_v": "0", "offset_h": "0", "slope_v": "0", "slope_h": "0",
    "support_stationary": "20", "support_stationary_height": "400", "support_movable": "95 degF",
    "support_movable_height": "0,4 m", "support_reference": "20", "support_material": "gray iron",
}  # fmt: skip


def test_the_page_makes_the_same_request_of_what_was_typed():
    payload, errors = payload_from_page("direct", TYPED, "metric")
    assert errors == {}
    assert compute_alignment(read_alignment(payload)).position.mean[0] == pytest.approx(-11.4e-6 * 400 * 15)
    assert set(TYPED) <= {field.name for field in page_fields("direct")}


@pytest.mark.parametrize(
    ("left_out", "field"),
    [
        ("support_movable", "support_movable"),
        ("support_movable_height", "support_movable_height"),
        ("support_reference", "support_reference"),
        ("support_material", "support_material"),
    ],
)
def test_what_the_page_lacks_is_asked_for_beside_its_field(left_out, field):
    payload, errors = payload_from_page("direct", TYPED | {left_out: ""}, "metric")
    assert errors == {}
    with pytest.raises(Refused) as refused:
        read_alignment(payload)
    assert {page_field_of(error.field, payload) for error in refused.value.errors} == {field}


def test_a_machine_of_which_nothing_was_typed_is_asked_for_at_its_first_field():
    typed = {name: text for name, text in TYPED.items() if not name.startswith("support_movable")}
    payload, _errors = payload_from_page("direct", typed, "metric")
    with pytest.raises(Refused) as refused:
        read_alignment(payload)
    assert {page_field_of(error.field, payload) for error in refused.value.errors} == {"support_movable"}


def test_a_word_in_place_of_a_temperature_is_refused_beside_its_field():
    assert list(payload_from_page("direct", TYPED | {"support_movable": "warm"}, "metric")[1]) == ["support_movable"]


def test_the_page_shows_what_was_added(client, engineer):
    client.force_login(engineer, backend="plant.backends.PersonBackend")
    page = client.get("/calculations/alignment/", TYPED | {"method": "direct"}).content.decode()
    assert "Correction to the reference temperature" in page
    plain = {name: text for name, text in TYPED.items() if not name.startswith("support")}
    page = client.get("/calculations/alignment/", plain | {"method": "direct"}).content.decode()
    assert "Where the movable shaft lies" in page
    assert "Correction to the reference temperature" not in page
