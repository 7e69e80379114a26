"""A request kept as typed fields is the same request when it is read back, unit and number as they came."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from couplings.calculations import payload_from_typed, read_alignment
from couplings.calculations.alignment_example import EXAMPLE
from couplings.calculations.as_typed import text_of, typed_from_request
from couplings.engineering.alignment import METHODS
from plant.refusals import Refused

NOT_READ = ("limits", "decision")
numbers = some.floats(-3, 3).map(lambda number: round(number, 6))
lengths = some.floats(60, 400).map(lambda number: round(number, 3))


def quantity(values, *units):
    return some.builds(lambda value, unit: {"value": value, "unit": unit}, values, some.sampled_from(units))


@some.composite
def requests(draw):
    method = draw(some.sampled_from([name for name in METHODS if name != "direct"]))
    small, far = quantity(numbers, "mm", "mil", "thou", "um"), quantity(lengths, "mm", "inch")
    sets = []
    for row in METHODS[method].sets:
        hours = draw(some.lists(some.sampled_from(range(1, 13)), min_size=3, unique=True))
        one = {"kind": row.kind, "readings": [{"clock": hour, "value": draw(small)} for hour in hours]}
        if row.carried_by:
            one["carried_by"] = row.carried_by
        if row.plane:
            one["plane"] = row.plane
        one |= {name.removesuffix("_mm"): draw(far) for name in row.geometry}
        if METHODS[method].has_sag and draw(some.booleans()):
            one |= {"sag": draw(small), "bracket": "long bracket"}
        if draw(some.booleans()):
            odd = draw(some.lists(some.sampled_from([-15.0, 7.5, 45, 135, 222.5]), min_size=1, unique=True))
            one["readings"] += [{"angle": angle, "value": draw(small)} for angle in odd]
        if row.kind == "face" and draw(some.booleans()):
            one["readings"] = [reading | {"opposed": draw(small)} for reading in one["readings"]]
        sets.append(one)
    turned = [
        {name: value for name, value in one.items() if name != "return_to_zero"} | {"turned": True}
        for one in sets
        if draw(some.booleans())
    ]
    sets += turned
    found = {"method": method, "viewed_from": draw(some.sampled_from(["movable", "stationary"])), "reading_sets": sets}
    if METHODS[method].needs_flex_planes:
        found["flex_planes"] = [{"value": -70.5, "unit": "mm"}, {"value": 2.75, "unit": "inch"}]
    return found


def bare(payload):
    """Without the labels that the method gives its sets, and readings in the order of the clock."""
    sets = [
        {name: value for name, value in row.items() if name != "name"}
        | {
            "readings": sorted(
                row["readings"], key=lambda reading: reading.get("clock", 0) * 30 + reading.get("angle", 0)
            )
        }
        for row in payload["reading_sets"]
    ]
    return payload | {"reading_sets": sets}


@given(requests())
def test_there_and_back_is_the_same_request(request):
    payload, errors = payload_from_typed(request["method"], typed_from_request(request), "us")
    assert errors == {}
    assert bare(payload) == bare(request)


def test_the_farther_of_two_planes_alone_is_taken_again():
    def rim(x, *values, **more):
        readings = [
            {"clock": hour, "value": {"value": value, "unit": "mm"}}
            for hour, value in zip((12, 4, 8), values, strict=True)
        ]
        return {"kind": "rim", "carried_by": "stationary", "x": {"value": x, "unit": "mm"}, "readings": readings} | more

    sets = [rim(60.0, 0.0, 0.1, 0.2), rim(90.0, 0.0, 0.3, 0.2), rim(90.0, 0.0, 0.2, 0.1, turned=True)]
    request = {"method": "double-radial", "viewed_from": "movable", "reading_sets": sets}
    payload, errors = payload_from_typed("double-radial", typed_from_request(request), "metric")
    assert errors == {}
    assert bare(payload) == bare(request)


def test_the_described_request_is_read_the_same_either_way():
    request = {name: value for name, value in EXAMPLE.items() if name not in NOT_READ}
    typed = typed_from_request(request)
    assert typed["set0.6"] == "0.3 mm"
    payload, errors = payload_from_typed("reverse-rim", typed, "us")
    assert errors == {}
    ours, theirs = read_alignment(payload), read_alignment(request)
    assert [one.readings_mm for one in ours.sets] == [one.readings_mm for one in theirs.sets]
    assert (ours.feet, ours.flex_planes_mm) == (theirs.feet, theirs.flex_planes_mm)


def test_sets_find_their_place_by_who_carries_the_dial():
    request = {name: value for name, value in EXAMPLE.items() if name not in NOT_READ}
    turned = request | {"reading_sets": request["reading_sets"][::-1]}
    assert typed_from_request(turned) == typed_from_request(request)


def test_angles_stand_for_the_clock():
    value = {"value": 1, "unit": "mil"}
    rows = [{"angle": angle, "value": value} for angle in (0, 90, -180, 270.0)]
    sets = [{"kind": "rim", "carried_by": "stationary", "readings": rows}]
    typed = typed_from_request({"method": "rim-and-face", "reading_sets": sets})
    assert typed == {"method": "rim-and-face", "set0.carried_by": "stationary"} | {
        f"set0.{hour}": "1 mil" for hour in (12, 3, 6, 9)
    }


def test_a_directly_given_position_keeps_its_uncertainties():
    one = {"value": 2, "unit": "mil", "standard_uncertainty": {"value": 0.1, "unit": "mil"}}
    typed = typed_from_request({"method": "direct", "offset": {"vertical": one}, "flex_angles": [{"horizontal": one}]})
    assert typed == {
        "method": "direct",
        "offset_v": "2 mil",
        "offset_v_u": "0.1 mil",
        "angle_a_h": "2 mil",
        "angle_a_h_u": "0.1 mil",
    }


RIM = {"kind": "rim", "carried_by": "stationary"}


@pytest.mark.parametrize(
    ("change", "path"),
    [
        ({"method": "guess"}, "method"),
        ({"limits": {}}, "limits"),
        ({"temperatures": {}}, "temperatures"),
        ({"offset": {}}, "offset"),
        ({"viewed_from": 3}, "viewed_from"),
        ({"reading_sets": "12"}, "reading_sets.0"),
        ({"reading_sets": [{"kind": "rim"}]}, "reading_sets.0"),
        ({"reading_sets": [RIM, RIM]}, "reading_sets.1"),
        ({"reading_sets": [RIM | {"turned": "yes"}]}, "reading_sets.0.turned"),
        ({"reading_sets": [RIM | {"turned": True}, RIM | {"turned": True}]}, "reading_sets.1"),
        ({"reading_sets": [RIM | {"half": True}]}, "reading_sets.0.half"),
        (
            {"reading_sets": [RIM | {"bracket": "long"}, RIM | {"turned": True, "bracket": "short"}]},
            "reading_sets.1.bracket",
        ),
        ({"reading_sets": [RIM | {"x": 75}]}, "reading_sets.0.x"),
        ({"reading_sets": [RIM | {"x": {"value": "75", "unit": "mm"}}]}, "reading_sets.0.x"),
        ({"reading_sets": [RIM | {"x": {"value": True, "unit": "mm"}}]}, "reading_sets.0.x"),
        ({"reading_sets": [RIM | {"x": {"value": 75, "unit": "9 mm"}}]}, "reading_sets.0.x"),
        ({"reading_sets": [RIM | {"x": {"value": 75, "unit": ""}}]}, "reading_sets.0.x"),
        ({"reading_sets": [RIM | {"readings": [{"clock": 13, "value": {}}]}]}, "reading_sets.0.readings.0"),
        ({"reading_sets": [RIM | {"readings": [{"clock": 3, "angle": 90}]}]}, "reading_sets.0.readings.0"),
        ({"reading_sets": [RIM | {"readings": [{"angle": 361, "value": {}}]}]}, "reading_sets.0.readings.0"),
        ({"reading_sets": [RIM | {"readings": [{"angle": 45, "value": {}}]}]}, "reading_sets.0.readings.0.value"),
        ({"reading_sets": [RIM | {"readings": [{"clock": 3, "seen": 1}]}]}, "reading_sets.0.readings.0"),
        ({"reading_sets": [RIM | {"readings": [{"clock": 3}]}]}, "reading_sets.0.readings.0.value"),
        ({"feet": [{}, {}, {}, {}, {}]}, "feet"),
        ({"feet": [{"name": "inboard"}]}, "feet.0"),
        ({"flex_planes": [{"value": 1, "unit": "mm"}]}, "flex_planes"),
    ],
)
def test_what_typed_fields_cannot_hold_is_refused_by_its_path(change, path):
    with pytest.raises(Refused) as refused:
        typed_from_request({"method": "rim-and-face", "viewed_from": "movable"} | change)
    assert set(refused.value.as_dict()) == {path}


def test_a_quantity_is_written_as_it_came():
    assert text_of({"value": 12, "unit": "mil"}) == "12 mil"
    assert text_of({"value": -1e-05, "unit": "inch"}) == "-1e-05 inch"
