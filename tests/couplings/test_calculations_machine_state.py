"""Thermal growth, soft foot, run-out and pipe strain as the API takes and answers them."""

import copy
import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.calculations import get, run
from plant.refusals import Refused

NAMES = ("thermal-growth", "soft-foot", "run-out", "pipe-strain")


def q(value, unit="mm"):
    return {"value": value, "unit": unit}


RISES = {"method": "rises", "feet": [{"name": str(n), "rise": q(rise, "inch")} for n, rise in
         enumerate((0.005, 0.002, 0.002, 0.002))]}  # fmt: skip
GAPS = {"method": "corner-gaps", "foot": "inboard left", "corner_gaps": [q(0.1), q(0.1), q(0.11), q(0.1)],
        "resolution": q(0.02)}  # fmt: skip
PADS = {"method": "pad-heights", "pad_heights": [q(0), q(0.1), q(0.04), q(0.06)]}
SWEEP = {"method": "sweep", "diameter": q(48), "table": "iec",
         "readings": [{"angle": 45 * n, "value": q(0.02 * math.cos(math.radians(45 * n - 90)))} for n in range(8)],
         }  # fmt: skip
UNIT = {"method": "vertical-unit", "orbit": q(0.004, "inch"), "shaft_length": q(170, "inch"),
        "runner_diameter": q(80, "inch"), "lean": q(0.003, "inch"), "length": q(170, "inch"), "decision": "simple",
        "points": [{"z": q(z, "inch"), "north": q(x, "inch")} for z, x in
                   zip((0, 60, 120, 170), (0, 0.0042, 0.003, 0.002), strict=True)]}  # fmt: skip
COMPASS = {"method": "compass", "limits": {"offset": q(0.05)}, "reading_sets": [
    {"kind": "rim", "carried_by": "stationary", "x": q(20),
     "readings": [{"at": p, "value": q(v)} for p, v in zip("NESW", (0, 0.1, 0.2, 0.1), strict=True)]},
    {"kind": "face", "swing_radius": q(80),
     "readings": [{"at": p, "value": q(v)} for p, v in zip("NESW", (0, 0.1, 0, -0.1), strict=True)]}]}  # fmt: skip
FLOAT = {"method": "end-float", "rotor_end_float": q(0.5, "inch"), "coupling_end_float": q(0.1875, "inch"),
         "gap_running": q(4), "rotor_from_centre": q(1.5)}  # fmt: skip
STRAIN = {"after": {"vertical": q(3, "mil"), "horizontal": q(4, "mil")}}
GROWTH = dict(get("thermal-growth").example)
MEASURED = {"offset": {"vertical": q(-0.1), "horizontal": q(0)},
            "angularity": {"vertical": q(0, "mm/m"), "horizontal": q(0, "mm/m")}}  # fmt: skip
WARM = {"method": "survey", **MEASURED, "movable": {
    "material": "gray iron", "at_survey": q(35, "degC"), "reference": q(20, "degC"),
    "feet": [{"x": q(250), "height": q(400)}, {"x": q(700), "height": q(400)}]}}  # fmt: skip
ALL = [
    ("soft-foot", RISES),
    ("soft-foot", GAPS),
    ("soft-foot", PADS),
    ("run-out", SWEEP),
    ("run-out", UNIT),
    ("run-out", COMPASS),
    ("run-out", FLOAT),
    ("pipe-strain", STRAIN),
    ("thermal-growth", GROWTH),
    ("thermal-growth", WARM),
]


def value(answer):
    return answer["value"]


def test_soft_foot_names_the_foot_and_its_shim():
    # U.S. Bureau of Reclamation, FIST 4-1A, p. 17: .005 against .002 asks for .003 in.
    answer = run("soft-foot", RISES, "us")
    assert (answer["foot"], value(answer["shim"])) == ("0", pytest.approx(3.0))
    assert answer["shim"]["unit"] == "thou"
    assert (answer["verdict"], answer["limit_from"]) == ("out of tolerance", "starter")
    assert answer["limits"][0]["quantity"] == "largest-rise"


def test_soft_foot_may_be_judged_by_the_difference_between_feet():
    answer = run("soft-foot", RISES | {"judged": "difference"}, "us")
    assert answer["limits"][0]["quantity"] == "difference-between-feet"
    assert value(answer["limits"][0]["measured"]) == pytest.approx(3.0)


def test_corner_gaps_and_pads_answer_what_they_are():
    gaps, pads = run("soft-foot", GAPS, "metric"), run("soft-foot", PADS, "metric")
    assert (gaps["kind"], gaps["corners"][2]["gap"]) == ("parallel", q(0.11))
    assert gaps["corners"][0]["shim"] == q(0.1025)
    assert value(pads["gap_when_rocking"]) == pytest.approx(0.12)
    assert value(pads["twist"]) == pytest.approx(-0.12)


def test_a_sweep_finds_the_limit_by_diameter_and_the_high_side():
    # ANSI/EASA AR100-2015, table 2-4: 0.050 mm over 30 up to 50 mm.
    answer = run("run-out", SWEEP, "metric")
    assert value(answer["run_out"]) == pytest.approx(0.04)
    assert answer["limits"][0]["limit"] == q(0.05)
    assert "table 2-4" in answer["limits"][0]["source"]
    assert value(answer["eccentricity"]["direction"]) == pytest.approx(90.0)


def test_a_sweep_without_a_limit_is_not_known():
    bare = {key: item for key, item in SWEEP.items() if key not in ("diameter", "table")}
    answer = run("run-out", bare | {"readings": SWEEP["readings"][:2]}, "metric")
    assert (answer["verdict"], answer["reason_code"], answer["limits"]) == ("not known", "no-limits", [])
    assert answer["eccentricity"] is None


def test_a_vertical_unit_is_held_to_each_published_limit():
    # FIST 2-1, table 1, worksheet L = 170, D = 80 in: 4.25 thou for orbit and plumb, 3 thou for the bend.
    answer = run("run-out", UNIT, "us")
    assert [value(line["limit"]) for line in answer["limits"]] == pytest.approx([4.25, 4.25, 3.0])
    assert [line["verdict"] for line in answer["limits"]] == ["in tolerance", "in tolerance", "out of tolerance"]
    assert (answer["verdict"], answer["bend"]["z"]) == ("out of tolerance", q(60.0, "inch"))
    assert answer["reason"].startswith("Bend: ")
    assert answer["probability_in_tolerance"] is None


def test_a_total_of_two_readings_is_less_certain_than_one():
    answer = run("run-out", UNIT | {"standard_uncertainty": q(0.01)}, "metric")
    spreads = [value(line["measured"]["standard_uncertainty"]) for line in answer["limits"]]
    assert spreads == pytest.approx([0.01 * math.sqrt(2)] * 3)


def test_compass_points_give_offset_and_lean_by_compass():
    """Solved from the text: rim 2 x offset at x = 20 mm between N and S; face 2 x 80 mm x slope between E and W."""
    answer = run("run-out", COMPASS, "metric")
    assert value(answer["angularity"]["east"]) == pytest.approx(0.2 / 160 * 1000)
    assert value(answer["offset"]["north"]) == pytest.approx(-0.1)
    assert value(answer["offset"]["east"]) == pytest.approx(-1.25 * 0.020)
    assert (answer["offset"]["towards"], answer["angularity"]["towards"]) == ("S", "E")
    assert answer["verdict"] == "out of tolerance"


def test_end_float_and_the_gap_to_set():
    # From memory of NEMA MG 1: 1/2 in with 3/16 in. The gap is arithmetic.
    answer = run("run-out", FLOAT, "metric")
    assert value(answer["left_each_side"]) == pytest.approx(0.15625 * 25.4)
    assert (answer["gap_to_set"], answer["rotor_can_touch"]) == (q(2.5), False)


def test_pipe_strain_is_a_vector_against_a_limit_from_memory():
    answer = run("pipe-strain", STRAIN, "us")
    assert value(answer["movement"]["magnitude"]) == pytest.approx(5.0)
    assert value(answer["limits"][0]["limit"]) == pytest.approx(2.0)
    assert "from memory" in answer["limit_source"]
    assert (answer["verdict"], answer["limit_from"]) == ("out of tolerance", "starter")


def test_growth_per_foot_and_the_cold_target_follow_the_temperatures():
    """The example by hand: 11.4e-6 x 400 x 25, and 11.7e-6 x 315 x 15 and x 12, one line through each machine."""
    answer = run("thermal-growth", GROWTH, "metric")
    fixed, inboard, outboard = 11.4e-6 * 400 * 25, 11.7e-6 * 315 * 15, 11.7e-6 * 315 * 12
    assert [value(foot["growth"]) for foot in answer["stationary"]] == pytest.approx([fixed, fixed])
    assert [value(foot["growth"]) for foot in answer["movable"]] == pytest.approx([inboard, outboard])
    assert [value(foot["stands_cold"]) for foot in answer["movable"]] == pytest.approx(
        [fixed - inboard, fixed - outboard]
    )
    assert answer["moves"] == []
    assert [one["source_mark"] for one in answer["coefficients"]] == ["published", "published"]
    assert "movable.temperature_standard_uncertainty" in answer["starter_uncertainties"]


def test_moves_with_growth_are_target_less_position():
    answer = run("thermal-growth", GROWTH | MEASURED, "metric")
    cold = [value(foot["stands_cold"]) for foot in answer["movable"]]
    assert [value(move["up"]) for move in answer["moves"]] == pytest.approx([height + 0.1 for height in cold])
    alone = run("alignment", {"method": "direct", **MEASURED, "feet": [{"name": "inboard", "x": q(250)}, {"name": "o", "x": q(700)}]}, "metric")  # fmt: skip  # noqa: E501
    assert (
        answer["moves"][0]["up"]["standard_uncertainty"]["value"]
        > (alone["moves"][0]["up"]["standard_uncertainty"]["value"])
    )


def test_a_survey_taken_warm_is_brought_to_its_reference_state():
    # 15 degrees over 400 mm of iron is 0.07 mm (the requirement's figure).
    answer = run("thermal-growth", WARM, "metric")
    assert value(answer["corrected"]["offset"]["vertical"]) == pytest.approx(-0.1 - 0.07, abs=0.005)
    assert answer["target"] is None
    spread = answer["corrected"]["offset"]["vertical"]["standard_uncertainty"]["value"]
    assert spread > answer["corrected"]["offset"]["horizontal"]["standard_uncertainty"]["value"]


def test_the_reference_state_is_a_definition_and_so_certain():
    """Only the survey's temperature is measured: (alpha h u)^2 with the coefficient's (h dT 4 % alpha)^2."""
    warm = WARM["movable"] | {"temperature_standard_uncertainty": q(3, "delta_degC")}
    answer = run("thermal-growth", WARM | {"movable": warm}, "metric")
    spread = value(answer["movable"][0]["growth"]["standard_uncertainty"])
    assert spread == pytest.approx(11.4e-6 * 400 * math.hypot(3.0, 0.04 * 15))


def test_a_coefficient_of_ones_own_may_be_per_fahrenheit_and_layers_add_up():
    layers = [
        {"height": q(250), "coefficient": {"value": 11.4, "unit": "1e-6/degC"}, "hot": q(40, "degC")},
        {"height": q(120), "coefficient": {"value": 6.5, "unit": "1e-6/degF", "standard_uncertainty": 0.1}},
        {"height": q(6), "material": "stainless steel 304"},
    ]
    movable = {"cold": q(0, "degC"), "hot": q(77, "degF"), "feet": [{"x": q(250), "layers": layers}, {"x": q(700), "layers": layers}]}  # fmt: skip  # noqa: E501
    answer = run("thermal-growth", {"movable": movable}, "us")
    mm = 11.4e-6 * 250 * 40 + 11.7e-6 * 120 * 25 + 17.2e-6 * 6 * 25
    assert value(answer["movable"][0]["growth"]) == pytest.approx(mm / 0.0254)
    assert answer["coefficients"][1]["coefficient"] == pytest.approx(6.5)
    assert [foot["name"] for foot in answer["movable"]] == ["inboard", "outboard"]


@pytest.mark.parametrize("name, request_sent", ALL)
def test_other_units_in_give_the_same_answer(name, request_sent):
    def in_inches(part):
        if isinstance(part, dict) and part.get("unit") == "mm":
            return q(part["value"] / 25.4, "inch")
        if isinstance(part, dict):
            return {key: in_inches(item) for key, item in part.items()}
        return [in_inches(item) for item in part] if isinstance(part, list) else part

    def flat(part):
        if isinstance(part, dict):
            return [number for item in part.values() for number in flat(item)]
        if isinstance(part, list):
            return [number for item in part for number in flat(item)]
        return [part] if isinstance(part, int | float) and not isinstance(part, bool) else []

    ours, theirs = flat(run(name, request_sent, "metric")), flat(run(name, in_inches(request_sent), "metric"))
    assert ours
    assert ours == pytest.approx(theirs, abs=1e-6)


def spoilt(request_sent, path, new):
    request = copy.deepcopy(request_sent)
    *parents, last = [int(part) if part.isdigit() else part for part in path.split(".")]
    place = request
    for part in parents:
        place = place[part]
    if new == "-":
        del place[last]
    else:
        place[last] = new
    return request


@pytest.mark.parametrize(
    "name, base, path, new, field",
    [
        ("soft-foot", RISES, "method", "-", "method"),
        ("soft-foot", RISES, "feet.1.rise", q(-1), "feet.1.rise"),
        ("soft-foot", RISES, "feet.1.rise", "-", "feet.1.rise"),
        ("soft-foot", RISES, "feet.1.name", "0", "feet.1.name"),
        ("soft-foot", RISES, "feet", [], "feet"),
        ("soft-foot", RISES, "feet", [{"rise": q(1)}], "feet"),
        ("soft-foot", RISES, "limit", q(0), "limit"),
        ("soft-foot", RISES, "limit", q(1e-300), "limit"),
        ("soft-foot", RISES, "standard_uncertainty", q(1e-300), "standard_uncertainty"),
        ("soft-foot", RISES, "confidence", 0.2, "confidence"),
        ("soft-foot", RISES, "corner_gaps", [], "corner_gaps"),
        ("soft-foot", GAPS, "corner_gaps.3", "-", "corner_gaps.3"),
        ("soft-foot", GAPS, "corner_gaps.3", q(math.nan), "corner_gaps.3"),
        ("soft-foot", GAPS, "corner_gaps", [q(1)] * 5, "corner_gaps"),
        ("soft-foot", PADS, "pad_heights", "four", "pad_heights"),
        ("run-out", SWEEP, "method", "laser", "method"),
        ("run-out", SWEEP, "readings.1.angle", 0, "readings.1.angle"),
        ("run-out", SWEEP, "readings.1.value", q(math.inf), "readings.1.value"),
        ("run-out", SWEEP, "readings", [{"angle": 0, "value": q(0)}], "readings"),
        ("run-out", SWEEP, "diameter", q(5), "diameter"),
        ("run-out", SWEEP, "diameter", "-", "diameter"),
        ("run-out", SWEEP, "table", "-", "table"),
        ("run-out", SWEEP, "limit", q(0.1), "limit"),
        ("run-out", UNIT, "runner_diameter", "-", "runner_diameter"),
        ("run-out", UNIT, "runner_diameter", q(1e-300), "runner_diameter"),
        ("run-out", UNIT, "orbit", "-", "orbit"),
        ("run-out", UNIT, "points.1.north", "-", "points.1.north"),
        ("run-out", UNIT, "points.1.z", q(5000), "points"),
        ("run-out", {"method": "vertical-unit"}, "decision", "guarded", "orbit"),
        ("run-out", COMPASS, "feet", [], "feet"),
        ("run-out", COMPASS, "reading_sets.0.sag", q(0.1), "reading_sets.0.sag"),
        ("run-out", COMPASS, "reading_sets.0.kind", "step", "reading_sets.0.kind"),
        ("run-out", COMPASS, "reading_sets.0.readings.0.at", "up", "reading_sets.0.readings.0.at"),
        ("run-out", COMPASS, "reading_sets.0.readings.1.at", "N", "reading_sets.0.readings.1.at"),
        ("run-out", COMPASS, "reading_sets.1.swing_radius", q(1e-300), "reading_sets.1.swing_radius"),
        ("run-out", COMPASS, "limits", {"flex_angle": q(1, "mrad")}, "limits"),
        ("run-out", COMPASS, "reading_sets.1.readings", [{"at": "N", "value": q(0)}], "reading_sets.1.readings"),
        ("run-out", FLOAT, "coupling_end_float", "-", "coupling_end_float"),
        ("run-out", FLOAT, "rotor_from_centre", q(5), "rotor_from_centre"),
        ("run-out", {"method": "end-float"}, "gap_running", None, "rotor_end_float"),
        ("pipe-strain", STRAIN, "after", "-", "after"),
        ("pipe-strain", STRAIN, "after.horizontal", "-", "after.horizontal"),
        ("pipe-strain", STRAIN, "rule", "both", "rule"),
        ("pipe-strain", STRAIN, "pipes", 1, "pipes"),
        ("thermal-growth", GROWTH, "movable.feet.0.x", q(-250), "movable.feet.0.x"),
        ("thermal-growth", GROWTH, "stationary.feet.0.x", q(250), "stationary.feet.0.x"),
        ("thermal-growth", GROWTH, "movable.feet.1.x", q(250), "movable.feet.1.x"),
        ("thermal-growth", GROWTH, "movable.feet.1.name", "inboard", "movable.feet.1.name"),
        ("thermal-growth", GROWTH, "movable.material", "cheese", "movable.material"),
        ("thermal-growth", GROWTH, "movable.material", "-", "movable.feet.0.material"),
        ("thermal-growth", GROWTH, "movable.cold", "-", "movable.feet.0.cold"),
        ("thermal-growth", GROWTH, "movable.cold", q(-300, "degC"), "movable.cold"),
        ("thermal-growth", GROWTH, "movable.coefficient", {"value": 11, "unit": "1e-6/degC"}, "movable.coefficient"),
        ("thermal-growth", GROWTH, "movable.feet.0.layers", [{"height": q(1)}], "movable.feet.0.height"),
        ("thermal-growth", GROWTH, "movable.feet", [GROWTH["movable"]["feet"][0]], "movable.feet"),
        ("thermal-growth", GROWTH, "offset", {"vertical": q(0)}, "angularity"),
        ("thermal-growth", WARM, "offset", "-", "offset"),
        ("thermal-growth", WARM, "movable", "-", "movable"),
        ("thermal-growth", WARM, "movable.reference", "-", "movable.feet.0.reference"),
        ("thermal-growth", WARM, "offset.horizontal", "-", "offset.horizontal"),
    ],
)
def test_bad_input_is_refused_beside_its_field(name, base, path, new, field):
    with pytest.raises(Refused) as refusal:
        run(name, spoilt(base, path, new), "metric")
    assert field in refusal.value.as_dict()


def paths(part, path=""):
    yield path
    items = part.items() if isinstance(part, dict) else enumerate(part) if isinstance(part, list) else ()
    for key, item in items:
        yield from paths(item, f"{path}.{key}".lstrip("."))


wild = st.one_of(
    st.none(), st.booleans(), st.text(max_size=4), st.just([]), st.just({}), st.floats(), st.integers(-5, 400),
    st.builds(q, st.one_of(st.floats(), st.sampled_from([1e-300, 1e300, 0, -1, 12, 250])),
              st.sampled_from(["mm", "mil", "inch", "m", "degC", "degF", "mm/m", "kW", "delta_degC"])),
)  # fmt: skip


@settings(max_examples=300, derandomize=True, deadline=None, database=None)
@given(data=st.data())
def test_nothing_one_can_send_breaks_a_calculation(data):
    """No error but a refusal that names fields, and never NaN or infinity in an answer."""
    name, base = data.draw(st.sampled_from(ALL))
    request = base
    for _ in range(data.draw(st.integers(1, 3))):
        place = data.draw(st.sampled_from([path for path in paths(request) if path]))
        request = spoilt(request, place, data.draw(wild))
    for system in ("metric", "us"):
        refused = {}
        try:
            answer = run(name, request, system)
        except Refused as refusal:
            answer, refused = None, refusal.as_dict()
        assert (answer is None) == bool(refused)
        assert all(message.strip() for message in refused.values())
        json.dumps(answer, allow_nan=False)


def test_every_example_computes():
    for name in NAMES:
        assert run(name, dict(get(name).example), "metric")
