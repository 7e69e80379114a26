"""Readings beside the clock as they are typed: odd angles, a second face dial, and again with the shafts turned."""

import math

import pytest

from couplings.calculations import field_of, payload_from_typed, read_alignment, read_typed, solve_alignment
from couplings.calculations.typed_sets import as_typed
from plant.refusals import Refused

BASE = {"viewed_from": "movable", "set0.x": "50", "set1.swing_radius": "100"}


def shown(found, rim=lambda turn: 0.0, face=lambda turn: 0.0):
    """Readings typed at 12, 3, 6, 9 of a rim and a face dial."""
    hours = {12: 0, 3: 90, 6: 180, 9: 270}
    return found | {
        f"set{number}.{hour}": f"{dial(math.radians(turn)):.6f}"
        for number, dial in enumerate((rim, face))
        for hour, turn in hours.items()
    }


def mean(typed):
    return solve_alignment(read_typed("rim-and-face", typed, "metric")).misalignment.mean


def refusal(**typed):
    with pytest.raises(Refused) as refused:
        read_typed("rim-and-face", shown(BASE) | typed, "metric")
    return refused.value.as_dict()


def rise(turn):
    """A shaft 0.1 mm high and 0.05 mm to the right, level. Constructed; the equations of a rim dial by hand."""
    return 0.1 * math.cos(turn) + 0.05 * math.sin(turn)


def test_a_partial_turn_at_odd_angles_gives_the_shaft_that_made_the_readings():
    odd = "; ".join(f"{angle}: {rise(math.radians(angle)):.6f} mm" for angle in (-75, -40, 0, 35.5, 70))
    typed = {**BASE, "set0.more": odd, "set1.12": "0", "set1.3": "0", "set1.6": "0", "set1.9": "0"}
    assert mean(typed) == pytest.approx((0.1, 0.05, 0, 0), abs=1e-6)


def test_odd_angles_stand_beside_the_clock():
    typed = shown(BASE, rise) | {"set0.more": f"45: {rise(math.radians(45)):.6f}\n 225 deg: {rise(3.926990817):.6f}"}
    request = read_typed("rim-and-face", typed, "metric")
    assert request.sets[0].angles_deg == (0, 90, 180, 270, 45, 225)
    assert mean(typed) == pytest.approx((0.1, 0.05, 0, 0), abs=1e-6)


def test_a_second_face_dial_takes_the_float_out():
    """Face with a slope of 1 mm/m up and a rotor that drifts 0.3 mm during the turn: one dial alone is wrong."""
    typed = shown(BASE, face=lambda turn: 0.1 * math.cos(turn) + 0.3 * turn)
    for hour, turn in ((12, 0), (3, 90), (6, 180), (9, 270)):
        turn = math.radians(turn)
        typed[f"set1.opposed{hour}"] = f"{-0.1 * math.cos(turn) + 0.3 * turn:.6f}"
    assert mean(typed) == pytest.approx((-0.05, 0, 1, 0), abs=1e-5)
    alone = {name: text for name, text in typed.items() if "opposed" not in name}
    assert mean(alone)[3] != pytest.approx(0, abs=0.5)


def test_shafts_turned_half_a_turn_take_the_run_out_of_the_face_away():
    """0.2 mm of face run-out to the right goes with the part, so it changes sign against the shafts."""
    typed = shown(BASE, face=lambda turn: 0.1 * math.cos(turn) + 0.2 * math.sin(turn))
    for hour, turn in ((12, 0), (3, 90), (6, 180), (9, 270)):
        turn = math.radians(turn)
        typed[f"set1.turned{hour}"] = f"{0.1 * math.cos(turn) - 0.2 * math.sin(turn):.6f}"
    assert mean(typed) == pytest.approx((-0.05, 0, 1, 0), abs=1e-5)
    assert [one.turned for one in read_typed("rim-and-face", typed, "metric").sets] == [False, False, True]


def test_what_was_taken_again_hangs_on_the_same_bracket():
    typed = shown(BASE) | {"set1.sag": "-0.02", "set1.sag_u": "0.01", "set1.turned12": "0", "set1.turned6": "0"}
    assert [one.bracket for one in read_typed("rim-and-face", typed, "metric").sets] == [None, "Face", "Face"]


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"set0.more": "0.12"}, "set0.more", "“0.12” is not an angle with its reading"),
        ({"set0.more": "45: 0.1; 0.2"}, "set0.more", "several apart by semicolons"),
        ({"set0.more": "north: 0.1"}, "set0.more", "“north” is not a number"),
        ({"set0.more": "400: 0.1"}, "set0.more", "between -360 and 360"),
        ({"set0.more": "45 rad: 0.1"}, "set0.more", "is not an angle in degrees"),
        ({"set0.more": "45: 0.1 N"}, "set0.more", "N is a unit of force"),
        ({"set0.more": "45: much"}, "set0.more", "is not a number"),
        ({"set0.more": "45: 30 mm"}, "set0.more", "more than a dial's travel"),
        ({"set0.more": "90: 0.1"}, "set0.more", "This position is there twice."),
        ({"set0.more": "45: 0.1; 45: 0.2"}, "set0.more", "This position is there twice."),
        ({"set1.opposed12": "0.1"}, "set1.opposed3", "The second dial's value is missing."),
        ({"set1.opposed2": "0.1"}, "set1.2", "A value is missing."),
        ({"set1.opposed_more": "45: 0.1"}, "set1.more", "A value is missing."),
        ({"set0.opposed12": "0", "set0.opposed3": "0", "set0.opposed6": "0", "set0.opposed9": "0"}, "set0.12",
         "Only face readings take a second, opposed dial."),
        ({"set1.turned12": "0.1 N*m"}, "set1.turned12", "N*m is a unit of torque"),
        ({"set1.turned_more": "12 o'clock 0.1"}, "set1.turned_more", "is not an angle with its reading"),
        ({"set1.turned12": "0", "set1.turned6": "99"}, "set1.turned6", "more than a dial's travel"),
        ({"set1.sag_u": "-0.1"}, "set1.sag_u", "must not be negative"),
    ],
)  # fmt: skip
def test_a_slip_in_them_is_told_beside_its_field(typed, field, said):
    found = refusal(**typed)
    assert said in found.get(field, ""), found


def test_an_error_far_down_finds_the_field_it_was_typed_in():
    payload, _errors = payload_from_typed(
        "rim-and-face", shown(BASE) | {"set1.turned3": "0", "set1.more": "5: 0"}, "metric"
    )
    assert field_of("reading_sets.2.readings.0.value", payload) == "set1.turned3"
    assert field_of("reading_sets.1.readings.4.angle", payload) == "set1.more"
    assert field_of("reading_sets.2.turned", payload) == "set1.turned12"
    read_alignment(payload)


def test_what_was_typed_is_found_again_by_its_angle():
    typed = {"set0.3": "0,12", "set0.more": "45: 3 mil; -30: 1", "set0.turned3": "7", "set1.opposed_more": "45: 2 mil"}
    assert as_typed(typed, 0, 90.0, turned=False) == "0,12"
    assert as_typed(typed, 0, 45.0, turned=False) == "3 mil"
    assert as_typed(typed, 0, 330.0, turned=False) == "1"
    assert as_typed(typed, 0, 90.0, turned=True) == "7"
    assert as_typed(typed, 1, 45.0, turned=False, opposed=True) == "2 mil"
    assert as_typed(typed, 1, 45.0, turned=True) == ""
