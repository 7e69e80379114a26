"""Placement, set screws and shaft torque through endpoint and page: figures, refusals, nothing that falls over."""

import copy
import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from couplings.calculations.placement import PLACEMENT
from couplings.calculations.set_screws import SET_SCREWS
from couplings.calculations.shaft_torque import SHAFT_TORQUE
from plant.calculations import run
from plant.refusals import Refused
from tests.reference.fastener_cases import CASES

THREE = (PLACEMENT, SET_SCREWS, SHAFT_TORQUE)


def q(value, unit="mm"):
    return {"value": value, "unit": unit}


def refused(calculation, payload):
    with pytest.raises(Refused) as refusal:
        run(calculation.name, payload, "metric")
    return refusal.value.as_dict()


def answered(calculation, payload, system):
    """The answer, or the errors by field."""
    try:
        return run(calculation.name, payload, system), {}
    except Refused as refusal:
        return None, refusal.as_dict()


def places(value, path=()):
    """Every place of a request: where something else can be put."""
    yield path
    if isinstance(value, dict):
        for key, item in value.items():
            yield from places(item, (*path, key))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from places(item, (*path, index))


def with_(payload, path, value):
    made = copy.deepcopy(dict(payload))
    place = made
    for part in path[:-1]:
        place = place[part]
    place[path[-1]] = value
    return made


ODD = st.one_of(
    st.none(), st.booleans(), st.text(max_size=8), st.integers(-3, 10**13), st.floats(), st.just([]), st.just({}),
    st.builds(q, st.one_of(st.floats(), st.floats(-200, 200), st.text(max_size=3)),
              st.sampled_from(["mm", "inch", "thou", "N", "N*m", "lbf*in", "deg", "%", "rpm", "kW", "hp", "x"])),
    st.lists(st.builds(dict, length=st.builds(q, st.floats(0, 500))), max_size=4),
)  # fmt: skip


def finite(value):
    if isinstance(value, dict):
        return all(finite(item) for item in value.values())
    if isinstance(value, list):
        return all(finite(item) for item in value)
    return not isinstance(value, float) or math.isfinite(value)


@pytest.mark.parametrize("calculation", THREE, ids=lambda one: one.name)
@settings(max_examples=60, derandomize=True, deadline=None, database=None)
@given(data=st.data())
def test_any_one_or_two_spoilt_places_give_an_answer_of_finite_numbers_or_errors_beside_fields(calculation, data):
    payload = dict(calculation.example)
    for _ in range(data.draw(st.integers(1, 2))):
        known = [path for path in places(payload) if path]
        payload = with_(payload, data.draw(st.sampled_from(known)), data.draw(ODD))
    answer, errors = answered(calculation, payload, data.draw(st.sampled_from(["metric", "us"])))
    if answer is None:
        assert errors
        assert all(path and message for path, message in errors.items())
    else:
        assert finite(answer)
        json.dumps(answer, allow_nan=False)


@pytest.mark.parametrize("calculation", THREE, ids=lambda one: one.name)
def test_a_misspelt_field_is_an_error_and_so_is_nothing_at_all(calculation):
    assert "hubz" in refused(calculation, {**calculation.example, "hubz": 1})
    assert refused(calculation, {})


def test_units_of_the_request_and_of_the_answer_do_not_change_a_placement():
    metric = run("placement", PLACEMENT.example, "metric")["placements"]
    inches = json.loads(json.dumps(dict(PLACEMENT.example)))

    def in_inches(item):
        if isinstance(item, dict) and item.get("unit") == "mm":
            return {"value": item["value"] / 25.4, "unit": "inch"}
        if isinstance(item, dict):
            return {key: in_inches(part) for key, part in item.items()}
        return [in_inches(part) for part in item] if isinstance(item, list) else item

    us = run("placement", in_inches(inches), "us")["placements"]
    assert [[hub["flange"] for hub in one["hubs"]] for one in us] == [
        [hub["flange"] for hub in one["hubs"]] for one in metric
    ]
    for one, other in zip(metric, us, strict=True):
        assert other["hub_face_gap"]["value"] * 25.4 == pytest.approx(one["hub_face_gap"]["value"], abs=1e-6)


def test_placement_names_the_better_way_and_what_stands_against_the_others():
    answer = run("placement", PLACEMENT.example, "metric")
    best = answer["placements"][0]
    # hub-solve-p: E 46, DBSE 50, both in, bores of 60.
    assert best["hubs"][0]["overhang"]["value"] == CASES["hub-solve-p"]["expected"]
    assert best["every_rule_holds"] is True
    turned = answer["placements"][1]
    assert turned["every_rule_holds"] is False
    # hub-solve-reversed-fail: 47 % with one hub reversed.
    reasons = {one["rule"]: one["reason"] for one in turned["broken"]}
    assert "47\xa0%" in reasons["engagement"]
    assert "overlap by 14.0\xa0mm" in reasons["gap"]
    assert [row["from"] is None for row in answer["dbse_ranges"]] == [False, True, True, True]


@pytest.mark.parametrize(
    "path, value, field",
    [
        (("dbse",), q(-1), "dbse"),
        (("hubs",), [], "hubs"),
        (("hubs", 1, "bore_length"), q(0), "hubs.1.bore_length"),
        (("hubs", 0, "flange"), q(5, "kW"), "hubs.0.flange"),
        (("elements",), [], "elements"),
        (("elements", 0, "length"), None, "elements.0.length"),
        (("float",), q(-1), "float"),
        (("rules",), {"one_diameter": True}, "hubs.0.shaft_diameter"),
        (("rules",), {"engagement_share": q(120, "%")}, "rules.engagement_share"),
        (("rules",), {"engagement_share": q(-5, "%")}, "rules.engagement_share"),
    ],
)
def test_placement_says_which_field_cannot_be(path, value, field):
    assert field in refused(PLACEMENT, with_(PLACEMENT.example, path, value))


def test_a_second_hub_left_out_is_asked_for():
    assert refused(PLACEMENT, {**PLACEMENT.example, "hubs": PLACEMENT.example["hubs"][:1]}).keys() == {
        "hubs.1.bore_length"
    }


def test_set_screws_hold_what_the_case_says():
    answer = run("set-screws", SET_SCREWS.example, "us")
    assert answer["allowed"]["torsional"]["value"] == pytest.approx(CASES["setscrew-two-hold"]["expected"], abs=0.01)
    assert answer["verdict"] == "in tolerance"


def test_without_a_design_factor_the_careful_end_of_the_range_is_taken():
    payload = {name: value for name, value in SET_SCREWS.example.items() if name != "design_factor"}
    answer = run("set-screws", payload, "us")
    assert (answer["design_factor"], answer["verdict"]) == (8.0, "out of tolerance")  # Shigley, p. 390: 4 to 8


def test_no_screw_is_an_answer_and_not_an_error():
    answer = run("set-screws", {"count": 0, "shaft_diameter": q(50)}, "metric")
    assert (answer["verdict"], answer["holding"]) == ("not known", None)
    assert "key" in answer["warnings"][0]


def test_metric_screws_hold_what_their_data_sheet_states_and_proof_torque_bounds_their_seating():
    payload = {"count": 1, "size": "M8", "shaft_diameter": q(40), "load": "static", "property_class": "45H"}
    assert set(refused(SET_SCREWS, payload)) == {"holding"}
    answer = run("set-screws", {**payload, "holding": q(5000, "N"), "seating_torque": q(21, "N*m")}, "metric")
    assert answer["screw"]["mark"] == "stated"
    assert any("20 N·m" in one for one in answer["warnings"])  # ISO 898-5, table 5
    within = run("set-screws", {**payload, "holding": q(5000, "N"), "seating_torque": q(19, "N*m")}, "metric")
    assert not any("must bear" in one for one in within["warnings"])


def test_a_key_carries_the_torque():
    payload = {**SET_SCREWS.example, "torque": q(1e6, "N*m"), "key": True, "thrust": q(100, "N")}
    answer = run("set-screws", payload, "metric")
    assert answer["share_used"] == pytest.approx(100 / answer["allowed"]["axial"]["value"])


@pytest.mark.parametrize(
    "changes, field",
    [
        ({"count": 3}, "count"),
        ({"count": None}, "count"),
        ({"size": None}, "size"),
        ({"size": "M99"}, "holding"),
        ({"angle": None}, "angle"),
        ({"angle": q(190, "deg")}, "angle"),
        ({"shaft_diameter": None}, "shaft_diameter"),
        ({"load": None, "design_factor": None}, "load"),
        ({"design_factor": 0.5}, "design_factor"),
        ({"property_class": "8.8"}, "property_class"),
        ({"seating_torque": q(291, "lbf*in")}, "seating_torque"),
        ({"torque": q(5, "J")}, "torque"),
    ],
)
def test_set_screws_say_which_field_cannot_be(changes, field):
    assert set(refused(SET_SCREWS, {**SET_SCREWS.example, **changes})) == {field}


def test_shaft_torque_gives_the_cases_figures():
    answer = run("shaft-torque", SHAFT_TORQUE.example, "metric")
    case = CASES["design-torque"]["expected"]
    assert answer["design_torque"]["value"] == pytest.approx(case["design"], rel=1e-4)
    assert answer["rating_used"] == pytest.approx(case["utilisation"], rel=1e-4)
    assert answer["factor"]["kind"] == "service factor"


def test_torque_given_instead_of_power_gives_the_power():
    answer = run("shaft-torque", {"torque": q(100, "N*m"), "speed": q(1500, "rpm")}, "metric")
    assert answer["power"]["value"] == pytest.approx(100 * 1500 * 2 * math.pi / 60000)
    assert answer["verdict"] == "not known"


def test_at_rest_there_is_no_margin_rather_than_an_infinite_one():
    payload = {"power": q(0, "kW"), "speed": q(1500, "rpm"), "rated_torque": q(100, "N*m")}
    answer = run("shaft-torque", payload, "metric")
    assert (answer["margin"], answer["rating_used"]) == (None, 0)


def test_a_natural_frequency_near_the_running_speed_is_told():
    case = CASES["torsion-2mass"]
    payload = {
        "power": q(10, "kW"), "speed": q(2200, "rpm"), "line_frequency": q(50, "Hz"),
        "stiffness": q(case["inputs"]["k_Nm_rad"], "N*m/rad"),
        "inertia_1": q(case["inputs"]["J1"], "kg*m2"), "inertia_2": q(case["inputs"]["J2"], "kg*m2"),
    }  # fmt: skip
    answer = run("shaft-torque", payload, "metric")
    assert answer["natural_frequency"]["value"] == pytest.approx(case["expected"], abs=0.01)
    assert ["running speed" in one for one in answer["warnings"]] == [True]
    assert [row["from"] for row in answer["separation"]] == ["running speed", "twice the line frequency"]


@pytest.mark.parametrize(
    "changes, field",
    [
        ({"speed": q(0, "rpm")}, "speed"),
        ({"power": None}, "power"),
        ({"torque": q(5, "N*m")}, "torque"),
        ({"factor": 0.5}, "factor"),
        ({"factor_kind": None}, "factor_kind"),
        ({"factor": None}, "factor"),
        ({"load": "heavy"}, "load"),
        ({"rated_torque": q(0, "N*m")}, "rated_torque"),
        ({"rim_diameter": None}, "rim_diameter"),
        ({"rim": "wood"}, "rim"),
        ({"stiffness": q(5, "N*m/rad")}, "inertia_1"),
        ({"line_frequency": q(50, "Hz")}, "stiffness"),
    ],
)
def test_shaft_torque_says_which_field_cannot_be(changes, field):
    assert field in refused(SHAFT_TORQUE, {**SHAFT_TORQUE.example, **changes})


# Pages

PLACED = {
    "dbse": "50", "float": "3", "hub0.name": "motor", "hub0.bore": "60", "hub0.flange": "8", "hub0.growth": "0,8",
    "hub1.name": "pump", "hub1.bore": "60 mm", "hub1.flange": "8", "element0": "46", "share": "80", "clearance": "1",
}  # fmt: skip
SCREWS = {
    "count": "2", "size": "3/8", "angle": "65", "diameter": "1.5 inch", "load": "dynamic", "factor": "4",
    "torque": "500 lbf*in",
}  # fmt: skip
TORQUE = {
    "power": "30", "speed": "1480", "factor": "1,5", "factor_kind": "service factor", "rated": "320", "rim": "160",
    "rim_kind": "steel", "shaft": "48", "stiffness": "10000", "inertia_1": "0.5", "inertia_2": "0.3", "line": "50",
}  # fmt: skip


@pytest.fixture
def page(client, mechanic):
    client.force_login(mechanic)
    return lambda name, **query: client.get(f"/calculations/{name}/", query)


@pytest.mark.django_db
@pytest.mark.parametrize(
    "name, typed, figures",
    [
        ("placement", PLACED, ("both facing in", "83\xa0%", "Every rule holds", "<svg", "10.0\xa0mm")),
        ("set-screws", SCREWS, ("76\xa0%", "In tolerance".lower(), "74.1\xa0N·m", "from memory")),
        ("shaft-torque", TORQUE, ("193.6\xa0N·m", "91\xa0%", "290.4\xa0N·m", "36.76\xa0Hz", "12.4\xa0m/s")),
    ],
)
def test_a_page_shows_the_figures_and_keeps_what_was_typed(page, name, typed, figures):
    answer = page(name, units="metric", **typed)
    text = answer.content.decode()
    assert answer.status_code == 200
    for figure in figures:
        assert figure in text
    for value in typed.values():
        assert f'value="{value}"' in text


@pytest.mark.django_db
@pytest.mark.parametrize(
    "name, typed, field",
    [
        ("placement", {**PLACED, "hub1.bore": ""}, "hub1-bore"),
        ("placement", {**PLACED, "element0": "12 kW"}, "element0"),
        ("placement", {**PLACED, "one_diameter": "yes"}, "hub0-diameter"),
        ("set-screws", {**SCREWS, "size": "M8"}, "holding"),
        ("set-screws", {**SCREWS, "factor": "four"}, "factor"),
        ("shaft-torque", {**TORQUE, "factor_kind": ""}, "factor_kind"),
        ("shaft-torque", {**TORQUE, "inertia_2": ""}, "inertia_2"),
    ],
)
def test_an_error_stands_beside_its_field(page, name, typed, field):
    answer = page(name, units="metric", **typed)
    assert answer.status_code == 422
    assert f'id="f-{field}_error"' in answer.content.decode()


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["placement", "set-screws", "shaft-torque"])
def test_an_empty_form_is_shown_without_errors(page, name):
    answer = page(name)
    assert answer.status_code == 200
    assert 'class="error"' not in answer.content.decode()


@pytest.mark.django_db
def test_an_element_that_fits_nowhere_is_told_with_its_reasons(page):
    text = page("placement", **{**PLACED, "dbse": "300"}).content.decode()
    assert "No way round holds every rule" in text
    assert "Engaged too little" in text
