"""Published limits and examples of soft foot, run-out, vertical units and axial float."""

import numpy as np
import pytest

from couplings.engineering.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE, gap_in_place
from couplings.engineering.endfloat import float_left_mm, gap_to_set_mm
from couplings.engineering.one_figure import judge_figure
from couplings.engineering.runout import (
    limit_by_diameter_mm,
    plumb_limit_mm,
    run_out_mm,
    static_run_out_limit_mm,
    straightness,
)
from couplings.engineering.softfoot import from_corner_gaps, from_pad_heights, from_rises
from couplings.engineering.tables.runouts import IEC, NEMA
from tests.reference.alignment_cases import CASES, INCH, MIL, assert_agrees, cases


def accepted(value, limit):
    """The value alone against its limit, which is itself still in tolerance."""
    return judge_figure(value, 0.0, limit, "figure").verdict == IN_TOLERANCE


@cases("SF-01")
def test_the_shim_is_the_excess_over_the_common_rise(case):
    found = from_rises([rise * INCH for rise in case["inputs"]["rises"]])
    assert_agrees(case, {"soft_foot_index": found.foot, "shim": found.shim_mm / INCH})


@cases("SF-02")
def test_the_difference_between_feet_decides(case):
    given = case["inputs"]
    found = from_rises([gap * MIL for gap in given["gaps"]])
    needed = not accepted(found.spread_mm, given["limit_difference"] * MIL)
    assert_agrees(case, {"spread": found.spread_mm / MIL, "action_needed": needed})


@cases("SF-03")
def test_not_more_than_includes_the_limit_itself(case):
    given = case["inputs"]
    found = from_rises([rise * MIL for rise in given["rises"]])
    judged = accepted(found.largest_mm, given["limit"] * MIL)
    assert_agrees(case, {"max_rise": found.largest_mm / MIL, "accepted": judged})


@cases("SF-04")
def test_pads_twist_by_what_no_plane_explains(case):
    # Constructed; the plane fit below is the independent route.
    heights = case["inputs"]["pad_heights_FL_FR_BR_BL"]
    found = from_pad_heights(heights)
    corners = np.array([[1, -1, -1], [1, -1, 1], [1, 1, 1], [1, 1, -1]], dtype=float)
    left = np.asarray(heights) - corners @ np.linalg.lstsq(corners, np.asarray(heights), rcond=None)[0]
    assert np.abs(left) == pytest.approx([found.residual_mm] * 4)
    assert_agrees(
        case,
        {
            "twist": found.twist_mm,
            "plane_residual_each": found.residual_mm,
            "gap_at_one_foot_when_rocking": found.rocking_gap_mm,
        },
    )


@cases("SF-06")
def test_corner_gaps_alike_to_the_feeler_are_parallel(case):
    found = from_corner_gaps(case["inputs"]["corner_gaps_inL_inR_outR_outL"], case["inputs"]["resolution"])
    assert len(set(found.shims_mm)) == 1
    assert_agrees(case, {"kind": found.kind, "shim": found.shims_mm[0]})


@cases("SF-07")
def test_one_rise_is_judged_by_the_limit_it_is_given(case):
    given = case["inputs"]
    flags = {
        f"flag_at_{limit}": judge_figure(given["rise"] * INCH, 0.0, limit * INCH, "rise").verdict == OUT_OF_TOLERANCE
        for limit in given["limits"]
    }
    assert len(flags) == 2
    assert_agrees(case, flags)


@cases("SF-08")
def test_two_mil_and_a_twentieth_of_a_millimetre_are_two_limits(case):
    given = case["inputs"]
    assert_agrees(case, {"flag": not accepted(given["rise"], given["limit"])})
    assert accepted(given["rise"], 2 * MIL)


@cases("RO-01", "RO-04")
def test_iec_shafts_have_their_limit_by_diameter(case):
    assert_agrees(case, {"permissible_runout": limit_by_diameter_mm(case["inputs"]["shaft_diameter"], IEC)})


@cases("ME-03")
def test_nema_shafts_have_theirs_from_memory(case):
    limit = limit_by_diameter_mm(case["inputs"]["shaft_diameter"] * INCH, NEMA)
    assert NEMA.mark == "memory" == case["source_kind"]
    assert_agrees(case, {"permissible_runout": limit / INCH})


@cases("RO-08")
def test_the_orbit_of_a_vertical_unit_grows_with_length_over_diameter(case):
    given = case["inputs"]
    limit = static_run_out_limit_mm(given["shaft_length"] * INCH, given["thrust_runner_diameter"] * INCH)
    assert_agrees(case, {"limit": limit / INCH})


@cases("RO-09")
def test_plumb_is_a_share_of_the_length(case):
    assert_agrees(case, {"limit": plumb_limit_mm(case["inputs"]["length"] * INCH) / INCH})


@cases("RO-10")
def test_a_bend_is_measured_from_the_line_between_the_ends(case):
    given = case["inputs"]
    found = straightness([z * INCH for z in given["z"]], [x * INCH for x in given["x"]])
    assert found.place == 1
    assert_agrees(
        case,
        {
            "max_deviation": found.deviation_mm / INCH,
            "accepted": accepted(found.deviation_mm, given["limit"] * INCH),
        },
    )


@cases("ME-02")
def test_the_coupling_leaves_the_rotor_its_float_on_each_side(case):
    given = case["inputs"]
    left = float_left_mm(given["rotor_end_float"] * INCH, given["coupling_end_float"] * INCH)
    assert_agrees(case, {"each_side_left_when_centred": left / INCH})


def test_the_gap_to_set_is_the_running_gap_less_the_rotors_distance():
    """RO-13, constructed; test_limits.py takes the same case the other way, which is the independent route."""
    case = CASES["RO-13"]
    given = case["inputs"]
    distance = given["rotor_now_from_magnetic_centre_toward_driven"]
    now = gap_to_set_mm(given["gap_required_running"], distance)
    assert_agrees(case, {"gap_to_set_now": now})
    assert gap_in_place([now], distance)[0] == pytest.approx(given["gap_required_running"])


def test_total_run_out_is_the_largest_less_the_smallest_reading():
    # TM 10-3930-664-24 defines it; the readings are ours.
    assert float(run_out_mm([0.0, 0.03, 0.05, -0.01])) == pytest.approx(0.06)
