"""Torque of a shaft by other routes: work per turn, an integral over the section, eigenvalues of two inertias."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.linalg import eigh

from couplings.engineering import shaft
from couplings.engineering.shaft import ShaftError
from couplings.engineering.tables.service import STARTER_RIMS, STARTER_SERVICE

STEADY = settings(max_examples=50, derandomize=True, deadline=None, database=None)
positive = st.floats(0.01, 1e5)


@STEADY
@given(power=positive, rpm=st.floats(1, 60000))
def test_work_of_a_turn_times_turns_in_a_second_is_the_power(power, rpm):
    torque = shaft.torque_nm(power, rpm)
    assert torque * 2 * math.pi * (rpm / 60) == pytest.approx(power * 1000, rel=1e-12)
    assert shaft.power_kw(torque, rpm) == pytest.approx(power, rel=1e-12)


@STEADY
@given(torque=positive, diameter=st.floats(5, 500))
def test_shear_stress_over_the_section_makes_up_the_torque(torque, diameter):
    """The stress grows with the radius; rings of the section times their radius add up to the torque."""
    radius, at_surface = diameter / 2, shaft.shear_stress_mpa(torque, diameter)
    found, _error = quad(lambda r: at_surface * r / radius * 2 * math.pi * r * r, 0, radius)
    assert found / 1000 == pytest.approx(torque, rel=1e-9)


@STEADY
@given(stiffness=st.floats(1, 1e7), one=st.floats(1e-3, 1e4), other=st.floats(1e-3, 1e4))
def test_two_inertias_swing_at_the_eigenvalue_of_their_matrices(stiffness, one, other):
    swings = eigh(stiffness * np.array([[1.0, -1.0], [-1.0, 1.0]]), np.diag([one, other]), eigvals_only=True)
    found = shaft.natural_frequency_hz(stiffness, one, other)
    assert found == pytest.approx(math.sqrt(swings[1]) / (2 * math.pi), rel=1e-9)
    assert shaft.natural_frequency_hz(stiffness, other, one) == pytest.approx(found, rel=1e-12)


@STEADY
@given(diameter=st.floats(10, 2000), rpm=st.floats(1, 20000))
def test_rim_speed_is_a_circumference_each_turn_and_back(diameter, rpm):
    speed = shaft.rim_speed_m_s(diameter, rpm)
    assert speed * 60 / rpm == pytest.approx(math.pi * diameter / 1000, rel=1e-12)
    assert shaft.rim_rpm(speed, diameter) == pytest.approx(rpm, rel=1e-12)


@STEADY
@given(torque=positive, factor=st.floats(1, 5), rated=positive)
def test_margin_and_utilisation_tell_the_same(torque, factor, rated):
    found = shaft.rating(torque, factor, rated)
    assert found.utilisation * (1 + found.margin) == pytest.approx(1, rel=1e-9)
    assert found.holds == (factor * torque / rated <= 1)


def test_at_rest_the_margin_has_no_end():
    assert shaft.rating(0.0, 1.5, 100.0).margin == math.inf


def test_rounded_constants_are_the_trades_and_not_ours():
    assert shaft.ROUNDED == 9550  # common practice
    assert pytest.approx(9549.2966, abs=5e-5) == shaft.EXACT  # the formula page, sec. 8


def test_every_starter_row_has_its_mark_and_source():
    for row in (*STARTER_SERVICE, *STARTER_RIMS):
        assert row.mark in {"published", "common practice"}
        assert row.source


@pytest.mark.parametrize(
    "call, field",
    [
        (lambda: shaft.torque_nm(-1.0, 1000.0), "power"),
        (lambda: shaft.torque_nm(1.0, 0.0), "speed"),
        (lambda: shaft.power_kw(math.nan, 1.0), "torque"),
        (lambda: shaft.rating(1.0, 0.9, 1.0), "factor"),
        (lambda: shaft.rating(1.0, 1.0, 0.0), "rated_torque"),
        (lambda: shaft.rim_speed_m_s(0.0, 1.0), "diameter"),
        (lambda: shaft.rim_rpm(math.inf, 1.0), "rim_speed"),
        (lambda: shaft.hoop_stress_mpa(-1.0), "rim_speed"),
        (lambda: shaft.shear_stress_mpa(1.0, 0.0), "diameter"),
        (lambda: shaft.natural_frequency_hz(1.0, 0.0, 1.0), "inertia_1"),
        (lambda: shaft.separation(1.0, 0.0), "exciting_frequency"),
    ],
)
def test_what_cannot_be_meant_is_refused(call, field):
    with pytest.raises(ShaftError) as refusal:
        call()
    assert refusal.value.field == field
