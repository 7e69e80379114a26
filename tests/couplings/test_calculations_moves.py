"""The `moves` calculation over its request: what it takes, answers, says and refuses."""

import copy
import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from couplings.calculations.moves import MOVES
from couplings.calculations.moves_form import WISHES
from couplings.engineering.trains import OBJECTIVES
from plant.calculations import run
from plant.refusals import Refused


def q(value, unit="mm"):
    return {"value": value, "unit": unit}


def spoilt(path, value):
    """The printed example with one place changed; "-" takes the field away."""
    request = copy.deepcopy(dict(MOVES.example))
    *parents, last = [int(part) if part.isdigit() else part for part in path.split(".")]
    place = request
    for part in parents:
        place = place.setdefault(part, {}) if isinstance(place, dict) else place[part]
    if value == "-":
        del place[last]
    else:
        place[last] = value
    return request


def exactly(objective):
    request = copy.deepcopy(dict(MOVES.example)) | {"objective": objective}
    for coupling in request["couplings"]:
        del coupling["limits"]
    return request


@pytest.mark.parametrize("objective", ["least-total", "fewest-feet"])
def test_the_gear_of_the_example_moves_right_by_what_it_stands_left(objective):
    answer = run("moves", exactly(objective), "metric")
    rights = [foot["right"]["value"] for machine in answer["machines"] for foot in machine["feet"]]
    assert rights == pytest.approx([0, 0, 0.2, 0.2, 0, 0], abs=1e-9)
    assert answer["feasible"] is True
    assert answer["feet_moved"] == 2
    assert answer["reason"] == (
        "Moves of 0.40\u00a0mm in all, 0.20\u00a0mm at most, at 2 of 6 foot planes, "
        "bring every coupling exactly to its target."
    )


def test_the_driven_side_measured_from_behind_gives_the_record():
    """A crew behind the compressor sees the gear's neighbour on its own right: left on the record."""
    turned = spoilt("couplings.1.stationary", "driver")
    turned["couplings"][1]["offset"]["horizontal"] = q(-0.2)
    assert run("moves", turned, "metric") == run("moves", dict(MOVES.example), "metric")
    turned["couplings"][1]["offset"] = {"vertical": q(0.3), "horizontal": q(0)}
    before = run("moves", turned, "metric")["couplings"][1]["before"]["offset"]
    assert before["vertical"]["value"] == -0.3  # the movable compressor stands high: the driver side stands low


def test_answers_come_in_the_units_asked_for():
    metric, us = (run("moves", exactly("least-total"), system) for system in ("metric", "us"))
    assert us["total"]["unit"] == "thou"
    assert us["total"]["value"] * 0.0254 == pytest.approx(metric["total"]["value"])
    assert us["couplings"][0]["before"]["angularity"]["vertical"]["unit"] == "thou/inch"


def test_what_stands_in_the_way_is_said_by_foot():
    request = exactly("least-total")
    for place in (0, 2):
        request["machines"][place]["fixed"] = True
    request["machines"][1]["feet"][0]["at_most"] = {"right": q(0.15)}
    answer = run("moves", request, "metric")
    assert answer["feasible"] is False
    assert answer["value"] is answer["total"] is answer["nearest_share"] is None
    assert [one["words"] for one in answer["relaxations"]] == [
        "gear, first feet: 0.05\u00a0mm more to the right than the 0.15\u00a0mm that the bolts leave."
    ]
    assert all(foot["right"] is None for machine in answer["machines"] for foot in machine["feet"])


def test_shims_that_are_missing_and_the_nearest_that_can_be_reached_are_said():
    request = spoilt("couplings.0.offset", {"vertical": q(0.5)})
    request["couplings"][1]["offset"] = {"vertical": q(0)}
    for coupling in request["couplings"]:
        coupling["angularity"] = {"vertical": q(0, "mm/m")}
        coupling["limits"] = {"offset": q(0.05)}
    request["machines"][1]["fixed"] = request["machines"][2]["fixed"] = True
    for foot in request["machines"][0]["feet"]:
        foot["at_most"] = {"down": q(0.4), "up": q(0)}
    answer = run("moves", request | {"share": 0.5}, "metric")
    # 0.5 mm high, no higher at the far foot: 1.4 times 0.4 mm is more than enough at the coupling.
    assert answer["feasible"] is True
    assert answer["machines"][0]["feet"][0]["right"] is None
    request["machines"][0]["feet"][1]["at_most"] = {"down": q(0.3), "up": q(0)}
    answer = run("moves", request | {"share": 0.5}, "metric")
    assert answer["feasible"] is False
    # 1.4 times 0.3 mm leaves 0.08 mm of the 0.05 mm allowed; 0.025 mm are wanted.
    assert answer["nearest_share"] == pytest.approx(1.6)
    (one,) = answer["relaxations"]
    assert one["by"]["value"] == pytest.approx((0.475 - 0.42) / 1.4)
    assert one["words"].startswith("motor, second feet: 0.04\u00a0mm more to take out than the 0.30\u00a0mm of shims")
    assert answer["reason"] == (
        "No set of moves within these bounds brings every coupling within 50\u00a0% of its limits. "
        "The nearest they allow is 160\u00a0% of the limits."
    )


def test_a_train_that_is_in_already_stays():
    request = spoilt("share", 1)
    for coupling in request["couplings"]:
        coupling["offset"]["horizontal"] = q(0.03)
    answer = run("moves", request, "metric")
    assert answer["value"] == answer["feet_moved"] == 0
    assert answer["reason"] == "Nothing has to move: every coupling already lies within 100\u00a0% of its limits."


def test_six_machines_are_taken_and_seven_are_not():
    request = exactly("least-largest")
    for place in range(3, 7):
        machine, coupling = copy.deepcopy(request["machines"][2]), copy.deepcopy(request["couplings"][1])
        machine["name"] = f"stage {place}"
        for number, foot in enumerate(machine["feet"]):
            foot["x"] = q(1000 * place + 500 * number)
        coupling["x"] = q(1000 * place - 250)
        request["machines"].append(machine)
        request["couplings"].append(coupling)
        if place < 6:
            assert run("moves", request, "metric")["feasible"]
    with pytest.raises(Refused) as refused:
        run("moves", request, "metric")
    assert set(refused.value.as_dict()) == {"machines", "couplings"}


BAD = [
    ("objective", "least-effort", "objective", "Choose one of: least-total, least-largest, fewest-feet."),
    ("share", 80, "share", "A share between 0 and 1 is expected, such as 0.8."),
    ("shares", 0.8, "shares", "This field is not known here. Was “share” meant?"),
    ("machines", "-", "machines", "Give the machines from the driver end on, two to six."),
    ("couplings", [], "couplings", "Give the coupling between every two machines, from the driver end on."),
    ("machines.0.feet", "-", "machines.0.feet", "Give the machine's foot planes, two to four."),
    ("machines.0.fixed", "no", "machines.0.fixed", "True or false is expected here."),
    ("machines.0.feet.0.x", "-", "machines.0.feet.0.x", "Say where the foot plane stands along the train."),
    ("machines.0.feet.0.at_most.down", q(-1), "machines.0.feet.0.at_most.down", "This must not be negative."),
    (
        "machines.0.feet.0.at_most.left",
        q(1),
        "machines.0.feet.0.at_most.sideways",
        "Give sideways for both ways, or left and right, not both.",
    ),
    (
        "machines.0.feet.1.x",
        q(750),
        "machines.0.feet.1.x",
        "This foot plane does not lie between its machine's couplings: give X from the driver end on.",
    ),
    ("couplings.0.x", q(math.nan), "couplings.0.x", "The value is not a number (NaN)."),
    ("couplings.0.stationary", "motor", "couplings.0.stationary", "Choose one of: driven, driver."),
    (
        "couplings.0.offset",
        "-",
        "couplings.0.offset",
        "Give what was measured at this coupling, vertical and horizontal, or one of them.",
    ),
    (
        "couplings.0.angularity.vertical",
        "-",
        "couplings.0.angularity.vertical",
        "Offset and angularity of a plane are both needed.",
    ),
    (
        "couplings.0.limits.flex_angle",
        q(0.5, "mm/m"),
        "couplings.0.flex_distance",
        "A limit on the flex angle needs the flex planes, or the distance between them.",
    ),
    ("couplings.0.limits.axial", q(1), "couplings.0.limits.axial",
     "Moves of the feet serve offset, angularity and flex angles: set the gap by itself."),
    ("couplings.0.limits.offset", q(0), "couplings.0.limits.offset", "This must be greater than zero."),
    ("couplings.0.flex_distance", q(-5), "couplings.0.flex_distance", "This must be greater than zero."),
]  # fmt: skip


@pytest.mark.parametrize(("path", "value", "field", "message"), BAD, ids=[f"{n} {bad[0]}" for n, bad in enumerate(BAD)])
def test_a_bad_request_is_refused_at_its_field(path, value, field, message):
    with pytest.raises(Refused) as refused:
        run("moves", spoilt(path, value), "metric")
    assert refused.value.as_dict().get(field) == message


NUMBERS = st.lists(st.floats(-25, 25) | st.floats(-0.3, 0.3), min_size=4, max_size=4)
BAD_NUMBERS = st.sampled_from([math.inf, math.nan, None, "x", True, 1e9])


@given(
    offsets=NUMBERS,
    slopes=NUMBERS,
    spoiled=st.none() | st.tuples(st.integers(0, 3), BAD_NUMBERS),
    bounds=st.lists(st.floats(0, 1), min_size=6, max_size=6),
    limit=st.floats(1e-6, 5),
    flex=st.none() | st.floats(1, 5000),
    fixed=st.lists(st.booleans(), min_size=3, max_size=3),
    objective=st.sampled_from(OBJECTIVES),
    share=st.floats(0, 1),
)
@settings(max_examples=60, deadline=None)
def test_whatever_is_asked_is_answered_in_numbers_or_refused_by_field(
    offsets, slopes, spoiled, bounds, limit, flex, fixed, objective, share
):
    if spoiled is not None:
        offsets[spoiled[0]] = spoiled[1]
    request = copy.deepcopy(dict(MOVES.example)) | {"objective": objective, "share": share}
    for place, coupling in enumerate(request["couplings"]):
        words = ("vertical", "horizontal")
        coupling["offset"] = {word: q(offsets[2 * place + n]) for n, word in enumerate(words)}
        coupling["angularity"] = {word: q(slopes[2 * place + n], "mm/m") for n, word in enumerate(words)}
        coupling["limits"] = {"offset": q(limit)} if flex is None else {"flex_angle": q(limit, "mm/m")}
        if flex is not None:
            coupling["flex_distance"] = q(flex)
    for place, machine in enumerate(request["machines"]):
        machine["fixed"] = fixed[place]
        for number, foot in enumerate(machine["feet"]):
            foot["at_most"] = {"down": q(bounds[2 * place + number]), "sideways": q(bounds[2 * place])}
    try:
        answer = run("moves", request, "us")
    except Refused as refused:
        fields = list(refused.as_dict())
    else:
        fields = []
    assert all(fields), "every refusal names its field"
    assert bool(fields) == (spoiled is not None)
    if fields:
        return
    json.dumps(answer, allow_nan=False)
    if answer["feasible"]:
        used = max(one["after"]["tolerance_used"] for one in answer["couplings"])
        assert used <= share + 1e-4
    else:
        assert answer["relaxations"]


def test_the_form_offers_every_objective():
    assert tuple(name for name, _label in WISHES) == OBJECTIVES


def with_uncertainty(u=0.005):
    request = copy.deepcopy(dict(MOVES.example))
    for coupling in request["couplings"]:
        for part, scale in (("offset", 1), ("angularity", 6)):
            for word in ("vertical", "horizontal"):
                coupling[part][word] |= {"standard_uncertainty": q(u * scale, "mm" if part == "offset" else "mm/m")}
    return request


def test_each_coupling_says_how_sure_it_is_to_be_in_before_and_after():
    answer = run("moves", with_uncertainty(), "metric")
    assert [one["before"]["probability_in_tolerance"] for one in answer["couplings"]] == pytest.approx([0, 0], abs=1e-6)
    assert all(0.9 < one["after"]["probability_in_tolerance"] <= 1 for one in answer["couplings"])
    assert run("moves", dict(MOVES.example), "metric")["couplings"][0]["after"]["probability_in_tolerance"] is None


def test_to_be_sure_less_of_the_limits_is_used():
    answer = run("moves", with_uncertainty(0.01) | {"share": 1, "confidence": 0.95}, "metric")
    assert answer["share"] < 1
    assert all(one["after"]["probability_in_tolerance"] >= 0.95 for one in answer["couplings"])
    assert "Each is then in with a probability of 95\u00a0% or more. That is why no more than" in answer["reason"]


def test_readings_too_uncertain_say_what_the_best_moves_reach():
    answer = run("moves", with_uncertainty(0.1) | {"share": 1, "confidence": 0.95}, "metric")
    assert "No moves reach the probability of 95\u00a0% that was asked for" in answer["reason"]


def vertical(stock, **more):
    """The gear high instead of left, limits tight for these shims."""
    request = copy.deepcopy(dict(MOVES.example)) | {"shim_stock": q(stock), "objective": "least-total", **more}
    for coupling, up in zip(request["couplings"], (-0.23, 0.21), strict=True):
        coupling["offset"] = {"vertical": q(up), "horizontal": q(0)}
        coupling["limits"] = {"offset": q(0.05), "angularity": q(0.1, "mm/m")}
    return request


def test_moves_come_in_whole_shims_with_what_that_leaves():
    answer = run("moves", vertical(0.05), "metric")
    rounded = answer["rounded"]
    assert rounded["keeps_limits"]
    assert rounded["shim_stock"] == {"value": 0.05, "unit": "mm"}
    for machine in rounded["machines"]:
        for foot in machine["feet"]:
            assert foot["up"]["value"] / 0.05 == pytest.approx(round(foot["up"]["value"] / 0.05), abs=1e-6)
    assert all(one["tolerance_used"] <= 0.5 + 1e-6 for one in rounded["couplings"])
    assert run("moves", dict(MOVES.example), "metric")["rounded"] is None


def test_shims_too_coarse_for_the_limits_are_said():
    request = vertical(0.5, share=0.1)
    request["machines"][0]["fixed"] = request["machines"][2]["fixed"] = True
    for coupling, up in zip(request["couplings"], (-0.2, 0.2), strict=True):
        coupling["offset"]["vertical"] = q(up)
    rounded = run("moves", request, "metric")["rounded"]
    assert rounded["keeps_limits"] is False
    assert "No whole steps keep every coupling: use thinner shims" in rounded["reason"]


@pytest.mark.parametrize(
    ("path", "value", "field", "message"),
    [
        ("confidence", 95, "confidence", "A probability between 0.5 and 1 is expected, such as 0.95."),
        ("confidence", 0.95, "couplings.0.offset",
         "A probability needs the standard uncertainty of what was measured at every coupling with limits."),
        ("shim_stock", q(0), "shim_stock", "This must be greater than zero."),
        ("shim_stock", q(50), "shim_stock", "This is more than 25 mm for one step of shims: is the unit right?"),
        ("couplings.0.offset.vertical.standard_uncertainty", q(0.01),
         "couplings.0.offset.horizontal.standard_uncertainty",
         "Give the standard uncertainty of every figure of this coupling, or of none."),
        ("couplings.0.offset.vertical.standard_uncertainty", q(-0.01),
         "couplings.0.offset.vertical.standard_uncertainty", "This must be greater than zero."),
    ],
)  # fmt: skip
def test_a_slip_in_shims_or_uncertainty_is_refused_at_its_field(path, value, field, message):
    with pytest.raises(Refused) as refused:
        run("moves", spoilt(path, value), "metric")
    assert refused.value.as_dict().get(field) == message


@given(
    u=st.floats(1e-4, 0.2) | BAD_NUMBERS,
    confidence=st.none() | st.floats(0.4, 1.1) | BAD_NUMBERS,
    stock=st.none() | st.floats(0, 1) | BAD_NUMBERS,
    up=st.floats(-1, 1),
    objective=st.sampled_from(OBJECTIVES),
)
@settings(max_examples=25, deadline=None)
def test_whatever_is_said_of_shims_and_of_being_sure_is_answered_in_numbers_or_refused(
    u, confidence, stock, up, objective
):
    request = vertical(0.05, objective=objective) | ({} if confidence is None else {"confidence": confidence})
    request["couplings"][0]["offset"]["vertical"] = q(up)
    request.pop("shim_stock")
    request |= {} if stock is None else {"shim_stock": q(stock)}
    for coupling in request["couplings"]:
        for part, unit in (("offset", "mm"), ("angularity", "mm/m")):
            for word in ("vertical", "horizontal"):
                coupling[part][word] |= {"standard_uncertainty": q(u, unit)}
    try:
        answer = run("moves", request, "us")
    except Refused as refused:
        unnamed = [one for one in refused.errors if not one.field]
        if unnamed:
            raise
        return
    json.dumps(answer, allow_nan=False)
    assert (answer["rounded"] is not None) is (answer["feasible"] and stock is not None)
