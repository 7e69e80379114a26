"""Soft foot, run-out, upright shafts, pipe strain and axial float: simulated and by properties."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from couplings.engineering.alignment import AlignmentError, ReadingSet, swapped
from couplings.engineering.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE, TOO_CLOSE, ConformityError
from couplings.engineering.endfloat import EndFloatError, float_left_mm, gap_to_set_mm
from couplings.engineering.one_figure import judge_figure, judge_vector
from couplings.engineering.pipestrain import PipeStrainError, movement
from couplings.engineering.runout import (
    RunOutError,
    eccentricity,
    limit_by_diameter_mm,
    plumb_limit_mm,
    run_out_mm,
    static_run_out_limit_mm,
    straightness,
)
from couplings.engineering.softfoot import SoftFootError, from_corner_gaps, from_pad_heights, from_rises
from couplings.engineering.tables.runouts import IEC, NEMA, PUMP_HUB, PUMP_SHAFT
from couplings.engineering.upright import COMPASS, compass_angle_deg, compass_point, solve_upright
from tests.couplings.engineering import shafts

PROPERTY = settings(max_examples=50, derandomize=True, deadline=None, database=None)
THOU = 0.0254
length = st.floats(0.0, 2.0)
four = st.lists(length, min_size=4, max_size=4)


@PROPERTY
@given(rises=st.lists(st.integers(0, 500), min_size=4, max_size=4, unique=True), order=st.permutations(range(4)))
def test_the_soft_foot_is_the_same_foot_in_any_order(rises, order):
    one, other = from_rises(rises), from_rises([rises[n] for n in order])
    assert order[other.foot] == one.foot
    assert other.shim_mm == one.shim_mm


def test_the_common_rise_is_the_median_of_the_other_feet():
    # One more high foot among the others does not shift what they have in common; the mean would say 0.14.
    found = from_rises([0.30, 0.05, 0.04, 0.33])
    assert (found.foot, found.common_mm, found.shim_mm) == (3, 0.05, pytest.approx(0.28))


@PROPERTY
@given(rises=four, common=length)
def test_a_rise_that_all_feet_share_asks_for_no_shim(rises, common):
    assert from_rises([rise + common for rise in rises]).shim_mm == pytest.approx(from_rises(rises).shim_mm)


@PROPERTY
@given(rises=four)
def test_thousandths_of_an_inch_give_the_same_shim(rises):
    assert from_rises([rise * THOU for rise in rises]).shim_mm == pytest.approx(from_rises(rises).shim_mm * THOU)


@PROPERTY
@given(level=length, along=st.floats(-0.5, 0.5), across=st.floats(-0.5, 0.5))
def test_a_tilted_foot_is_a_plane_and_its_mirror_turns_over(level, along, across):
    gaps = [level + 1 + s * along / 2 + t * across / 2 for s, t in ((-1, -1), (-1, 1), (1, 1), (1, -1))]
    found, mirror = from_corner_gaps(gaps), from_corner_gaps([gaps[n] for n in (1, 0, 3, 2)])
    assert (found.along_mm, found.across_mm) == pytest.approx((along, across), abs=1e-12)
    assert (mirror.along_mm, mirror.across_mm) == pytest.approx((along, -across), abs=1e-12)
    assert found.twist_mm == pytest.approx(0.0, abs=1e-12)


def test_corner_gaps_tell_no_gap_from_a_parallel_and_an_angular_one():
    assert from_corner_gaps([0.03, 0.0, 0.05, 0.02], 0.05).kind == "none"
    assert from_corner_gaps([0.2, 0.22, 0.25, 0.21], 0.05).kind == "parallel"
    angular = from_corner_gaps([0.0, 0.0, 0.2, 0.2], 0.05)
    assert (angular.kind, angular.widest, angular.shims_mm) == ("angular", 2, (0.0, 0.0, 0.2, 0.2))


@PROPERTY
@given(heights=four, level=st.floats(-5, 5), along=st.floats(-1, 1), across=st.floats(-1, 1))
def test_a_level_or_tilt_of_the_base_does_not_twist_it(heights, level, along, across):
    tilted = [
        h + level + s * along + t * across
        for h, (s, t) in zip(heights, ((-1, -1), (-1, 1), (1, 1), (1, -1)), strict=True)
    ]
    assert from_pad_heights(tilted).twist_mm == pytest.approx(from_pad_heights(heights).twist_mm, abs=1e-9)


def sweep(size, direction, angles, zero=0.0, radius=25.0):
    """A dial on a round shaft whose centre turns at `size` about the axis: exact geometry, no small-angle formula."""
    readings = []
    for angle in angles:
        off = math.radians(angle - direction)
        readings.append(zero + size * math.cos(off) + math.sqrt(radius**2 - (size * math.sin(off)) ** 2) - radius)
    return readings


@PROPERTY
@given(size=st.floats(0.005, 0.2), direction=st.floats(0.0, 359.0), zero=st.floats(-3, 3), turn=st.floats(0, 360))
def test_an_eccentric_shaft_is_found_with_its_high_side(size, direction, zero, turn):
    angles = [0.0, 40.0, 100.0, 150.0, 210.0, 250.0, 300.0]
    found = eccentricity(angles, sweep(size, direction, angles, zero))
    # The circle leaves the cosine in the second order, e^2 / 2r.
    assert found.size_mm == pytest.approx(size, abs=size**2 / 50 + 1e-9)
    assert found.direction_deg is not None
    assert math.cos(math.radians(found.direction_deg - direction)) == pytest.approx(1.0, abs=1e-4)
    # Positions counted from elsewhere: the direction follows, the size stays.
    moved = eccentricity([angle + turn for angle in angles], sweep(size, direction, angles, zero))
    assert moved.size_mm == pytest.approx(found.size_mm)
    assert moved.direction_deg is not None
    assert math.cos(math.radians(moved.direction_deg - found.direction_deg - turn)) == pytest.approx(1.0)


def test_an_eccentric_round_shaft_runs_out_by_twice_its_eccentricity():
    angles = list(range(0, 360, 5))
    readings = sweep(0.05, 90.0, angles)
    assert float(run_out_mm(readings)) == pytest.approx(0.1, abs=1e-9)
    assert eccentricity(angles, readings).other_mm < 1e-4
    assert run_out_mm([[0, 1, 0.5], [0, -2, 0.5]]) == pytest.approx([1.0, 2.5])


def test_the_uncertainty_of_an_eccentricity_is_that_of_repeated_trials():
    rng = np.random.default_rng(7)
    angles = [0.0, 90.0, 180.0, 270.0]
    true = np.array(sweep(0.05, 30.0, angles))
    sizes = [eccentricity(angles, list(true + 0.01 * rng.standard_normal(4))).size_mm for _ in range(4000)]
    assert eccentricity(angles, list(true), 0.01).u_mm == pytest.approx(np.std(sizes), rel=0.05)


def test_where_nothing_stands_off_there_is_no_direction():
    assert eccentricity([0, 120, 240], [0.1, 0.1, 0.1], 0.01).direction_deg is None
    assert eccentricity([0, 120, 240], [0.1, 0.11, 0.1], 0.01).direction_deg is None
    assert eccentricity([0, 120, 240], [0.1, 0.11, 0.1], 0.001).direction_deg == pytest.approx(120.0)


def test_bands_of_a_table_include_their_upper_end():
    # Table 2-4 prints "over a, up to b".
    assert [limit_by_diameter_mm(d, IEC) for d in (50.0, 50.1, 10.0, 630.0)] == [0.05, 0.06, 0.03, 0.14]
    assert limit_by_diameter_mm(1.625 * 25.4, NEMA) == pytest.approx(0.002 * 25.4)
    assert limit_by_diameter_mm(0.1875 * 25.4, NEMA) == pytest.approx(0.002 * 25.4)
    assert limit_by_diameter_mm(7000.0, PUMP_HUB) == 2 * limit_by_diameter_mm(7.0, PUMP_SHAFT)


@PROPERTY
@given(turn=st.floats(0, 360), lean=st.floats(-1, 1), bend=st.floats(0.001, 0.5))
def test_a_bend_is_the_same_from_any_side_and_however_the_shaft_leans(turn, lean, bend):
    z = [0.0, 1000.0, 2500.0, 4000.0]
    plane = np.array([[lean * s / 4000.0, 0.0] for s in z])
    plane[2, 1] = bend
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    found = straightness(z, plane @ np.array([[c, -s], [s, c]]))
    assert (found.place, found.deviation_mm) == (2, pytest.approx(bend))
    assert straightness(z[::-1], plane[::-1]).deviation_mm == pytest.approx(bend)


ROUND = ("N", "E", "S", "W")


def by_compass(angles, shown, **more):
    return ReadingSet(readings_mm=tuple(r - shown[0] for r in shown), angles_deg=tuple(angles), **more)


def upright_sets(shaft, carried_by="stationary"):
    """Rim and face dials on two upright shafts in space, north where the simulation has up, east where right."""
    angles = [compass_angle_deg(point) for point in ROUND]
    one, other = (shafts.STATIONARY, shaft) if carried_by == "stationary" else (shaft, shafts.STATIONARY)
    back = 1.0 if carried_by == "stationary" else -1.0
    return [
        by_compass(
            angles, [shafts.rim(one, other, 40.0, a) for a in angles], kind="rim", carried_by=carried_by, x_mm=40.0
        ),
        by_compass(
            angles,
            [shafts.face(one, other, 5.0, 80.0, a, back=back, far=False) for a in angles],
            kind="face",
            carried_by=carried_by,
            swing_radius_mm=80.0,
        ),
    ]


numbers = st.tuples(st.floats(-0.05, 0.05), st.floats(-0.05, 0.05), st.floats(-0.2, 0.2), st.floats(-0.2, 0.2))


@PROPERTY
@given(where=numbers, carried_by=st.sampled_from(["stationary", "movable"]))
def test_upright_shafts_in_space_come_back_by_compass(where, carried_by):
    found = solve_upright(upright_sets(shafts.movable(*where), carried_by)).misalignment
    assert found.mean[:2] == pytest.approx(where[:2], abs=5e-5)
    assert found.mean[2:] == pytest.approx(where[2:], abs=1e-3)


@PROPERTY
@given(where=numbers)
def test_the_other_shaft_as_movable_turns_the_offset_over_and_not_the_slope(where):
    sets = upright_sets(shafts.movable(*where))
    # The same dials, told from the other machine: who carries them changes its name, x its sign.
    named = {"stationary": "movable", "movable": "stationary"}
    other = [
        ReadingSet(
            item.kind,
            item.angles_deg,
            item.readings_mm,
            named[item.carried_by],
            x_mm=-item.x_mm,
            swing_radius_mm=item.swing_radius_mm,
        )
        for item in sets
    ]
    found = swapped(solve_upright(other).misalignment, compass=True)
    assert found.mean == pytest.approx(solve_upright(sets).misalignment.mean, abs=1e-9)


def test_compass_points_go_round_with_the_sun():
    assert [compass_angle_deg(point) for point in COMPASS] == [45.0 * n for n in range(8)]
    assert [compass_point(angle) for angle in (0, 22, 23, 350, 100, -90)] == ["N", "N", "NE", "N", "E", "W"]


def test_an_upright_shaft_has_no_sag_and_no_step():
    rim = by_compass([0.0, 180.0], [0.0, 0.1], kind="rim", carried_by="stationary", sag_mm=-0.02)
    step = by_compass([0.0, 180.0], [0.0, 0.1], kind="step")
    with pytest.raises(AlignmentError) as refusal:
        solve_upright([rim, step])
    assert set(refusal.value.errors) == {"reading_sets.0.sag", "reading_sets.1.kind"}


@PROPERTY
@given(before=st.tuples(length, length), after=st.tuples(length, length), zero=st.tuples(length, length))
def test_pipe_strain_does_not_know_the_dials_zero(before, after, zero):
    moved = movement(before, after)
    shifted = movement(
        [b + z for b, z in zip(before, zero, strict=True)], [a + z for a, z in zip(after, zero, strict=True)]
    )
    assert (shifted.vertical_mm, shifted.horizontal_mm) == pytest.approx(
        (moved.vertical_mm, moved.horizontal_mm), abs=1e-12
    )
    back = movement(after, before)
    assert back.size_mm == pytest.approx(moved.size_mm)


def test_pipe_strain_has_a_direction_and_the_spread_of_two_readings():
    moved = movement((0.0, 0.0), (0.0, -0.03), 0.01)
    assert moved.direction_deg == pytest.approx(270.0)
    assert moved.u_mm == pytest.approx(0.01 * math.sqrt(2))
    assert movement((0.0, 0.0), (0.0, 0.0)).direction_deg is None


def test_one_figure_gets_the_same_words_as_every_verdict():
    words = [judge_figure(value, 0.01, 0.05, "figure").verdict for value in (0.02, 0.05, 0.08)]
    assert words == [IN_TOLERANCE, TOO_CLOSE, OUT_OF_TOLERANCE]
    exact = [judge_figure(value, 0.0, 0.05, "figure").verdict for value in (0.05, 0.0501)]
    assert exact == [IN_TOLERANCE, OUT_OF_TOLERANCE]
    simple = judge_figure(0.05, 0.01, 0.05, "figure", decision="simple")
    assert (simple.verdict, simple.probability) == (IN_TOLERANCE, pytest.approx(0.5))
    assert [line.quantity for line in simple.lines] == ["figure"]


def test_what_decides_one_figure_is_another_reading():
    assert "the mean of 3 such readings could decide" in judge_figure(0.04, 0.01, 0.05, "figure").needs
    assert judge_figure(0.05, 0.01, 0.05, "figure").needs == (
        "the value lies on the limit, so putting it right settles it sooner than measuring again",
    )


def test_a_vector_is_judged_as_a_length_or_plane_by_plane():
    at_45 = (0.04, 0.04)
    assert judge_vector(at_45, (0.0, 0.0), 0.05, "movement").verdict == OUT_OF_TOLERANCE
    planes = judge_vector(at_45, (0.0, 0.0), 0.05, "movement", rule="per-plane")
    assert planes.verdict == IN_TOLERANCE
    assert [line.plane for line in planes.lines] == ["vertical", "horizontal"]


@pytest.mark.parametrize(
    "call, kind, field",
    [
        (lambda: from_rises([0.1, 0.2]), SoftFootError, "feet"),
        (lambda: from_rises([0.1, 0.2, math.nan]), SoftFootError, "feet.2.rise"),
        (lambda: from_rises([0.1, 0.2, -0.1]), SoftFootError, "feet.2.rise"),
        (lambda: from_rises([0.1, 0.2, 0.1], -1), SoftFootError, "standard_uncertainty"),
        (lambda: from_corner_gaps([0.1] * 3), SoftFootError, "corner_gaps"),
        (lambda: from_corner_gaps([0.1] * 4, math.nan), SoftFootError, "resolution"),
        (lambda: from_pad_heights([0.1] * 5), SoftFootError, "pad_heights"),
        (lambda: from_pad_heights([0.1, 0.1, math.inf, 0.1]), SoftFootError, "pad_heights.2"),
        (lambda: run_out_mm([0.1]), RunOutError, "readings"),
        (lambda: run_out_mm([0.1, math.nan]), RunOutError, "readings"),
        (lambda: eccentricity([0, 90], [0.1, 0.2]), RunOutError, "readings"),
        (lambda: eccentricity([0, 360, 720], [0.1, 0.2, 0.3]), RunOutError, "readings"),
        (lambda: eccentricity([0, 90, 180], [0.1, 0.2]), RunOutError, "readings"),
        (lambda: eccentricity([0, 90, 180], [0.1, 0.2, 0.1], -1), RunOutError, "standard_uncertainty"),
        (lambda: limit_by_diameter_mm(0.0), RunOutError, "diameter"),
        (lambda: limit_by_diameter_mm(6.0, IEC), RunOutError, "diameter"),
        (lambda: limit_by_diameter_mm(700.0, IEC), RunOutError, "diameter"),
        (lambda: static_run_out_limit_mm(0.0, 1.0), RunOutError, "shaft_length"),
        (lambda: static_run_out_limit_mm(1.0, math.nan), RunOutError, "runner_diameter"),
        (lambda: plumb_limit_mm(-1.0), RunOutError, "length"),
        (lambda: straightness([0, 1], [0, 1]), RunOutError, "points"),
        (lambda: straightness([0, 2, 1], [0, 1, 0]), RunOutError, "points"),
        (lambda: movement((0.0, math.nan), (0.0, 0.0)), PipeStrainError, "before.horizontal"),
        (lambda: movement((0.0, 0.0), (0.0, 0.0), -1), PipeStrainError, "standard_uncertainty"),
        (lambda: float_left_mm(-1.0, 0.0), EndFloatError, "rotor_end_float"),
        (lambda: gap_to_set_mm(1.0, 2.0), EndFloatError, "rotor_from_centre"),
        (lambda: gap_to_set_mm(1.0, math.inf), EndFloatError, "rotor_from_centre"),
        (lambda: judge_figure(-0.1, 0.0, 0.05, "figure"), ConformityError, "value"),
        (lambda: judge_figure(0.1, 0.0, 0.0, "figure"), ConformityError, "limit"),
        (lambda: judge_vector((math.nan, 0.0), (0.0, 0.0), 0.05, "movement"), ConformityError, "movement"),
        (lambda: compass_angle_deg("north"), AlignmentError, "at"),
        (lambda: compass_point(math.nan), AlignmentError, "angle"),
    ],
)
def test_what_cannot_be_used_is_refused_by_its_field(call, kind, field):
    with pytest.raises(kind) as refusal:
        call()
    assert refusal.value.field == field
