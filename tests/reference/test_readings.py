"""Published figures of sag, closure, straightedge and least squares, through the public functions.

The cases look from the fixed machine; results here are seen from the movable one, so a horizontal result is compared
with its sign turned over.
"""

import math

import numpy as np
import pytest

from couplings.engineering import alignment
from couplings.engineering.alignment import ReadingSet, solve
from tests.reference.alignment_cases import (
    FLAT,
    INCH,
    ROUND,
    assert_agrees,
    cases,
    heights,
    pair,
)


@cases("SG-01")
def test_sag_comes_out_at_every_position(case):
    # The book's true sag is a droop; a dial shows twice of it, negative, at the bottom.
    given = case["inputs"]
    rim = ReadingSet(
        "rim", ROUND, tuple(given["readings_T_R_B_L"]), carried_by="stationary", sag_mm=-2.0 * given["true_sag"]
    )
    offset = solve([rim, FLAT]).misalignment.mean[0]
    assert_agrees(case, {"corrected_T_R_B_L": list(rim.corrected_mm()), "offset": abs(offset)})


@cases("SG-02", "SG-05")
def test_bottom_readings_are_corrected_for_sag(case):
    # SG-02 quotes half of what a dial shows at the bottom, SG-05 the whole.
    given = case["inputs"]
    shown = given.get("sag_test_bottom_reading", 2.0 * given.get("indicated_sag_first_method", 0.0))
    rim = ReadingSet("rim", (0.0, 180.0), (0.0, given["bottom_reading"]), carried_by="stationary", sag_mm=shown)
    bottom = float(rim.corrected_mm()[1])
    ours = {"corrected": bottom, "corrected_bottom": bottom, "correction": bottom - given["bottom_reading"]}
    assert_agrees(case, {name: value for name, value in ours.items() if name in case["expected"]})


@cases("SG-04")
def test_face_sag_is_corrected_wherever_the_dial_was_zeroed(case):
    shown = case["inputs"]["face_reading_when_bracket_is_deflected_up_by_rim_sag_at_top"]
    top, bottom = ReadingSet("face", (0.0, 180.0), (0.0, 0.0), swing_radius_mm=50.0, sag_mm=shown).corrected_mm()
    assert_agrees(
        case,
        {
            "face_sag_correction_at_bottom": bottom - top,
            "face_sag_correction_at_top_if_zeroed_at_bottom": top - bottom,
        },
    )


@cases("SG-06")
def test_a_dial_zeroed_at_the_bottom_is_only_another_constant(case):
    given = case["inputs"]
    rim = ReadingSet(
        "rim", (0.0, 180.0), (given["top_reading"], 0.0), carried_by="stationary", sag_mm=-2.0 * given["sag"]
    )
    top, bottom = rim.corrected_mm()
    offset = solve([rim, pair("face", 0.0, swing_radius_mm=50.0)]).misalignment.mean[0]
    assert_agrees(case, {"corrected_top": top - bottom, "y_movable_bracket_on_fixed": offset})


@cases("VA-02", "VA-03", "VA-04")
def test_opposite_sums_of_a_worksheet_agree(case):
    # The worksheet measures a width that shrinks towards the side the shaft leans to, as a dial carried by the
    # movable shaft does. Compass points stand for clock positions, so nothing is mirrored.
    given = case["inputs"]
    widths = tuple(given[side] * INCH for side in "NESW")
    rim = ReadingSet("rim", ROUND, widths, carried_by="movable")
    solution = solve([rim, FLAT])
    north, east = (n / INCH for n in solution.misalignment.mean[:2])
    closure = solution.sets[0].closure_mm
    assert closure is not None
    assert_agrees(
        case,
        {
            "half_difference_NS": abs(north),
            "toward_NS": "N" if north > 0 else "S",
            "half_difference_EW": abs(east),
            "toward_EW": "E" if east > 0 else "W",
            "closure": abs(closure) / INCH,
            "valid": not alignment.closure_refused(solution, given["limit"] * INCH),
        },
    )


@cases("VA-06")
def test_a_good_set_closes(case):
    given = case["inputs"]
    assert_agrees(case, {"closure": float(alignment.closure_mm([given[side] for side in "TEBW"]))})


@cases("VA-12")
def test_a_closure_is_twice_as_uncertain_as_a_reading(case):
    rim = ReadingSet("rim", ROUND, (0.0,) * 4, carried_by="stationary", u_mm=case["inputs"]["reading_sd"])
    assert_agrees(case, {"closure_sd": solve([rim, FLAT]).sets[0].closure_sd_mm})


@cases("VA-13")
def test_return_to_zero_is_reported_and_the_raw_difference_is_twice_the_offset(case):
    given = case["inputs"]
    readings = tuple(given[f"L{angle}"] for angle in (0, 90, 180, 270))
    rim = ReadingSet(
        "rim", ROUND, readings, carried_by="stationary", u_mm=1e-4, return_to_zero_mm=given["L360"] - given["L0"]
    )
    solution = solve([rim, FLAT])
    vertical, horizontal = solution.misalignment.mean[:2]
    assert_agrees(
        case, {"return_error": solution.sets[0].return_to_zero_mm, "L": 2.0 * max(abs(vertical), abs(horizontal))}
    )
    assert any("did not come back" in warning for warning in solution.sets[0].warnings)


@cases("SE-02")
def test_straightedge_steps_halve_and_lose_unequal_hubs(case):
    given = case["inputs"]
    slope = given["slope_y"] * 1000
    gap = ReadingSet("gap", ROUND, (3.0 - slope * 0.05, 3.0, 3.0 + slope * 0.05, 3.0), swing_radius_mm=50.0)
    step = ReadingSet("step", ROUND, tuple(given["rim_step_movable_minus_fixed_T_R_B_L"]))
    solution = solve([step, gap], viewed_from="stationary")
    front, back = heights(solution, given["z_front_foot"], given["z_back_foot"])
    y, x = solution.misalignment.mean[:2]
    ours = {"offset_y": y, "offset_x": -x, "y_front_foot": front, "y_back_foot": back}
    assert_agrees(case, ours | {"hub_radius_difference": float(np.mean(step.corrected_mm()))})


@cases("SE-03")
def test_gaps_taken_again_after_half_a_turn_lose_the_run_out(case):
    given = case["inputs"]
    first, second = (tuple(given[f"gap_{which}_T_R_B_L"]) for which in ("first", "second"))
    radius = given["hub_diameter"] / 2
    step = ReadingSet("step", ROUND, (0.0,) * 4)
    once = ReadingSet("gap", ROUND, first, swing_radius_mm=radius)
    again = ReadingSet("gap", ROUND, second, swing_radius_mm=radius, turned=True)
    mean = ReadingSet("gap", ROUND, tuple(case["expected"]["gap_mean_T_R_B_L"]), swing_radius_mm=radius)
    assert_agrees(case, {"slope_y": solve([step, once, again]).misalignment.mean[2] / 1000})
    assert_agrees(case, {"slope_y": solve([step, mean]).misalignment.mean[2] / 1000})


@cases("LS-01", "LS-02", "LS-03", "LS-04", "LS-05")
def test_least_squares_fits_constant_cosine_and_sine(case):
    # The rim alone decides the offset and the face the slope, so the offset's covariance is that of the single fit.
    # Three face readings fit exactly and add nothing to chi-square or to the degrees of freedom.
    given, expected = case["inputs"], case["expected"]
    rim = ReadingSet("rim", tuple(given["angles_deg"]), tuple(given["readings"]), carried_by="stationary", u_mm=1.0)
    face = ReadingSet("face", (0.0, 90.0, 180.0), (0.0,) * 3, swing_radius_mm=1000.0, u_mm=1.0)
    solution = solve([rim, face])
    b, c = solution.misalignment.mean[:2]
    covariance = solution.misalignment.covariance_array / solution.factor
    t = np.radians(given["angles_deg"])
    ours = {
        "a": float(np.mean(np.array(given["readings"]) - b * np.cos(t) - c * np.sin(t))),
        "b": b,
        "c": c,
        "ssr": solution.sets[0].rms_mm ** 2 * len(t),
        "unit_cov_bb": covariance[0, 0],
        "unit_cov_cc": covariance[1, 1],
        "unit_cov_bc": covariance[0, 1],
    }
    assert_agrees(case, ours)
    assert solution.dof == expected["dof"]
    if "sigma" in expected:
        assert_agrees(case, {"sigma": math.sqrt(solution.chi2 / solution.dof)})


@cases("LS-07", "LS-08", "LS-09", "LS-11")
def test_dense_readings_over_an_arc_lose_certainty(case):
    # Middles of 7200 equal steps: the mean over them is the integral of the closed form to better than the tolerance.
    half = case["inputs"]["arc_deg"] / 2
    angles = tuple(-half + (np.arange(7200) + 0.5) * 2 * half / 7200)
    rim = ReadingSet("rim", angles, (0.0,) * 7200, carried_by="stationary")
    quality = solve([rim, FLAT]).sets[0]
    assert quality.inflation_v is not None
    assert quality.inflation_h is not None
    assert_agrees(
        case,
        {
            "n_var_b_over_sigma2": 2 * quality.inflation_v**2,
            "n_var_c_over_sigma2": 2 * quality.inflation_h**2,
            "sd_b_ratio_to_full_turn": quality.inflation_v,
        },
    )
    assert quality.arc_deg == pytest.approx(case["inputs"]["arc_deg"], abs=0.1)
