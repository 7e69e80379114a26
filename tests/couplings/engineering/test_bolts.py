"""Threads, strengths and preloads: what is refused, and independent routes to the same figures."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from couplings.engineering import friction, torque_preload
from couplings.engineering.bolts import proof_load_n, share_warnings, strength_of
from couplings.engineering.tables.nut_factors import STARTER_NUT_FACTORS, STARTER_SCATTER
from couplings.engineering.threads import COARSE_PITCH_MM, FastenerError, Thread, metric_stress_area_mm2, parse_thread

MU = st.floats(0.05, 0.3)
SIZES = st.sampled_from([size for size in COARSE_PITCH_MM if size >= 5])


def coarse(size):
    return Thread("metric", size, COARSE_PITCH_MM[size])


@pytest.mark.parametrize(
    ("text", "system", "diameter", "pitch"),
    [
        ("M12x1.75", "metric", 12, 1.75),
        ("m 12 × 1,75", "metric", 12, 1.75),
        ("M30*3", "metric", 30, 3),
        ("1/2-13", "inch", 12.7, 25.4 / 13),
        ("1/2 - 13 UNC-2A", "inch", 12.7, 25.4 / 13),
        ("1 1/8-7", "inch", 28.575, 25.4 / 7),
        ("1-1/8-7 UNC", "inch", 28.575, 25.4 / 7),
        ("1-8", "inch", 25.4, 25.4 / 8),
        ("0.75-16", "inch", 19.05, 25.4 / 16),
        ("#10-24", "inch", 4.826, 25.4 / 24),
    ],
)
def test_a_designation_is_read_as_the_trade_writes_it(text, system, diameter, pitch):
    thread = parse_thread(text)
    assert (thread.system, thread.diameter_mm, thread.pitch_mm) == (
        system,
        pytest.approx(diameter),
        pytest.approx(pitch),
    )
    assert parse_thread(thread.name) == thread


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("M12", "M12x1.75 is the coarse thread"),
        ("1/2", "1/2-13 is the coarse thread"),
        ("M12x1,75x3", "is not a thread"),
        ("G 1/2", "is not a thread"),
        ("M12x12", "too large for the diameter"),
        ("1/0-13", "not a size in inches"),
        ("1/2-0", "must be above zero"),
        ("M900x6", "is the unit right"),
        ("M0x1", "above zero"),
        ("", "is not a thread"),
    ],
)
def test_a_designation_that_leaves_something_open_is_refused(text, said):
    with pytest.raises(FastenerError, match=said) as refused:
        parse_thread(text)
    assert refused.value.field == "thread"


def test_the_pitch_decides_and_is_never_assumed():
    # Pressure-vessel tables list M30 with 3 mm: 580.4 mm2, the coarse one is 561 (reference pack, section 1).
    assert parse_thread("M30x3").area_mm2 == pytest.approx(580.4, abs=0.1)
    assert parse_thread("M30x3.5").area_mm2 == pytest.approx(561, abs=0.5)


@given(SIZES)
def test_the_stress_area_is_the_circle_between_root_and_pitch_diameter(size):
    thread = coarse(size)
    mean = (thread.pitch_diameter_mm + thread.minor_diameter_mm) / 2
    assert thread.area_mm2 == pytest.approx(math.pi / 4 * mean**2, rel=1e-12)
    assert thread.minor_diameter_mm < thread.stress_diameter_mm < thread.pitch_diameter_mm


def test_areas_are_taken_for_whole_tables_at_once():
    sizes = np.array([8.0, 10.0, 12.0])
    areas = metric_stress_area_mm2(sizes, np.array([1.25, 1.5, 1.75]))
    assert areas.tolist() == [coarse(size).area_mm2 for size in sizes]
    assert torque_preload.preload_n(0.2, sizes, torque_preload.torque_nm(0.2, sizes, areas)) == pytest.approx(areas)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_figures_that_cannot_be_meant_are_refused(bad):
    for call in (
        lambda: Thread("metric", bad, 1),
        lambda: Thread("inch", 12, bad),
        lambda: torque_preload.torque_nm(bad, 12, 1e4),
        lambda: torque_preload.preload_n(0.2, bad, 80),
        lambda: friction.motosh_mm(1.75, 10.863, 15.05, bad, 0.12),
        lambda: strength_of("ISO 898-1", "8.8", bad),
        lambda: torque_preload.lowest_by_tightening_factor(1e4, bad),
        lambda: torque_preload.embedding_loss_n(bad, 1e-6, 1e-6),
        lambda: torque_preload.scatter_of_tests([1.0, bad]),
    ):
        with pytest.raises(FastenerError):
            call()


def test_property_class_8_8_grows_stronger_above_16_mm_and_grade_5_weaker_above_an_inch():
    assert [strength_of("ISO 898-1", "8.8", d).proof for d in (16, 16.1, 18)] == [580, 600, 600]
    assert [strength_of("SAE J429", "5", d).proof for d in (25.4, 25.5)] == [85, 74]
    assert [strength_of("SAE J429", "2", d).proof for d in (19.05, 20)] == [55, 33]


@pytest.mark.parametrize(
    ("standard", "name", "diameter", "said"),
    [
        ("ISO 898-1", "8.8", 42, "covers 1.6 to 39 mm"),
        ("ISO 898-1", "9.8", 18, "covers 1.6 to 16 mm"),
        ("SAE J429", "5", 5, "covers 6.35 to 38.1 mm"),
        ("ISO 898-5", "45H", 10, "never in tension"),
        ("ISO 898-1", "7.7", 10, "There are:"),
        ("SAE J429", "8.8", 10, "There are:"),
    ],
)
def test_a_class_is_not_stretched_beyond_its_standard(standard, name, diameter, said):
    with pytest.raises(FastenerError, match=said) as refused:
        strength_of(standard, name, diameter)
    assert refused.value.field == "class"


@given(SIZES, MU, st.floats(1.2, 1.8))
def test_long_forms_agree_with_each_other_and_with_their_own_short_form(size, mu, bearing):
    thread, across = coarse(size), bearing * size
    found = {
        form: friction.nut_factor_by_friction(form, thread, mu, mu, across)
        for form in ("shigley", "motosh", "vdi", "iso-16047")
    }
    # The forms differ in rounded constants, in the product of lead and friction, and in where on the flank they act
    # (Shigley: halfway to the root of the thread); the reference gives 0.5 % for three of them on one geometry.
    assert found["vdi"] == pytest.approx(found["motosh"], rel=0.002)
    assert found["iso-16047"] == pytest.approx(found["motosh"], rel=0.03)
    assert found["iso-16047"] >= found["motosh"]
    assert found["shigley"] == pytest.approx(found["iso-16047"], rel=0.04)
    torque = torque_preload.torque_nm(found["motosh"], size, 10_000)
    assert torque_preload.preload_n(found["motosh"], size, torque) == pytest.approx(10_000)


@given(SIZES, MU, MU)
def test_the_long_form_is_the_work_of_one_turn(size, mu_thread, mu_bearing):
    """Independent route: work done turning once = load raised by the lead + friction on the flank + under the head."""
    thread, across, load = coarse(size), 1.3 * size, 1000.0
    k = friction.nut_factor_by_friction("iso-16047", thread, mu_thread, mu_bearing, across)
    lead, radius = thread.pitch_mm, thread.pitch_diameter_mm / 2
    slope = math.atan(lead / (2 * math.pi * radius))
    # Block on an inclined plane, flank of 30 degrees widening the friction (statics, not the formula under test).
    push = load * math.tan(slope + math.atan(mu_thread / math.cos(math.radians(30))))
    torque = push * radius + load * mu_bearing * across / 2
    assert k * size * load == pytest.approx(torque, rel=0.001)


def test_forms_say_which_figure_they_lack():
    thread = coarse(12)
    for form, bearing, field in (
        ("motosh", None, "friction.bearing_diameter"),
        ("mil-hdbk-60", 15.0, "friction.bearing_diameter"),
        ("vdi", 11.0, "friction.bearing_diameter"),
        ("vdi", 50.0, "friction.bearing_diameter"),
        ("of my own", None, "friction.form"),
    ):
        with pytest.raises(FastenerError) as refused:
            friction.nut_factor_by_friction(form, thread, 0.12, 0.12, bearing)
        assert refused.value.field == field


@pytest.mark.parametrize("scatter", [0.1, 0.25, 0.35])
def test_the_range_is_what_a_thousand_tightenings_reach(scatter):
    """Monte Carlo: each wrench off by up to 4 %, each screw by up to the scatter, each joint relaxed by up to 5 %."""
    draw = np.random.default_rng(20270314)
    torque, k, d = 80.0, 0.2, 12.0
    low, high = torque_preload.preload_range_n(k, d, 0.96 * torque, 1.04 * torque, scatter, 0.05)
    torques = torque * draw.uniform(0.96, 1.04, 200_000)
    initial = torque_preload.preload_n(k, d, torques) * draw.uniform(1 - scatter, 1 + scatter, torques.size)
    left = initial * draw.uniform(0.95, 1.0, torques.size)
    assert low <= left.min()
    assert initial.max() <= high
    # The ends are reached, not only bounded.
    assert left.min() == pytest.approx(low, rel=0.02)
    assert initial.max() == pytest.approx(high, rel=0.02)


@given(SIZES, MU)
def test_assembly_preload_is_where_tension_and_torsion_reach_the_share_of_yield(size, mu):
    """Independent route: von Mises from the thread's torque and the polar section, fully plastic (12/16 of elastic)."""
    thread, yield_mpa = coarse(size), 640.0
    force = friction.assembly_preload_n(thread, yield_mpa, mu)
    twisting = force * (thread.pitch_mm / (2 * math.pi) + 0.5775 * mu * thread.pitch_diameter_mm)
    shear = twisting * 12 / (math.pi * thread.stress_diameter_mm**3)
    assert math.sqrt((force / thread.area_mm2) ** 2 + 3 * shear**2) == pytest.approx(0.9 * yield_mpa, rel=1e-3)


@given(st.floats(0.05, 1.5), st.floats(0, 0.4))
def test_warnings_follow_the_share_of_proof(share, scatter):
    said = share_warnings(share, share * (1 - scatter), share * (1 + scatter))
    assume(abs(share - 1) > 1e-6)
    assert any("stretched for good" in one for one in said) == (share > 1)
    assert any("high end" in one for one in said) == (share <= 1 < share * (1 + scatter))
    assert any("above the 90 %" in one for one in said) == (0.9 < share <= 1)


def test_three_quarters_of_proof_with_a_lubricated_wrench_raises_no_word():
    thread = coarse(16)
    proof = proof_load_n(thread, strength_of("ISO 898-1", "8.8", 16))
    torque = torque_preload.torque_nm(0.18, 16, 0.75 * proof)
    low, high = torque_preload.preload_range_n(0.18, 16, torque, torque, 0.25, 0.05)
    assert share_warnings(0.75, low / proof, high / proof) == ()


def test_losses_and_scatter_out_of_range_are_refused():
    for more in (
        {"scatter": 1.0},
        {"scatter": -0.1},
        {"scatter": 0.2, "loss_share": 1.0},
        {"scatter": 0.2, "loss_n": -1.0},
    ):
        with pytest.raises(FastenerError):
            torque_preload.preload_range_n(0.2, 12, 80, 80, **more)
    with pytest.raises(FastenerError, match="above the highest"):
        torque_preload.preload_range_n(0.2, 12, 81, 80, 0.2)
    with pytest.raises(FastenerError, match="two tests"):
        torque_preload.scatter_of_tests([1.0])


def test_every_row_of_the_starter_tables_names_its_source_once():
    for rows, key in ((STARTER_NUT_FACTORS, "condition"), (STARTER_SCATTER, "method")):
        names = [(row.source, getattr(row, key)) for row in rows]
        assert len(names) == len(set(names))
        assert all(source and row.mark == "published" for (source, _name), row in zip(names, rows, strict=True))
