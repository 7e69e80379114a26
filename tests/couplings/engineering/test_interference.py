"""Interference fits: Lame's closed form against a finite-difference ring, and what is refused."""

import math
import re

import numpy as np
import pytest
from scipy.linalg import solve_banded

from couplings.engineering.fits import FitError
from couplings.engineering.interference import (
    Ring,
    heating_rise_k,
    interference_left_mm,
    press_force_n,
    press_pressure,
    press_torque_nm,
    surface_roughness_um,
    taper_advance_mm,
)
from couplings.engineering.keyless import HydraulicFit, ShrinkDisc, hydraulic_findings, shrink_disc_findings

IRON = Ring(100_000.0, 0.26)
STEEL = Ring(207_000.0, 0.292)


def edge_displacement(inner, outer, pressure_inside, pressure_outside, ring, points=4001):
    """Radial displacement at both edges of a ring in plane stress, by finite differences of the equilibrium.

    r^2 u'' + r u' - u = 0 with the radial stress E/(1-nu^2) (u' + nu u/r) given at both edges: nothing of Lame's
    solution goes in.
    """
    r = np.linspace(inner, outer, points)
    h = r[1] - r[0]
    stiff = ring.e_mpa / (1 - ring.nu**2)
    low, mid, high = r**2 / h**2 - r / (2 * h), -2 * r**2 / h**2 - 1, r**2 / h**2 + r / (2 * h)
    right = np.zeros(points)
    # A ghost point beyond each edge is taken out by the stress given there.
    for edge, pressure, sign in ((0, pressure_inside, 1), (-1, pressure_outside, -1)):
        slope, share = -pressure / stiff, ring.nu / r[edge]
        ghost = low[edge] if sign == 1 else high[edge]
        mid[edge] += sign * ghost * 2 * h * share
        right[edge] = sign * ghost * 2 * h * slope
    high[0], low[-1] = low[0] + high[0], low[-1] + high[-1]
    banded = np.zeros((3, points))
    banded[0, 1:], banded[1], banded[2, :-1] = high[:-1], mid, low[1:]
    u = solve_banded((1, 1), banded, right)
    return u[0], u[-1]


@pytest.mark.parametrize(("hub", "shaft"), [(STEEL, STEEL), (IRON, STEEL)])
@pytest.mark.parametrize(("bore", "outside"), [(15.0, 80.0), (30.0, 120.0), (10.0, 62.0)])
def test_pressure_agrees_with_a_finite_difference_ring(hub, shaft, bore, outside):
    diameter, interference = 50.0, 0.03
    found = press_pressure(interference, diameter, outside, bore, hub, shaft)
    grown, _ = edge_displacement(diameter / 2, outside / 2, found.pressure_mpa, 0, hub)
    _, squeezed = edge_displacement(bore / 2, diameter / 2, 0, found.pressure_mpa, shaft)
    assert 2 * (grown - squeezed) == pytest.approx(interference, rel=1e-4)
    # Hoop stress from the displacement: E u/r = sigma_t - nu sigma_r.
    hoop = hub.e_mpa * grown / (diameter / 2) - hub.nu * found.pressure_mpa
    assert found.hub_hoop_mpa == pytest.approx(hoop, rel=1e-4)


def test_a_hollow_shaft_with_a_vanishing_bore_is_softer_only_at_its_bore():
    solid, nearly = press_pressure(0.03, 50, 80), press_pressure(0.03, 50, 80, 0.001)
    assert nearly.pressure_mpa == pytest.approx(solid.pressure_mpa, rel=1e-6)
    # A small hole doubles the hoop stress beside it: plane elasticity.
    assert nearly.shaft_hoop_mpa == pytest.approx(2 * solid.shaft_hoop_mpa, rel=1e-6)


def test_a_thick_hub_of_the_shaft_s_material_takes_half_of_e_delta_over_d():
    assert press_pressure(0.05, 50, 1e6, 0, STEEL, STEEL).pressure_mpa == pytest.approx(207_000 * 0.05 / 100, rel=1e-6)


def test_torque_is_force_times_radius():
    assert press_torque_nm(40, 50, 60, 0.15) == pytest.approx(press_force_n(40, 50, 60, 0.15) * 0.025)
    assert press_force_n(0, 50, 60, 0.15) == 0


def test_heated_bore_measures_what_was_asked_for():
    rise = heating_rise_k(0.05, 0.05, 60, 1.16e-5)
    assert 60 * 1.16e-5 * rise == pytest.approx(0.1)


def test_advance_on_a_taper_grows_the_bore_by_the_interference():
    assert taper_advance_mm(0.05, 16) == pytest.approx(0.8)  # 3/4 inch per foot is 1:16


def test_smoothing_never_leaves_less_than_nothing():
    assert interference_left_mm(0.03, 6.3, 6.3) == pytest.approx(0.03 - 0.8 * 12.6 / 1000)
    assert interference_left_mm(0.005, 6.3, 6.3) == 0
    assert surface_roughness_um([5, 5, 5]) == (0, 0, 0)


@pytest.mark.parametrize(
    ("call", "field", "words"),
    [
        (lambda: press_pressure(-0.01, 50, 80), "interference", "not be negative"),
        (lambda: press_pressure(0.01, 80, 50), "hub_outside", "larger than its bore"),
        (lambda: press_pressure(0.01, 50, 80, 50), "shaft_bore", "smaller than the shaft"),
        (lambda: press_pressure(math.nan, 50, 80), "interference", "not a finite"),
        (lambda: press_pressure(0.01, 50, 80, 0, Ring(0, 0.3)), "hub_modulus", "above zero"),
        (lambda: press_pressure(0.01, 50, 80, 0, STEEL, Ring(2e5, 0.5)), "shaft_modulus", "0.5"),
        (lambda: press_force_n(10, 50, 60, 0), "friction", "above zero"),
        (lambda: press_force_n(10, 50, 0, 0.1), "length", "greater than zero"),
        (lambda: heating_rise_k(0.05, 0.05, 60, 0), "alpha", "above zero"),
        (lambda: heating_rise_k(0.05, -0.05, 60), "assembly_clearance", "negative"),
        (lambda: taper_advance_mm(0.05, 1), "taper", "1:16"),
        (lambda: surface_roughness_um([1, 2]), "profile", "three"),
        (lambda: surface_roughness_um([1, 2, math.inf]), "profile", "finite"),
        (lambda: hydraulic_findings(HydraulicFit(contact_share=1.2)), "contact_share", "at most 1"),
        (lambda: shrink_disc_findings(ShrinkDisc(gaps_mm=(1, math.nan, 1))), "gaps_mm", "finite"),
    ],
)
def test_what_cannot_be_is_refused_by_its_field(call, field, words):
    with pytest.raises(FitError, match=re.escape(words)) as caught:
        call()
    assert caught.value.field == field


def test_a_hydraulic_fit_names_what_is_missing_and_what_is_short():
    asked = {"advance_wanted_mm": 6.0, "advance_tolerance_mm": 0.2, "highest_pressure_mpa": 200.0}
    asked |= {"least_contact_share": 0.8, "least_wait_hours": 2.0}
    done = HydraulicFit(
        6.1, expansion_pressure_mpa=180, contact_share=0.85, waited_hours=4, stop_nut_locked=True, **asked
    )
    assert {one.verdict for one in hydraulic_findings(done)} == {"in tolerance"}
    short = hydraulic_findings(
        HydraulicFit(5.7, expansion_pressure_mpa=210, contact_share=0.7, waited_hours=1, **asked)
    )
    assert [one.verdict for one in short] == ["out of tolerance"] * 4 + ["not known"]
    assert "5.7 where at least 5.8" in short[1].message
    nothing = hydraulic_findings(HydraulicFit())
    assert {one.verdict for one in nothing} == {"not known"}
    assert "data sheet's figure is missing" in hydraulic_findings(HydraulicFit(advance_mm=6))[1].message


def test_a_shrink_disc_is_done_when_no_screw_turns_and_the_gap_is_even():
    done = ShrinkDisc(59, 59, False, (4.0, 4.05, 4.1, 4.05), 0.2, True)
    assert {one.verdict for one in shrink_disc_findings(done)} == {"in tolerance"}
    odd = shrink_disc_findings(ShrinkDisc(50, 59, True, (4.0, 4.3, 4.1), 0.2, False))
    assert {one.verdict for one in odd} == {"out of tolerance"}
    # Two gaps cannot show a disc that stands askew the other way.
    assert shrink_disc_findings(ShrinkDisc(gaps_mm=(4.0, 4.0), gap_difference_limit_mm=0.2))[3].verdict == "not known"
