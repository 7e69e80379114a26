"""Published cases of keys, through the functions that serve the pages and the API."""

from couplings.engineering.keys import inch_key, keyseat_depths, metric_key
from couplings.engineering.keystress import key_stress, length_needed_mm
from couplings.engineering.tables.keys import INCH_MM
from tests.reference.fastener_cases import assert_agrees, cases, ids_of

TOPICS = {"5 keys"}
NOT_RUN: dict[str, str] = {}
LBF_IN_NM = 0.1129848290276167  # NIST SP 811, App. B
PSI_MPA = 0.006894757293168361


@cases(*ids_of("5 keys", "b171-over"))
def test_inch_keys_by_shaft_diameter(case):
    inputs = case["inputs"]
    for size in (inputs["shaft_over_in"] + 0.001, inputs["shaft_to_incl_in"]):
        found = inch_key(size)
        assert_agrees(case, {"square_w": found.square, "rect_h": found.rectangle})


@cases(*ids_of("5 keys", "din6885"))
def test_metric_keys_by_shaft_diameter(case):
    inputs = case["inputs"]
    for size in (inputs["shaft_over_mm"] + 0.001, inputs["shaft_to_incl_mm"]):
        row = metric_key(size)
        assert_agrees(
            case,
            {"b": row.width_mm, "h": row.height_mm, "t1_shaft": row.shaft_depth_mm, "t2_hub": row.hub_depth_mm},
        )


@cases("jiang-4.1a", "jiang-4.1b", "jiang-4.1c", "jiang-4.1d")
def test_bearing_stress_of_a_key(case):
    inputs = case["inputs"]
    keys = {1: 1, 1.5: 2}[inputs["two_key_factor"]]
    found = key_stress(inputs["T_Nm"], inputs["d_mm"], inputs["b_mm"], inputs["h_mm"], inputs["working_len_mm"], keys)
    assert_agrees(case, found.bearing_mpa)


@cases("jiang-shear")
def test_shear_stress_of_a_key(case):
    # Constructed: the independent route is the force at the shaft's surface over the key's area.
    inputs = case["inputs"]
    found = key_stress(inputs["T_Nm"], inputs["d_mm"], inputs["b_mm"], 14, inputs["l_mm"]).shear_mpa
    assert_agrees(case, found)
    assert_agrees(case, inputs["T_Nm"] * 1000 / (inputs["d_mm"] / 2) / (inputs["b_mm"] * inputs["l_mm"]))


@cases("mott-11-1")
def test_length_of_a_square_key(case):
    inputs = case["inputs"]
    side = inputs["W_in"] * INCH_MM
    allowed = inputs["sy_psi"] / inputs["N"] * PSI_MPA
    length = length_needed_mm(inputs["T_lbf_in"] * LBF_IN_NM, inputs["D_in"] * INCH_MM, side, side, allowed)
    assert_agrees(case, length / INCH_MM)


@cases("b171-depth-1", "b171-depth-2")
def test_depths_of_keyseats(case):
    inputs = case["inputs"]
    found = keyseat_depths(*(inputs[name] * INCH_MM for name in ("D_in", "W_in", "H_in", "C_in")))
    assert_agrees(case, {"S_shaft": found.shaft_mm / INCH_MM, "T_hub": found.hub_mm / INCH_MM})
