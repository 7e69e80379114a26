"""Published and constructed cases of hub geometry, set screws, shaft torque and units."""

import math

import pint
import pytest

from couplings.engineering import placement, setscrews, shaft
from couplings.engineering.orientations import Element, Hub, Rules, Running, orientations, placements, split
from couplings.engineering.setscrew_classes import proof_of
from couplings.engineering.thermal import growth_mm
from plant.units import in_unit, parse
from tests.reference.fastener_cases import CASES, assert_agrees, cases, ids_of

TOPICS = (
    "7 hub geometry",
    "4 set screws",
    "2 proof strength / 4 set screws",
    "8 coupling torque",
    "8 speed",
    "8 torsional",
    "11 units",
)
TWO_LEVELS = "a tenth of a maximum: nothing of ours multiplies the two, an aim beside a maximum is a limit of its own"
NOT_RUN = {"tm-flex-limit-radial": TWO_LEVELS, "tm-flex-limit-angular": TWO_LEVELS}
INCH = 25.4


def given(value, unit, kind):
    return parse({"value": value, "unit": unit}, kind)


# 7 hub geometry


@cases(*ids_of("7 hub geometry", "hub-engage-"))
def test_engagement(case):
    at = case["inputs"]
    where = (at["bore_len_mm"], at["overhang_p_mm"], at["straight_shaft_mm"])
    assert_agrees(case, {"engagement": placement.engagement_mm(*where), "ratio": placement.engaged_share(*where)})


@cases("hub-max-overhang-80")
def test_most_overhang(case):
    assert_agrees(case, placement.most_overhang_mm(case["inputs"]["bore_len_mm"], case["inputs"]["min_ratio"]))


@cases(*ids_of("7 hub geometry", "hub-plane-gap-"))
def test_planes_apart(case):
    hubs = [case["inputs"]["hub1"], case["inputs"]["hub2"]]
    behind = [placement.flange_behind_gap_face_mm(hub["L"], hub["u"], hub["o"] == "out") for hub in hubs]
    dbse = case["inputs"]["dbse_mm"]
    assert_agrees(case, placement.plane_to_plane_mm(dbse, hubs[0]["p"], hubs[1]["p"], *behind))


@cases("hub-face-gap")
def test_gap_of_the_faces(case):
    at = case["inputs"]
    assert_agrees(case, placement.hub_face_gap_mm(at["dbse_mm"], at["p1_mm"], at["p2_mm"]))


def placed(case, u, length):
    """The case's orientation among all those of two like hubs."""
    at = case["inputs"]
    hubs = (Hub(length, u), Hub(length, u))
    turned = tuple(word == "out" for word in at["orient"].split("/"))
    found = placements(
        hubs, at["dbse_mm"], [Element("element", at["element_len_mm"])], Rules(at.get("min_ratio", 0.8)), Running()
    )
    assert {tuple(seat.reversed for seat in one.seats) for one in found} == set(orientations(hubs))
    return next(one for one in found if tuple(seat.reversed for seat in one.seats) == turned)


@cases("hub-solve-p")
def test_overhang_of_each_hub(case):
    one = placed(case, case["inputs"]["u1_mm"], 60.0)  # the bore as its note has it
    assert_agrees(case, one.seats[0].overhang_mm)
    assert_agrees(case, one.seats[1].overhang_mm)
    # The note: "L=60 gives 83.3 % engagement: ok".
    assert one.least_share == pytest.approx(0.833, abs=5e-4)
    assert one.holds


@cases("hub-solve-reversed", "hub-solve-reversed-fail")
def test_one_hub_reversed(case):
    one = placed(case, case["inputs"]["u_mm"], case["inputs"]["L_mm"])
    for seat in one.seats:
        got = {"p_each": seat.overhang_mm, "ratio_each": seat.share}
        if "ok" in case["expected"]:
            got["ok"] = "engagement" not in one.broken
        assert_agrees(case, got)
    # Beyond the case: its faces would overlap by 14 mm, E - o1 - o2 = 46 - 8 - 52, so neither can be fitted.
    assert one.gap_mm == pytest.approx(-14)
    assert "gap" in one.broken


def test_equal_split_at_a_negative_sum_lets_both_shafts_stand_proud():
    """The formula page, sec. 7: DBSE 10, E 46, both in, bores of 60 with u 8: p -10 each."""
    assert split((Hub(60, 8), Hub(60, 8)), placement.overhangs_needed_mm(10, 46, 8, 8)) == (-10, -10)


@cases("hub-tip-clearance")
def test_shaft_ends_hot(case):
    at = case["inputs"]
    clearance = placement.running_clearance_mm(
        at["dbse_cold_mm"], at["growth1_mm"], at["growth2_mm"], at["end_float_mm"]
    )
    assert_agrees(case, {"running": clearance, "ok": clearance >= at["min_running_mm"]})
    (one,) = placements(
        (Hub(60, 0, reversible=False), Hub(60, 0, reversible=False)),
        at["dbse_cold_mm"],
        [Element("element", at["dbse_cold_mm"])],
        Rules(clearance_mm=at["min_running_mm"]),
        Running(at["growth1_mm"], at["growth2_mm"], at["end_float_mm"]),
    )
    assert_agrees(case, {"running": one.clearance_mm, "ok": "clearance" not in one.broken})


@cases("hub-growth")
def test_growth_of_a_shaft(case):
    at = case["inputs"]
    assert_agrees(case, float(growth_mm(at["L_mm"], at["alpha_per_K"] * 1e6, 0.0, at["dT_K"])))


@cases("gap-18in")
def test_the_printed_gap_of_flush_hubs(case):
    gap = given(case["inputs"]["gap_in"], "inch", "gap")
    assert_agrees(case, placement.hub_face_gap_mm(gap, 0.0, 0.0))


# 4 set screws


@cases(*ids_of("2 proof strength / 4 set screws"))
def test_proof_torque_bounds_the_seating(case):
    row = proof_of(f"M{case['inputs']['d_mm']}", case["inputs"]["class"])
    assert_agrees(case, row.proof_nm)


@cases("setscrew-two-60", "setscrew-two-65", "setscrew-two-30", "setscrew-two-90")
def test_two_screws_by_angle(case):
    factor, mark = setscrews.factor_by_angle(case["inputs"]["angle_deg"])
    assert_agrees(case, factor)
    assert mark.replace(" ", "-").removeprefix("from-") == case["source_kind"]


@cases("setscrew-two-hold")
def test_two_screws_hold_a_torque(case):
    at = case["inputs"]
    screw = setscrews.seated(setscrews.row_of(at["size"]))
    held = setscrews.holding(screw.holding_n, 2, at["angle_deg"], at["shaft_in"] * INCH, at["design_factor"])
    assert_agrees(case, in_unit(held.torsional_allowed_nm, "screw-torque", "lbf*in"))


@cases("setscrew-si")
def test_one_screw_in_newtons(case):
    at = case["inputs"]
    row = setscrews.row_of(at["size"])
    assert row.holding_n == pytest.approx(given(at["axial_lbf"], "lbf", "force"), rel=1e-12)
    held = setscrews.holding(row.holding_n, 1, None, at["shaft_in"] * INCH, 1.0)
    assert_agrees(case, {"axial": held.axial_n, "torsional": held.torsional_nm})


# 8 coupling torque, speed, torsional


@cases("const-63025", "const-5252")
def test_constants_follow_from_the_definitions(case):
    unit = case["units"].removesuffix("*rpm/hp")
    assert_agrees(case, in_unit(shaft.torque_nm(given(1, "hp", "power"), 1.0), "torque", unit))


@cases("torque-15kw")
def test_figures_printed_with_9550(case):
    at = case["inputs"]
    assert_agrees(case, shaft.torque_nm(at["P_kW"], at["n_rpm"], shaft.ROUNDED))
    # Ours is the exact constant; the printed one lies 0.007 % above it.
    exact = shaft.torque_nm(at["P_kW"], at["n_rpm"])
    assert exact == pytest.approx(119.366, abs=5e-4)  # as the case's note has it
    assert case["expected"] / exact == pytest.approx(9550 / (30000 / math.pi), rel=1e-9)


@cases("torque-200hp")
def test_figures_printed_with_63000(case):
    power, rpm = given(case["inputs"]["hp"], "hp", "power"), case["inputs"]["n_rpm"]
    rounded = given(63000, "lbf*in", "torque") / given(1, "hp", "power")
    assert_agrees(case, in_unit(shaft.torque_nm(power, rpm, rounded), "torque", "lbf*in"))
    # The note: "63025 gives 630 254".
    assert in_unit(shaft.torque_nm(power, rpm), "torque", "lbf*in") == pytest.approx(630254, abs=0.5)


@cases("torque-5hp")
def test_torque_and_stress_of_a_small_shaft(case):
    at = case["inputs"]
    torque = shaft.torque_nm(given(at["hp"], "hp", "power"), at["n_rpm"])
    stress = shaft.shear_stress_mpa(torque, at["D_in"] * INCH)
    assert_agrees(case, {"T": in_unit(torque, "torque", "lbf*in"), "tau": in_unit(stress, "pressure", "psi")})


@cases("torque-kw-a", "torque-kw-c")
def test_torque_in_newton_metres(case):
    assert_agrees(case, shaft.torque_nm(case["inputs"]["P_kW"], case["inputs"]["n_rpm"]))


@cases("torque-hp-lbfft")
def test_torque_in_pound_feet(case):
    torque = shaft.torque_nm(given(case["inputs"]["hp"], "hp", "power"), case["inputs"]["n_rpm"])
    assert_agrees(case, in_unit(torque, "torque", "lbf*ft"))


@cases("design-torque")
def test_design_torque_against_a_rating(case):
    at = case["inputs"]
    rating = shaft.rating(shaft.torque_nm(at["P_kW"], at["n_rpm"]), at["service_factor"], at["rated_Nm"])
    assert_agrees(case, {"design": rating.design_nm, "utilisation": rating.utilisation})


@cases("calistrat-1")
def test_hoop_stress_of_a_rim(case):
    """The paper's stress follows from the paper's rim speed; that speed is 0.5 % above pi D n, and ours is pi D n."""
    printed = given(case["expected"]["V"], "inch/s", "rim-speed")
    stress = in_unit(shaft.hoop_stress_mpa(printed), "pressure", "psi")
    assert_agrees(case, {"V": case["expected"]["V"], "sigma": stress})
    ours = shaft.rim_speed_m_s(case["inputs"]["OD_in"] * INCH, case["inputs"]["n_rpm"])
    assert printed / ours == pytest.approx(1.005, abs=5e-4)
    assert in_unit(ours, "rim-speed", "inch/s") == pytest.approx(math.pi * 5.6 * 33800 / 60, rel=1e-12)


@cases("rim-rpm")
def test_speed_at_which_a_rim_needs_caution(case):
    rim = given(case["inputs"]["V_ft_min"], "ft/min", "rim-speed")
    assert_agrees(case, shaft.rim_rpm(rim, case["inputs"]["D_in"] * INCH))


@cases("torsion-2mass")
def test_two_inertias(case):
    at = case["inputs"]
    assert_agrees(case, shaft.natural_frequency_hz(at["k_Nm_rad"], at["J1"], at["J2"]))


# 11 units

FACTORS = {  # id -> (unit, kind, unit of the answer)
    "unit-lbfft": ("lbf*ft", "torque", "N*m"),
    "unit-lbfin": ("lbf*in", "torque", "N*m"),
    "unit-lbf": ("lbf", "force", "N"),
    "unit-in": ("inch", "size", "mm"),
    "unit-mil": ("mil", "gap", "mm"),
    "unit-psi": ("psi", "pressure", "Pa"),
    "unit-ksi": ("ksi", "pressure", "MPa"),
    "unit-hp": ("hp", "power", "W"),
    "unit-ps": ("PS", "power", "W"),
    "unit-rpm": ("rpm", "speed", "rad/s"),
    "unit-kgfm": ("kgf*m", "torque", "N*m"),
    "unit-ozin": ("ozf*in", "torque", "N*m"),
    "pint-thou": ("thou", "gap", "mm"),
    "pint-rpm": ("rpm", "speed", "rad/s"),
    "pint-psi": ("psi", "pressure", "Pa"),
    "pint-footpound": ("lbf*ft", "torque", "N*m"),
}


@cases(*FACTORS)
def test_factor_of_a_unit(case):
    unit, kind, answered = FACTORS[case["id"]]
    ours = in_unit(given(1, unit, kind), kind, answered)
    assert_agrees(case, ours)
    if "pint_expr" in case["inputs"]:
        base = pint.UnitRegistry().Quantity(1, case["inputs"]["pint_expr"]).to(answered.replace("*", " * "))
        assert ours == pytest.approx(base.magnitude, rel=1e-12)


@pytest.mark.parametrize(
    "unit, kind, answered, exact",
    [  # exact by definition: the inch, the pound, standard gravity (NIST SP 811, app. B)
        ("lbf", "force", "N", 0.45359237 * 9.80665),
        ("lbf*ft", "torque", "N*m", 0.45359237 * 9.80665 * 0.3048),
        ("lbf*in", "torque", "N*m", 0.45359237 * 9.80665 * 0.0254),
        ("ozf*in", "torque", "N*m", 0.45359237 / 16 * 9.80665 * 0.0254),
        ("psi", "pressure", "Pa", 0.45359237 * 9.80665 / 0.0254**2),
        ("hp", "power", "W", 550 * 0.45359237 * 9.80665 * 0.3048),
        ("PS", "power", "W", 75 * 9.80665),
        ("rpm", "speed", "rad/s", 2 * math.pi / 60),
        ("lb*ft2", "inertia", "kg*m2", 0.45359237 * 0.3048**2),
        ("ft/min", "rim-speed", "m/s", 0.3048 / 60),
    ],
)
def test_factors_to_all_digits(unit, kind, answered, exact):
    assert in_unit(given(1, unit, kind), kind, answered) == pytest.approx(exact, rel=1e-14)


@cases("unit-chain", "unit-3750")
def test_torque_across(case):
    ((name, value),) = case["inputs"].items()
    assert_agrees(case, given(value, name.replace("_", "*"), "torque"))


@cases("unit-mils")
def test_a_mil_is_a_length(case):
    assert_agrees(case, in_unit(given(case["inputs"]["mil"], "mil", "gap"), "gap", "um"))


def test_the_two_levels_that_are_not_run_are_plain_products():
    for name in NOT_RUN:
        case = CASES[name]
        assert_agrees(case, case["inputs"]["maximum"] * case["inputs"]["fraction"])
