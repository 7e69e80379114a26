"""Set screws: tables as data, holding power, loads. Published figures run in tests/reference."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from couplings.engineering import setscrews
from couplings.engineering.setscrew_classes import SetScrewError, check_class, proof_of, refuse_tension
from couplings.engineering.tables.setscrews import CLASSES, STARTER_ANGLES, STARTER_HOLDING, AngleRow, HoldingRow

MARKS = {"published", "from memory", "common practice", "constructed"}


def test_every_row_of_the_tables_has_its_mark_and_its_source():
    for row in (*STARTER_HOLDING, *STARTER_ANGLES, *CLASSES):
        assert row.mark in MARKS
        assert row.source


def test_only_the_two_rows_seen_in_print_are_marked_published():
    assert {row.size: row.printed for row in STARTER_HOLDING if row.mark == "published"} == {
        "#4": (5, 160),
        "#8": (20, 385),
    }


def test_holding_never_falls_with_the_size():
    assert [row.holding_n for row in STARTER_HOLDING] == sorted(row.holding_n for row in STARTER_HOLDING)


@settings(max_examples=50, derandomize=True, deadline=None, database=None)
@given(angle=st.floats(0, 180))
def test_two_screws_hold_more_than_one_and_no_more_than_two_and_less_the_further_apart(angle):
    factor, _mark = setscrews.factor_by_angle(angle)
    nearer, _mark = setscrews.factor_by_angle(max(0.0, angle - 5))
    assert 1 < factor <= nearer <= 2


def test_a_site_edits_the_table_of_two_screws():
    own = (AngleRow(90.0, 1.5, "common practice", "site"), AngleRow(0.0, 2.0, "from memory", "site"))
    assert setscrews.factor_by_angle(90.0, own) == (1.5, "common practice")
    assert setscrews.factor_by_angle(45.0, own) == (1.75, "constructed")
    with pytest.raises(SetScrewError, match="0 to 90"):
        setscrews.factor_by_angle(120.0, own)
    with pytest.raises(SetScrewError, match="no degrees"):
        setscrews.factor_by_angle(0.0, ())


@pytest.mark.parametrize("count, factor, mark", [(0, 0.0, ""), (1, 1.0, ""), (2, 1.75, "from memory")])
def test_count(count, factor, mark):
    assert setscrews.count_factor(count, 60.0) == (factor, mark)


def test_four_screws_are_two_pairs_and_say_that_this_is_constructed():
    assert setscrews.count_factor(4, 60.0) == (3.5, "constructed")
    # In one axial line each screw is a row of its own: nothing but the sum can come out.
    assert setscrews.count_factor(4, 0.0)[0] == 4


def test_seated_with_less_a_screw_holds_less_in_proportion_and_with_more_nothing_is_said():
    row = setscrews.row_of("1/4")
    half = setscrews.seated(row, row.seating_nm / 2)
    assert half.holding_n == pytest.approx(row.holding_n / 2)
    assert half.mark == "constructed"
    assert setscrews.seated(row, row.seating_nm).mark == row.mark
    with pytest.raises(SetScrewError, match="more than the table's"):
        setscrews.seated(row, row.seating_nm * 1.01)


@settings(max_examples=50, derandomize=True, deadline=None, database=None)
@given(
    count=st.sampled_from((1, 2, 4)),
    angle=st.floats(0, 180),
    shaft=st.floats(5, 300),
    design=st.floats(1, 10),
    torque=st.floats(0, 1e4),
)
def test_work_of_the_friction_force_over_one_turn_is_the_torque_times_two_pi(count, angle, shaft, design, torque):
    """Independent route: a force at the surface moves by the circumference in a turn."""
    held = setscrews.holding(1000.0, count, angle, shaft, design)
    circumference_m = math.pi * shaft / 1000
    assert held.torsional_nm * 2 * math.pi == pytest.approx(held.axial_n * circumference_m, rel=1e-12)
    assert setscrews.share_used(held, held.torsional_allowed_nm) == pytest.approx(1)
    assert setscrews.share_used(held, 0.0, held.axial_allowed_n) == pytest.approx(1)
    both = setscrews.share_used(held, torque, held.axial_allowed_n)
    assert both >= max(1, torque / held.torsional_allowed_nm)


def test_a_flat_helps_against_turning_alone_and_a_soft_screw_holds_less():
    plain = setscrews.holding(1000.0, 1, None, 50.0, 2.0)
    flat = setscrews.holding(1000.0, 1, None, 50.0, 2.0, flat=True)
    soft = setscrews.holding(1000.0, 1, None, 50.0, 2.0, harder_hrc=9.9)
    # Machine Design, 15 November 2002: about 6 % more, up to 15 % less.
    assert (flat.axial_n, flat.torsional_nm) == (plain.axial_n, pytest.approx(1.06 * plain.torsional_nm))
    assert soft.axial_n == pytest.approx(0.85 * plain.axial_n)
    assert setscrews.holding(1000.0, 1, None, 50.0, 2.0, harder_hrc=10.0) == plain


def test_no_screw_holds_nothing_and_no_share_can_be_told():
    held = setscrews.holding(1000.0, 0, None, 50.0, 2.0)
    assert (held.axial_n, held.torsional_nm) == (0, 0)
    assert setscrews.share_used(held, 10.0) is None


def test_set_screw_classes_are_never_in_tension():
    for row in CLASSES:
        check_class(row.name)
        with pytest.raises(SetScrewError, match="never in tension"):
            refuse_tension(row.name)
    with pytest.raises(SetScrewError, match="never in tension"):
        refuse_tension(" 45h ")
    for bolt in ("8.8", "10.9", "grade 5"):
        refuse_tension(bolt)
        with pytest.raises(SetScrewError, match="not a class of set screws"):
            check_class(bolt)


def test_proof_torque_is_known_for_the_sizes_of_the_standard_alone():
    assert proof_of("M7") is None
    assert proof_of("M8", "33H") is None
    with pytest.raises(SetScrewError):
        proof_of("M8", "8.8")


def test_an_unknown_size_says_that_its_holding_must_be_stated():
    with pytest.raises(SetScrewError, match="state it from the data sheet"):
        setscrews.row_of("M8")
    own = (HoldingRow("M8", 8.0, 15.0, 5000.0, "common practice", "site"),)
    assert setscrews.row_of("M8", own).holding_n == 5000.0


@pytest.mark.parametrize(
    "call, field",
    [
        (lambda: setscrews.factor_by_angle(math.nan), "angle"),
        (lambda: setscrews.factor_by_angle(181.0), "angle"),
        (lambda: setscrews.count_factor(3, 60.0), "count"),
        (lambda: setscrews.count_factor(2, None), "angle"),
        (lambda: setscrews.torsional_nm(100.0, 0.0), "shaft_diameter"),
        (lambda: setscrews.torsional_nm(math.inf, 10.0), "holding"),
        (lambda: setscrews.holding(0.0, 1, None, 50.0, 2.0), "holding"),
        (lambda: setscrews.holding(100.0, 1, None, 50.0, 0.5), "design_factor"),
        (lambda: setscrews.holding(100.0, 1, None, 50.0, 2.0, harder_hrc=math.nan), "harder_hrc"),
        (lambda: setscrews.share_used(setscrews.holding(100.0, 1, None, 50.0, 2.0), math.nan), "torque"),
        (lambda: setscrews.seated(setscrews.row_of("1/4"), 0.0), "seating_torque"),
        (lambda: setscrews.factor_range("gentle"), "load"),
    ],
)
def test_what_cannot_be_reckoned_with_is_refused(call, field):
    with pytest.raises(SetScrewError) as refusal:
        call()
    assert refusal.value.field == field
