"""What cannot be solved is refused, with the field and what is missing."""

import math

import pytest

from couplings.engineering.alignment import (
    AlignmentError,
    Misalignment,
    ReadingSet,
    at,
    check_method,
    clock_angle_deg,
    closure_mm,
    closure_refused,
    direct,
    flex_angles,
    from_flex_angles,
    minus_target,
    solve,
    to_record,
)

ROUND = (0.0, 90.0, 180.0, 270.0)


def rim(angles: tuple[float, ...] = ROUND, x: float = 75.0, **more: object) -> ReadingSet:
    readings = tuple(0.01 * n for n in range(len(angles)))
    return ReadingSet("rim", angles, readings, **{"carried_by": "stationary", "x_mm": x, **more})  # type: ignore[arg-type]


def face(angles: tuple[float, ...] = ROUND, **more: object) -> ReadingSet:
    return ReadingSet("face", angles, (0.0,) * len(angles), **{"swing_radius_mm": 50.0, **more})  # type: ignore[arg-type]


def flex(plane: str, **more: object) -> ReadingSet:
    return ReadingSet("flex-angle", ROUND, (0.0,) * 4, **{"plane": plane, "distance_mm": 90.0, **more})  # type: ignore[arg-type]


UNSOLVABLE = {
    "nothing": ([], "reading_sets", "No readings yet"),
    "one position": ([rim((0.0,)), face()], "reading_sets.0.readings", "One position alone"),
    "one step alone": (
        [ReadingSet("step", (0.0,), (0.2,)), ReadingSet("gap", ROUND, (3.0,) * 4, swing_radius_mm=50.0)],
        "reading_sets.0.readings",
        "One position alone",
    ),
    "one angle": ([rim(), face((90.0, 90.0, 450.0))], "reading_sets.1.readings", "at one angle"),
    "a quarter": ([rim((0.0, 90.0)), face((0.0, 90.0))], "reading_sets.0.readings", "read a third position"),
    "oblique pair": ([rim((45.0, 225.0)), face((0.0, 180.0))], "reading_sets.0.readings", "12 and 6 or 3 and 9"),
    "one plane twice": ([rim(), rim()], "reading_sets.1.x", "One plane is read twice"),
    "one plane from both": ([rim(), rim(carried_by="movable")], "reading_sets.1.x", "One plane is read twice"),
    "one rim": ([rim()], "reading_sets", "gives no slope"),
    "faces only": ([face(), face()], "reading_sets", "Nothing here measures the offset"),
    "no common plane": ([rim((0.0, 180.0)), face((90.0, 270.0))], "reading_sets", "No plane is read in every set"),
    "one flex plane twice": ([flex("A"), flex("A")], "reading_sets.1.plane", "flex plane B is missing"),
    "run-out of nothing": ([rim(), face(turned=True)], "reading_sets.1.turned", "as they first stood"),
}


@pytest.mark.parametrize("sets, where, what", UNSOLVABLE.values(), ids=UNSOLVABLE.keys())
def test_what_is_missing_is_said(sets, where, what):
    with pytest.raises(AlignmentError) as refusal:
        solve(sets, flex_planes_mm=(-70.0, 70.0))
    assert where in refusal.value.errors
    assert what in refusal.value.errors[where]


IMPOSSIBLE = {
    "kind": (ReadingSet("laser", ROUND, (0.0,) * 4), "kind"),
    "carrier": (rim(carried_by=None), "carried_by"),
    "x": (rim(x=math.inf), "x"),
    "swing": (face(swing_radius_mm=0.0), "swing_radius"),
    "no swing": (face(swing_radius_mm=None), "swing_radius"),
    "surface": (face(surface="side"), "surface"),
    "flex plane": (flex("C"), "plane"),
    "flex length": (flex("A", distance_mm=None), "swing_radius"),
    "flex both lengths": (flex("A", swing_radius_mm=50.0), "swing_radius"),
    "flex negative": (flex("A", distance_mm=-1.0), "distance"),
    "angle": (rim((0.0, math.nan, 180.0)), "readings.1.angle"),
    "reading": (ReadingSet("rim", ROUND, (0.0, 0.0, math.inf, 0.0), "stationary"), "readings.2.value"),
    "opposed reading": (face(opposed_mm=(0.0, 0.0, 0.0, math.nan)), "readings.3.opposed"),
    "opposed rim": (rim(opposed_mm=(0.0,) * 4), "opposed"),
    "lengths": (ReadingSet("rim", ROUND, (0.0,) * 3, "stationary"), "readings"),
    "uncertainty": (rim(u_mm=0.0), "standard_uncertainty"),
    "sag": (rim(sag_mm=math.nan), "sag"),
    "sag uncertainty": (rim(sag_u_mm=-0.01), "sag_standard_uncertainty"),
    "return": (rim(return_to_zero_mm=math.nan), "return_to_zero"),
    "half step": (ReadingSet("step", ROUND, (0.0,) * 4, half=True), "readings_are"),
    "sagging gap": (ReadingSet("gap", ROUND, (0.0,) * 4, swing_radius_mm=50.0, sag_mm=0.1), "sag"),
    "empty": (rim(()), "readings"),
}


@pytest.mark.parametrize("item, where", IMPOSSIBLE.values(), ids=IMPOSSIBLE.keys())
def test_an_impossible_figure_is_refused_beside_its_field(item, where):
    with pytest.raises(AlignmentError) as refusal:
        solve([rim(), face(), item], flex_planes_mm=(-70.0, 70.0))
    assert f"reading_sets.2.{where}" in refusal.value.errors


def test_all_errors_show_at_once():
    with pytest.raises(AlignmentError) as refusal:
        solve([rim(carried_by=None), face(swing_radius_mm=None, u_mm=-1.0)])
    assert set(refusal.value.errors) == {
        "reading_sets.0.carried_by",
        "reading_sets.1.swing_radius",
        "reading_sets.1.standard_uncertainty",
    }
    assert refusal.value.field == "reading_sets.0.carried_by"
    assert refusal.value.message in str(refusal.value)


@pytest.mark.parametrize("planes, where", [(None, ""), ((0.0,), ""), ((math.nan, 1.0), ".0"), ((70.0, -70.0), ".1")])
def test_flex_planes_must_be_two_in_order(planes, where):
    with pytest.raises(AlignmentError) as refusal:
        solve([flex("A"), flex("B")], flex_planes_mm=planes)
    assert refusal.value.field == f"flex_planes{where}"


def test_words_that_mean_nothing_are_refused():
    known = direct((0, 0), (0, 0), offset_u_mm=(0, 0), slope_u_mrad=(0, 0))
    refused = {
        "viewed_from": lambda: solve([rim(), face()], viewed_from="above"),
        "stationary": lambda: to_record(known.misalignment, "pump"),
        "clock": lambda: clock_angle_deg(13),
        "x": lambda: at(known.misalignment, math.nan),
        "flex_planes.1": lambda: flex_angles(known.misalignment, 1.0, 1.0),
        "target.angularity.vertical": lambda: minus_target(known.misalignment, (0, 0, math.nan, 0)),
        "target": lambda: minus_target(known.misalignment, (0, 0)),
        "readings": lambda: closure_mm([0.0, 1.0, math.nan, 0.0]),
        "closure_limit": lambda: closure_refused(known, 0.0),
        "method": lambda: check_method("by eye", []),
        "reading_sets.1.kind": lambda: check_method("reverse-rim", [rim(), face()]),
        "reading_sets": lambda: check_method("rim-and-face", [rim()]),
        "": lambda: Misalignment.of([0.0, 0.0], [[0.0]]),
    }
    for field, call in refused.items():
        with pytest.raises(AlignmentError) as refusal:
            call()
        assert refusal.value.field == field


def test_typed_figures_need_their_fellows_and_their_uncertainty():
    def errors(offset, slope, offset_u=(0.01, 0.01), slope_u=(0.1, 0.1)):
        with pytest.raises(AlignmentError) as refusal:
            direct(offset, slope, offset_u_mm=offset_u, slope_u_mrad=slope_u)
        return set(refusal.value.errors)

    assert errors((0.1, None), (None, None)) == {"angularity.vertical"}
    assert errors((0.1, math.nan), (0.1, 0.2)) == {"offset.horizontal"}
    assert errors((None, None), (None, None)) == {"offset.vertical"}
    assert errors((0.1, 0.1), (0.1, 0.2), slope_u=(None, -1.0)) == {
        "angularity.vertical.standard_uncertainty",
        "angularity.horizontal.standard_uncertainty",
    }
    with pytest.raises(AlignmentError) as refusal:
        from_flex_angles((0.1, 0.1), (None, 0.1), a_u_mrad=(0.1, 0.1), b_u_mrad=(0.1, 0.1), flex_planes_mm=(-70, 70))
    assert refusal.value.field == "flex_angles.1.vertical"
