"""Published figures of limits, grades and combined misalignment, through the public functions.

The cases look from the fixed machine; results here are seen from the movable one, so a horizontal result is compared
with its sign turned over.
"""

import math

import numpy as np
import pytest

from couplings.engineering import alignment
from couplings.engineering.alignment import at, flex_angles
from couplings.engineering.conformity import (
    IN_TOLERANCE,
    Limit,
    Limits,
    degrees_from_slope,
    gap_in_place,
    judge,
    slope_from_degrees,
    slope_from_gap,
)
from couplings.engineering.moves import shim_pack
from couplings.engineering.tables.grades import starter_grade
from tests.reference.alignment_cases import (
    CASES,
    INCH,
    MIL,
    assert_agrees,
    cases,
)


def known(vertical: list[float], horizontal: list[float]) -> alignment.Misalignment:
    """Offset in mil and slope in mil/in, exactly known."""
    return alignment.direct(
        (vertical[0] * MIL, horizontal[0] * MIL),
        (vertical[1], horizontal[1]),
        offset_u_mm=(0, 0),
        slope_u_mrad=(0, 0),
    ).misalignment


@cases("TL-01", "TL-02")
def test_flex_plane_angles_are_held_against_their_limit(case):
    given = case["inputs"]
    half = given["flex_plane_separation"] * INCH / 2
    found = known([given["offset_at_coupling_centre"], given["slope"]], [0, 0])
    angles, _ = flex_angles(found, -half, half)
    judged = judge(found, Limits((Limit("flex-angle", given["limit"]),)), (-half, half), decision="simple")
    assert_agrees(
        case,
        {
            "alpha_fixed_side": angles[0],
            "alpha_movable_side": angles[2],
            "accepted": judged.verdict == IN_TOLERANCE,
        },
    )


@cases("TL-05")
def test_vector_and_single_plane_rules_differ(case):
    given = case["inputs"]
    half = given["L"] * INCH / 2
    found = known(given["vertical"], given["horizontal"])
    vector, plane = (
        judge(found, Limits((Limit("flex-angle", 1.0),), rule), (-half, half)) for rule in ("vector", "per-plane")
    )
    a, b = (line.value for line in vector.lines)
    ours = {"alpha_fixed_side_vector": a, "alpha_movable_side_vector": b}
    assert_agrees(case, ours | {"max_single_plane": max(line.value or 0.0 for line in plane.lines)})


@cases("TL-06")
def test_largest_of_four_deviations_over_the_length_is_the_largest_flex_angle(case):
    # The deviations are those of TL-05's shafts.
    given, shafts = case["inputs"], CASES["TL-05"]["inputs"]
    half = given["L"] * INCH / 2
    found = known(shafts["vertical"], shafts["horizontal"])
    at_b, at_a = at(found, half)[0] / MIL, at(found, -half)[0] / MIL
    assert [abs(d) for d in (at_b[0], at_a[0], at_b[1], at_a[1])] == pytest.approx(given["deviations_V1_V2_H1_H2"])
    angles, _ = flex_angles(found, -half, half)
    assert_agrees(case, {"deviation_mil_per_in": float(np.max(np.abs(angles)))})


@cases("TL-11")
def test_a_value_on_its_limit_is_accepted(case):
    given = case["inputs"]
    diameter = 4 * INCH
    slope = slope_from_gap(given["face_gap_difference"] * INCH, diameter)
    found = known([given["offset_at_measurement_plane"] * 1000, slope], [0, 0])
    limits = Limits(
        (
            Limit("offset", given["limit"] * INCH),
            Limit("angularity", slope_from_gap(given["limit"] * INCH, diameter)),
        )
    )
    assert_agrees(case, {"accepted": judge(found, limits, decision="simple").verdict == IN_TOLERANCE})


@cases("TL-12")
def test_the_starter_grade_is_the_printed_one(case):
    # Kept in mm as the trade rounds it; the printed inches stand beside it.
    row = starter_grade("short flexible", case["inputs"]["rpm"])
    assert row is not None
    assert row.offset_mm == pytest.approx((row.printed_offset_in or 0.0) * INCH, abs=0.005)
    assert_agrees(case, {"offset_limit": row.printed_offset_in})


@cases("TL-13")
def test_half_a_degree_as_a_slope(case):
    slope = slope_from_degrees(case["inputs"]["angle"])
    assert_agrees(case, {"mil_per_in": slope, "um_per_cm": slope * 10, "mrad": slope})


@cases("TL-14")
def test_half_a_thousandth_per_inch_in_other_words(case):
    slope = slope_from_gap(case["inputs"]["mil_per_in"] * MIL, 1 * INCH)
    per_hundred = slope_from_gap(case["expected"]["mm_per_100mm"], 100.0)
    assert per_hundred == pytest.approx(slope, abs=case["tolerance"])
    assert_agrees(case, {"mm_per_m": slope, "mrad": slope, "um_per_cm": slope * 10, "deg": degrees_from_slope(slope)})


# TM 10-4320-307-24 gives 0.5 degrees as a gap of 1.56 mm; CM-04 checks the diameter that this implies.
TM_DIAMETER = 178.758


@cases("CM-02", "CM-03")
def test_combined_misalignment_sums_its_ratios(case):
    given = case["inputs"]
    limit = given["limits"]
    limits = Limits(
        (
            Limit("axial", limit["axial"]),
            Limit("offset", limit["lateral"]),
            Limit("angularity", slope_from_gap(limit["angular_gap"], TM_DIAMETER)),
        ),
        combined=True,
    )
    slope = slope_from_gap(given["angular_gap"], TM_DIAMETER)
    found = known([given["lateral"] / MIL, slope], [0, 0])
    judged = judge(found, limits, axial=(given["axial"], 0.0), decision="simple")
    shares = {line.quantity: line.share for line in judged.lines}
    ours = {"sum": shares["combined"], "accepted_linear_rule": judged.verdict == IN_TOLERANCE}
    if "ratio_axial" in case["expected"]:
        ours |= {"ratio_axial": shares["axial"], "ratio_lateral": shares["offset"]}
        ours |= {"ratio_angular": shares["angularity"]}
    assert_agrees(case, ours)
    assert all(line.verdict == IN_TOLERANCE for line in judged.lines if line.quantity != "combined")


@cases("CM-04")
def test_a_gap_limit_and_an_angle_limit_imply_a_diameter(case):
    given = case["inputs"]
    diameter = 1000 * given["gap_limit"] / slope_from_degrees(given["angle_deg"])
    assert slope_from_gap(given["gap_limit"], diameter) == pytest.approx(slope_from_degrees(given["angle_deg"]))
    assert diameter == pytest.approx(TM_DIAMETER, abs=0.05)
    assert_agrees(case, {"implied_swing_diameter": diameter})


@cases("RO-13")
def test_the_gap_is_corrected_to_the_rotors_place(case):
    given = case["inputs"]
    set_now = case["expected"]["gap_to_set_now"]
    in_place, _ = gap_in_place([set_now], given["rotor_now_from_magnetic_centre_toward_driven"])
    assert in_place == pytest.approx(given["gap_required_running"], abs=case["tolerance"])


@cases("RO-11")
def test_a_pack_counts_its_shims(case):
    given = [thickness * INCH for thickness in case["inputs"]["pack"]]
    four, three = (shim_pack(sum(given), given, most=most) for most in (4, 3))
    assert four == pytest.approx(sorted(given, reverse=True))
    reached = {"within_3": math.isclose(sum(three), sum(given)), "within_4": math.isclose(sum(four), sum(given))}
    assert_agrees(case, reached | {"count": float(len(four))})
