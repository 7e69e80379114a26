"""Covariance, quality figures and warnings of a survey."""

import math

import numpy as np
import pytest

from couplings.engineering.alignment import (
    METHODS,
    ReadingSet,
    Solution,
    at,
    check_method,
    clock_angle_deg,
    closure_refused,
    direct,
    flex_angles,
    from_flex_angles,
    from_record,
    minus_target,
    solve,
    swapped,
    to_record,
)

ROUND = (0.0, 90.0, 180.0, 270.0)


def reverse(
    one: tuple[float, ...] = (0.0,) * 4, other: tuple[float, ...] = (0.0,) * 4, angles=ROUND, **more
) -> list[ReadingSet]:
    return [
        ReadingSet("rim", angles, one, carried_by="stationary", x_mm=75.0, **more),
        ReadingSet("rim", angles, other, carried_by="movable", x_mm=-75.0, **more),
    ]


def rim_and_face(readings: tuple[float, ...], angles: tuple[float, ...] = ROUND, **more) -> list[ReadingSet]:
    face = ReadingSet("face", ROUND, (0.0,) * 4, swing_radius_mm=80.0)
    return [ReadingSet("rim", angles, readings, carried_by="stationary", **more), face]


def test_top_and_bottom_alone_solve_their_own_plane():
    # Constructed from d = -0.24 at x = 75 and -0.08 at x = -75: y = (-0.24 - 0.08) / 2, slope = -0.16 / 0.15 m.
    solution = solve(reverse((0.0, 0.48), (0.0, -0.16), angles=(0.0, 180.0)))
    found = solution.misalignment
    assert (found.has_vertical, found.has_horizontal) == (True, False)
    assert (found.mean[0], found.mean[2]) == pytest.approx((-0.16, -0.16 / 0.15))
    assert math.isnan(found.mean[1])
    assert math.isnan(found.mean[3])
    vertical, horizontal = at(found, 500.0)[0]
    assert vertical == pytest.approx(-0.16 - 0.16 / 0.15 * 0.5)
    assert math.isnan(horizontal)
    assert any("horizontal plane" in warning for warning in solution.sets[0].warnings)


def test_sides_alone_solve_their_own_plane():
    found = solve(reverse((0.0, 0.48), (0.0, -0.16), angles=(90.0, 270.0))).misalignment
    assert (found.has_vertical, found.has_horizontal) == (False, True)
    assert (found.mean[1], found.mean[3]) == pytest.approx((-0.16, -0.16 / 0.15))


def test_covariance_is_what_repeated_surveys_scatter():
    # Independent route: 4000 seeded surveys with noise on every reading and an error of the shared bracket's sag.
    generator = np.random.default_rng(7)
    u, sag_u, angles = 0.01, 0.02, (0.0, 60.0, 120.0, 180.0, 270.0)
    shape = (1 - np.cos(np.radians(angles))) / 2
    found = []
    for _ in range(4000):
        sag = generator.normal(0, sag_u) * shape
        one, other = (tuple(generator.normal(0, u, 5) + sag) for _ in range(2))
        sets = reverse(one, other, angles, u_mm=u, sag_u_mm=sag_u, bracket="clamp")
        found.append(solve(sets).misalignment.mean)
    stated = solve(reverse((0.0,) * 5, (0.0,) * 5, angles, u_mm=u, sag_u_mm=sag_u, bracket="clamp"))
    ratio = np.std(found, axis=0) / stated.misalignment.standard_uncertainty
    # The standard deviation of 4000 draws is uncertain by 1.1 %: four of that.
    assert ratio == pytest.approx(np.ones(4), abs=0.045)


def test_a_shared_brackets_sag_cancels_in_the_offset_and_adds_up_in_the_slope():
    sag_u = 0.02
    shared = solve(reverse(u_mm=1e-6, sag_u_mm=sag_u, bracket="clamp")).misalignment.standard_uncertainty
    apart = solve(reverse(u_mm=1e-6, sag_u_mm=sag_u)).misalignment.standard_uncertainty
    half = sag_u / 2  # what a sag error does to one plane's height
    assert shared[0] == pytest.approx(0.0, abs=1e-6)
    assert shared[2] == pytest.approx(2 * half / 0.150, rel=1e-6)
    assert apart[0] == pytest.approx(half / math.sqrt(2), rel=1e-6)
    assert apart[2] == pytest.approx(math.sqrt(2) * half / 0.150, rel=1e-6)
    assert (shared[1], shared[3]) == pytest.approx((0.0, 0.0), abs=1e-4)


def test_sag_is_taken_out_at_oblique_positions_too():
    angles = (20.0, 100.0, 190.0, 280.0, 330.0)
    sag, true = -0.06, (0.08, -0.05)
    t = np.radians(angles)
    shown = true[0] * np.cos(t) + true[1] * np.sin(t) + sag * (1 - np.cos(t)) / 2
    found = solve(rim_and_face(tuple(shown), angles, sag_mm=sag)).misalignment
    assert found.mean[:2] == pytest.approx(true)


def test_scatter_beyond_the_stated_widens_the_result_by_chi_square():
    # A rim closure of 0.08 mm leaves residuals of 0.02 mm each, chi-square 16 over 2 degrees of freedom.
    solution = solve(rim_and_face((0.02, -0.02, 0.02, -0.02), u_mm=0.01))
    assert (solution.chi2, solution.dof, solution.factor) == pytest.approx((16.0, 2, 8.0))
    assert solution.misalignment.standard_uncertainty[0] == pytest.approx(math.sqrt(8 * 0.01**2 / 2))
    assert "scatter" in solution.warnings[0]
    assert solution.sets[0].rms_mm == pytest.approx(0.02)


def test_scatter_below_the_stated_does_not_narrow_the_result():
    solution = solve(rim_and_face((0.0001, -0.0001, 0.0001, -0.0001), u_mm=0.01))
    assert solution.factor == 1.0
    assert solution.misalignment.standard_uncertainty[0] == pytest.approx(0.01 / math.sqrt(2))


def test_the_spread_travels_to_every_plane():
    found = solve(reverse((0.0, 0.1, 0.2, 0.1), (0.0,) * 4)).misalignment
    var_y, var_s, cov = (found.covariance[i][j] for i, j in ((0, 0), (2, 2), (0, 2)))
    assert at(found, 400.0)[1][0, 0] == pytest.approx(var_y + 0.16 * var_s + 0.8 * cov)
    assert np.all(np.linalg.eigvalsh(flex_angles(found, -70.0, 70.0)[1]) > -1e-15)


def closing(error: float, u: float, limit: float = 0.05) -> tuple[Solution, bool]:
    solution = solve(rim_and_face((error / 4, -error / 4, error / 4, -error / 4), u_mm=u))
    return solution, closure_refused(solution, limit)


def test_a_closure_is_refused_only_beyond_the_limit_and_three_of_its_deviations():
    assert closing(0.08, 0.01)[1]  # beyond 0.05 and beyond 3 x 0.02
    assert not closing(0.055, 0.01)[1]  # beyond 0.05, within 0.06
    assert not closing(0.08, 0.02)[1]  # a coarser instrument may not close better
    assert not closing(0.04, 0.001)[1]  # within the site's limit
    solution, _ = closing(0.04, 0.001)
    assert any("do not add up" in warning for warning in solution.sets[0].warnings)
    assert solution.sets[0].closure_mm == pytest.approx(0.04)


def test_a_published_closure_that_is_no_plane_is_refused():
    # R. B. McMillan 2004, example 8-4: 0, -1, +2, -2 mil is used there, and closes only to 5 mil.
    readings = tuple(0.0254 * r for r in (0, -1, 2, -2))
    solution = solve(rim_and_face(readings, u_mm=0.01))
    assert abs(solution.sets[0].closure_mm or 0.0) == pytest.approx(5 * 0.0254)
    assert closure_refused(solution, 0.0508)


def test_closures_come_from_any_two_opposite_pairs_and_average_repeats():
    oblique = solve(rim_and_face((0.01, -0.01, 0.01, -0.01), (30.0, 120.0, 210.0, 300.0))).sets[0]
    assert oblique.closure_mm == pytest.approx(0.04)
    repeated = solve(rim_and_face((0.0, 0.02, 0.0, 0.0, 0.0), (0.0, 360.0, 90.0, 180.0, 270.0), u_mm=0.01)).sets[0]
    assert repeated.closure_mm == pytest.approx(0.01)
    assert repeated.closure_sd_mm == pytest.approx(0.01 * math.sqrt(3.5))
    assert solve(rim_and_face((0.0,) * 3, (0.0, 90.0, 270.0))).sets[0].closure_mm is None


def test_run_out_does_not_spoil_a_closure():
    face = ReadingSet("face", ROUND, (0.03, 0.0, -0.03, 0.0), swing_radius_mm=80.0)
    turned = ReadingSet("face", ROUND, (-0.01, 0.0, 0.01, 0.0), swing_radius_mm=80.0, turned=True)
    rim = ReadingSet("rim", ROUND, (0.0,) * 4, carried_by="stationary")
    solution = solve([rim, face, turned])
    assert [s.closure_mm for s in solution.sets] == pytest.approx([0.0, 0.0, 0.0])
    assert solution.misalignment.mean[2] == pytest.approx((0.03 - 0.01) / 2 / 0.080)
    each = ReadingSet(
        "face",
        ROUND + ROUND,
        face.readings_mm + turned.readings_mm,
        swing_radius_mm=80.0,
        turned=(False,) * 4 + (True,) * 4,
    )
    assert solve([rim, each]).misalignment.mean == pytest.approx(solution.misalignment.mean)


def test_a_second_opposed_dial_halves_the_variance():
    single = ReadingSet("face", ROUND, (0.0,) * 4, swing_radius_mm=80.0)
    double = ReadingSet("face", ROUND, (0.0,) * 4, swing_radius_mm=80.0, opposed_mm=(0.0,) * 4)
    rim = ReadingSet("rim", ROUND, (0.0,) * 4, carried_by="stationary")
    one, two = (solve([rim, face]).misalignment.covariance[2][2] for face in (single, double))
    assert two == pytest.approx(one / 2)


def test_arcs_are_what_the_positions_cover():
    arcs = {
        ROUND: 360.0,
        (0.0, 120.0, 240.0): 360.0,
        (0.0, 45.0, 90.0, 180.0, 270.0): 360.0,
        (270.0, 0.0, 90.0): 180.0,
        (0.0, 45.0, 90.0): 90.0,
        (0.0, 180.0): 180.0,
        tuple(float(a) for a in range(0, 241, 10)): 240.0,
    }
    for angles, arc in arcs.items():
        assert solve(rim_and_face((0.0,) * len(angles), angles)).sets[0].arc_deg == pytest.approx(arc)


def test_a_short_arc_asks_to_turn_further_in_words():
    # Dense readings over 90 degrees centred on top: 8.04 times, from the closed form of the integral.
    angles = tuple(-45.0 + (np.arange(900) + 0.5) / 10)
    top = solve(rim_and_face((0.0,) * 900, angles)).sets[0].warnings
    assert top[0] == "turn further: over a 90° arc the vertical result is eight times less certain"
    side = solve(rim_and_face((0.0,) * 900, tuple(a + 90.0 for a in angles))).sets[0].warnings
    assert side[-1] == "turn further: over a 90° arc the horizontal result is eight times less certain"
    assert not solve(rim_and_face((0.0,) * 4)).sets[0].warnings


def test_three_positions_say_that_nothing_checks_them():
    assert any("nothing checks" in w for w in solve(rim_and_face((0.0,) * 3, (270.0, 0.0, 90.0))).sets[0].warnings)


def test_a_slipped_dial_is_noticed_by_its_uncertainty():
    def warned(back: float) -> bool:
        said = solve(rim_and_face((0.0,) * 4, u_mm=0.01, return_to_zero_mm=back)).sets[0].warnings
        return any("did not come back" in w for w in said)

    assert not warned(0.04)
    assert warned(-0.05)


def test_the_record_keeps_one_frame_whoever_stood_still():
    known = direct((0.1, 0.2), (0.3, 0.4), offset_u_mm=(0.01, 0.02), slope_u_mrad=(0.03, 0.04)).misalignment
    assert to_record(known, "driven") is known
    assert to_record(known, "driver").mean == (-0.1, 0.2, 0.3, -0.4)
    assert from_record(to_record(known, "driver"), "driver") == known
    assert swapped(known, compass=True).mean == (-0.1, -0.2, 0.3, 0.4)


def test_typed_figures_seen_from_the_stationary_machine_turn_left_into_right():
    u = {"offset_u_mm": (0.01, 0.01), "slope_u_mrad": (0.1, 0.1)}
    found = direct((0.1, 0.2), (0.3, 0.4), viewed_from="stationary", **u).misalignment
    assert found.mean == (0.1, -0.2, 0.3, -0.4)
    half = direct((0.1, None), (0.3, None), **u).misalignment
    assert (half.has_vertical, half.has_horizontal) == (True, False)
    angles = from_flex_angles(
        (0.2, 0.1), (-1.0, 0.3), a_u_mrad=(0.1, 0.1), b_u_mrad=(0.1, 0.1), flex_planes_mm=(-300, 0)
    )
    # RV-11's shafts: 0.06 mm at the movable flex plane, slope -0.8 mrad.
    assert (angles.misalignment.mean[0], angles.misalignment.mean[2]) == pytest.approx((0.06, -0.8))
    assert at(angles.misalignment, 0.0)[1][0, 0] == pytest.approx((0.3 * 0.1) ** 2)


def test_a_target_is_taken_off_with_its_uncertainty():
    known = direct((0.1, 0.2), (0.3, 0.4), offset_u_mm=(0.03, 0.03), slope_u_mrad=(0.1, 0.1)).misalignment
    left = minus_target(known, (0.1, 0.0, -0.1, 0.4), np.diag([0.04**2, 0, 0, 0]))
    assert left.mean == pytest.approx((0.0, 0.2, 0.4, 0.0))
    assert left.standard_uncertainty[0] == pytest.approx(0.05)


def test_clock_positions_are_thirty_degrees_an_hour():
    assert [clock_angle_deg(c) for c in (12, 3, 6, 9, 1.5, 0)] == [0.0, 90.0, 180.0, 270.0, 45.0, 0.0]


def test_every_method_is_a_row_whose_own_sets_fit_it():
    assert set(METHODS) == {
        "rim-and-face",
        "reverse-rim",
        "double-radial",
        "face-face",
        "shaft-to-spool",
        "straightedge",
        "direct",
    }
    for name, method in METHODS.items():
        sets = []
        for place, row in enumerate(method.sets):
            given = {field: 50.0 + 100.0 * place for field in row.geometry}
            sets.append(ReadingSet(row.kind, ROUND, (0.0,) * 4, row.carried_by, plane=row.plane, **given))
        assert check_method(name, sets) is method
        if sets:
            assert solve(sets, flex_planes_mm=(-70.0, 70.0)).misalignment.has_horizontal
