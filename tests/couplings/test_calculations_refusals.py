"""What the `alignment` request refuses, where, and in which words. Nothing is computed from any of these."""

from __future__ import annotations

import copy
import json
import math

import pytest

from couplings.calculations import ALIGNMENT
from plant.calculations import run
from plant.refusals import Missing, Refused


def q(value, unit="mm"):
    return {"value": value, "unit": unit}


def spoilt(path, value):
    """The interface's own example with one place changed; "-" takes the field away."""
    request = copy.deepcopy(dict(ALIGNMENT.example))
    *parents, last = [int(part) if part.isdigit() else part for part in path.split(".")]
    place = request
    for part in parents:
        place = place.setdefault(part, {}) if isinstance(place, dict) else place[part]
    if value == "-":
        del place[last]
    else:
        place[last] = value
    return request


READING = "reading_sets.1.readings.0.value"
SET = "reading_sets.0"
MISSING_VALUE = "A value is missing."
GAP = "Expected a misalignment or gap such as mm or thou"
SLOPE = "Expected a slope such as mm/m or thou/inch"
TRAVEL = "This is more than a dial's travel (25 mm): is the unit right?"
READ_TWICE = "One plane is read twice, so nothing gives the slope: read a rim at another plane, or a face."

BAD = [
    # place changed, what is put there, field refused, message
    ("method", "-", "method", "Say by which method the readings were taken."),
    (
        "method",
        "laser",
        "method",
        "Choose one of: rim-and-face, reverse-rim, double-radial, face-face, shaft-to-spool, straightedge, direct.",
    ),
    ("viewed_from", "left", "viewed_from", "Choose one of: movable, stationary."),
    ("decision", "lenient", "decision", "Choose one of: guarded, simple."),
    ("confidence", 95, "confidence", "A probability between 0.5 and 1 is expected, such as 0.95."),
    ("confidence", True, "confidence", "The value must be a number."),
    ("metod", "direct", "metod", "This field is not known here. Was “method” meant?"),
    (
        "temperatures",
        {
            "stationary": {
                "temperature": q(35, "degC"),
                "reference": q(20, "degC"),
                "support_height": q(400),
                "material": "gray iron",
            }
        },
        "temperatures.movable",
        "Give height and temperature of the movable machine's supports too.",
    ),
    ("offset", {}, "offset", "Only the method direct takes this; the others compute it from readings."),
    ("reading_sets", [], "reading_sets", "Readings are missing: enter at least one set."),
    ("reading_sets", {}, "reading_sets", "A list is expected here."),
    ("reading_sets", ["rim"], "reading_sets.0", "An object with named fields is expected here."),
    ("reading_sets.0.kind", "gap", f"{SET}.kind", "Choose one of: rim."),
    ("reading_sets.0.kind", "-", f"{SET}.kind", "Choose one of: rim."),
    ("reading_sets.0.carried_by", "-", f"{SET}.carried_by", "Say which shaft carries the dial."),
    (
        "reading_sets.0.carried_by",
        "movable",
        "reading_sets",
        "The method reverse-rim also needs a set carried by the stationary shaft.",
    ),
    ("reading_sets.0.x", "-", f"{SET}.x", "Say where along the shaft the dial reads."),
    ("reading_sets.0.x", q(-75), "reading_sets.1.x", READ_TWICE),
    ("reading_sets.0.x", q(1, "deg"), f"{SET}.x", "Expected a length such as mm or inch; deg is a unit of angle."),
    (
        "reading_sets.0.x",
        q(1000, "m"),
        f"{SET}.x",
        "This is more than 100 m from the coupling: is the unit right?",
    ),
    ("reading_sets.0.swing_radius", q(-1), f"{SET}.swing_radius", "This must be greater than zero."),
    ("reading_sets.0.readings_are", "third", f"{SET}.readings_are", "Choose one of: full, half."),
    ("reading_sets.0.sag", q(-4, "N"), f"{SET}.sag", f"{GAP}; N is a unit of force."),
    (
        "reading_sets.0.sag_standard_uncertainty",
        q(-0.01),
        f"{SET}.sag_standard_uncertainty",
        "This must not be negative.",
    ),
    ("reading_sets.0.standard_uncertainty", q(0), f"{SET}.standard_uncertainty", "This must be greater than zero."),
    ("reading_sets.0.turned", "yes", f"{SET}.turned", "True or false is expected here."),
    (
        "reading_sets.0.turned",
        True,
        f"{SET}.turned",
        "Every reading of this part was taken half a turn on: also enter those with the shafts as they first stood.",
    ),
    ("reading_sets.0.bracket", 7, f"{SET}.bracket", "Text is expected here."),
    ("reading_sets.0.bracket", "b" * 201, f"{SET}.bracket", "At most 200 characters are taken."),
    ("reading_sets.0.sagg", q(0), f"{SET}.sagg", "This field is not known here. Was “sag” meant?"),
    ("reading_sets.0.readings", "-", f"{SET}.readings", "Readings are missing in this set."),
    ("reading_sets.0.readings", [], f"{SET}.readings", "Readings are missing in this set."),
    (
        "reading_sets.0.readings",
        [{"clock": 12, "value": q(0)}],
        f"{SET}.readings",
        "One position alone is never enough, because the dial's zero (or the difference of the hub radii) is unknown "
        "too: read the opposite position, better all four.",
    ),
    (
        "reading_sets.0.readings",
        [{"clock": 12, "value": q(0)}, {"clock": 3, "value": q(0)}],
        f"{SET}.readings",
        "Two positions solve a plane only as a pair, 12 and 6 or 3 and 9: read a third position.",
    ),
    (READING, "-", READING, MISSING_VALUE),
    (READING, None, READING, MISSING_VALUE),
    (READING, q(None), READING, MISSING_VALUE),
    (READING, q(""), READING, MISSING_VALUE),
    (READING, q(math.nan), READING, "The value is not a number (NaN)."),
    (READING, q(math.inf), READING, "The value is infinite."),
    (READING, q(-math.inf), READING, "The value is infinite."),
    (READING, json.loads('{"value": 1e999, "unit": "um"}'), READING, "The value is infinite."),
    (READING, q(1e13), READING, "The value is larger than anything that can be meant."),
    (READING, q("0.05"), READING, "The value must be a number."),
    (READING, q(True), READING, "The value must be a number."),
    (READING, 0.05, READING, 'A number needs its unit: write {"value": 0.05, "unit": "mm"}.'),
    (READING, "0.05 mm", READING, 'A number needs its unit: write {"value": 0.05, "unit": "mm"}.'),
    (
        READING,
        {"value": 0.05},
        READING,
        "A number needs its unit: expected a misalignment or gap such as mm or thou.",
    ),
    (READING, q(0.05, "N*m"), READING, f"{GAP}; N*m is a unit of torque."),
    (READING, q(0.05, "J"), READING, f"{GAP}; J is a unit of energy."),
    (
        READING,
        q(0.05, "parsec"),
        READING,
        "The unit “parsec” is not known: expected a misalignment or gap such as mm or thou.",
    ),
    (READING, q(26), READING, TRAVEL),
    (READING, q(2, "inch"), READING, TRAVEL),
    (READING, q(0.05) | {"sign": "+"}, READING, "A quantity has value and unit; sign is not known."),
    (
        "reading_sets.1.readings.0.clock",
        "-",
        "reading_sets.1.readings.0.clock",
        "Say where it was read: clock (12, 3, 6, 9) or angle in degrees.",
    ),
    (
        "reading_sets.1.readings.0.clock",
        13,
        "reading_sets.1.readings.0.clock",
        "A clock position lies between 0 and 12.",
    ),
    ("reading_sets.1.readings.0.clock", "12", "reading_sets.1.readings.0.clock", "The value must be a number."),
    ("reading_sets.1.readings.1.clock", 12, "reading_sets.1.readings.1.clock", "This position is there twice."),
    ("reading_sets.1.readings.1.angle", 90, "reading_sets.1.readings.1.angle", "Give clock or angle, not both."),
    (
        "reading_sets.1.readings.1.opposed",
        q(0),
        "reading_sets.1.readings",
        "Only face readings take a second, opposed dial.",
    ),
    ("feet.0.name", "-", "feet.0.name", "Name the foot plane, such as inboard or outboard."),
    ("feet.1.name", "inboard", "feet.1.name", "Two foot planes have this name."),
    ("feet.1.x", "-", "feet.1.x", "Say how far the foot plane is from the coupling's centre."),
    ("feet.1.x", q(250), "feet.1.x", "Another foot plane has the same distance: each plane is given once."),
    (
        "feet",
        [{"name": "inboard", "x": q(250)}],
        "feet",
        "A machine stands on two to four foot planes: give each with its distance.",
    ),
    (
        "flex_planes",
        [q(70)],
        "flex_planes",
        "Two positions are expected: flex plane A on the stationary side, then B.",
    ),
    ("flex_planes.1", q(-70), "flex_planes.1", "Flex plane B must lie on the movable side of flex plane A."),
    ("flex_planes.1", None, "flex_planes.1", MISSING_VALUE),
    (
        "limits",
        {},
        "limits",
        "No limit is given here: give offset, angularity, flex_angle or axial, or leave limits out.",
    ),
    ("limits.offset", q(0), "limits.offset", "This must be greater than zero."),
    ("limits.offset", q(-0.05), "limits.offset", "This must be greater than zero."),
    (
        "limits.angularity",
        q(0.5, "mil"),
        "limits.angularity",
        f"{SLOPE}; mil is a thousandth of an inch, a length and never an angle.",
    ),
    ("limits.angularity", q(0.5), "limits.angularity", f"{SLOPE}; mm is a unit of length."),
    ("limits.angularity", q(6, "deg"), "limits.angularity", "This is more than 100 mm/m: is the unit right?"),
    (
        "limits.angularity",
        {"gap_difference": q(0.1)},
        "limits.angularity.over_diameter",
        "Say over which diameter.",
    ),
    ("limits.rule", "circle", "limits.rule", "Choose one of: vector, per-plane."),
    ("limits.combined", 1, "limits.combined", "True or false is expected here."),
    ("limits.ofset", q(1), "limits.ofset", "This field is not known here. Was “offset” meant?"),
    ("target", {}, "target", "A target needs offset or angularity."),
    ("target.offset", {"up": q(0.1)}, "target.offset.up", "This field is not known here."),
    ("axial", {"nominal": q(3)}, "axial.gaps", "Gaps are missing."),
    ("axial", {"gaps": [q(1)] * 5}, "axial.gaps", "At most 4 are taken."),
    ("axial", {"gaps": [q(-1)]}, "axial.gaps.0.value", "This must not be negative."),
    ("axial", {"gaps": [q(3)], "limit": q(0.2)}, "axial.nominal", "A limit on the gap needs the nominal gap."),
    (
        "axial",
        {"gaps": [q(3)], "rotor_from_place": q(3), "float": q(1)},
        "axial.rotor_from_place",
        "The rotor cannot stand further from its place than its whole float.",
    ),
]


@pytest.mark.parametrize(("path", "value", "field", "message"), BAD)
def test_a_bad_place_is_refused_beside_its_field(path, value, field, message):
    with pytest.raises(Refused) as refusal:
        run("alignment", spoilt(path, value), "metric")
    assert refusal.value.as_dict() == {field: message}
    assert refusal.value.errors[0].pointer == "/" + field.replace(".", "/")


def test_the_list_of_bad_places_is_as_long_as_it_claims():
    assert len({(path, repr(value)) for path, value, _field, _message in BAD}) == len(BAD) >= 40


def other_method(method, sets, **rest):
    return {"method": method, "reading_sets": sets, **rest}


def four(**named):
    return {"readings": [{"clock": clock, "value": q(0.0)} for clock in (12, 3, 6, 9)], **named}


FACE = {"kind": "face", "swing_radius": q(60)}
RIM = {"kind": "rim", "carried_by": "stationary", "x": q(40)}


@pytest.mark.parametrize(
    ("request_sent", "errors"),
    [
        (
            other_method("rim-and-face", [four(**RIM)]),
            {"reading_sets": "The method rim-and-face also needs a set of kind face."},
        ),
        (
            other_method("rim-and-face", [four(**RIM), four(kind="face")]),
            {"reading_sets.1.swing_radius": "Say at which radius it is read."},
        ),
        (
            other_method("straightedge", [four(kind="step", sag=q(-0.04)), four(kind="gap", swing_radius=q(60))]),
            {"reading_sets.0.sag": "A step or a gap has no bracket that could sag: leave it out."},
        ),
        (
            other_method(
                "straightedge", [four(kind="step", readings_are="half"), four(kind="gap", swing_radius=q(60))]
            ),
            {"reading_sets.0.readings_are": "A step or a gap is never a half reading: enter it as it was measured."},
        ),
        (
            other_method("face-face", [four(kind="flex-angle", plane="A", swing_radius=q(80))] * 2),
            {"flex_planes": "This method reads at the flex planes: say where they lie."},
        ),
        (
            other_method(
                "face-face",
                [four(kind="flex-angle", plane="A", swing_radius=q(80))] * 2,
                flex_planes=[q(-70), q(70)],
            ),
            {"reading_sets.1.plane": "One flex plane is read twice: flex plane B is missing."},
        ),
        (
            other_method(
                "shaft-to-spool",
                [four(kind="flex-angle", plane="A"), four(kind="flex-angle", distance=q(80))],
                flex_planes=[q(-70), q(70)],
            ),
            {
                "reading_sets.0.distance": (
                    "Give the swing radius of a face dial, or the distance of a rim dial on the spool."
                ),
                "reading_sets.1.plane": "Say which flex plane: A or B.",
            },
        ),
        (
            {"method": "direct", "reading_sets": [four(**RIM)]},
            {
                "reading_sets": "The method direct takes offset and angularity, not readings.",
                "offset": "Its vertical and horizontal values are missing.",
                "angularity": "Its vertical and horizontal values are missing.",
            },
        ),
        (
            {"method": "direct", "offset": {"vertical": q(0.02)}, "angularity": {"horizontal": q(0.1, "mm/m")}},
            {
                "offset.horizontal": "The other component of this plane is given, so this one is needed too.",
                "angularity.vertical": "The other component of this plane is given, so this one is needed too.",
            },
        ),
        (
            {"method": "direct", "offset": {}, "angularity": {}},
            {"offset.vertical": "Nothing is given: enter at least one plane."},
        ),
        (
            {
                "method": "direct",
                "offset": {"vertical": q(0.02) | {"standard_uncertainty": q(-1)}},
                "angularity": {"vertical": q(0.1, "mil")},
            },
            {
                "offset.vertical.standard_uncertainty": "This must be greater than zero.",
                "angularity.vertical": f"{SLOPE}; mil is a thousandth of an inch, a length and never an angle.",
            },
        ),
        (
            {"method": "direct", "flex_angles": [{"vertical": q(1, "mrad")}]},
            {
                "flex_angles": "Two angles are expected: that at flex plane A, then that at B.",
                "flex_planes": "Flex angles need the positions of the flex planes.",
            },
        ),
        (
            other_method(
                "rim-and-face",
                [
                    four(**RIM),
                    FACE
                    | {
                        "readings": [
                            {"clock": 12, "value": q(0), "opposed": q(0)},
                            {"clock": 6, "value": q(0)},
                        ]
                    },
                ],
            ),
            {"reading_sets.1.readings.1.opposed": "The second dial's value is missing."},
        ),
    ],
)
def test_other_methods_say_what_they_lack(request_sent, errors):
    with pytest.raises(Refused) as refusal:
        run("alignment", request_sent, "metric")
    assert refusal.value.as_dict() == errors


def test_all_errors_of_a_request_come_at_once():
    request = spoilt("reading_sets.1.readings.2.value", q(math.nan))
    request["limits"]["offset"] = {"value": 5}
    request["feet"][0]["x"] = q(1, "kW")
    request["extra"] = 1
    with pytest.raises(Refused) as refusal:
        run("alignment", request, "metric")
    assert set(refusal.value.as_dict()) == {
        "reading_sets.1.readings.2.value",
        "limits.offset",
        "feet.0.x",
        "extra",
    }


@pytest.mark.parametrize("payload", [None, [], "text", 5, True])
def test_a_request_that_is_no_object_is_refused_as_a_whole(payload):
    with pytest.raises(Refused) as refusal:
        run("alignment", payload, "metric")
    assert refusal.value.as_dict() == {"": "The request must be a JSON object."}


def test_an_unknown_calculation_says_which_there_are():
    with pytest.raises(Missing, match="alignment"):
        run("alignement", {}, "metric")
