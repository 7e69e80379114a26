"""Tightening orders: every screw once a pass, opposites together, and full torque last."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from couplings.engineering.threads import FastenerError
from couplings.engineering.tightening import (
    ORDERS,
    STARTER_SHARES,
    middle_outward,
    opposite_pairs,
    positions_in_order,
    tightening_passes,
)

COUNTS = st.integers(1, 64)
SHARES = st.lists(st.floats(0.05, 1.0), max_size=4).map(lambda some: (*sorted(some), 1.0))


@given(COUNTS, st.sampled_from(ORDERS), SHARES, st.floats(0.1, 5000), st.booleans())
def test_every_pass_has_every_position_once_and_the_last_is_full(positions, order, shares, torque, check_round):
    rows = tightening_passes(torque, positions, order, shares=shares, check_round=check_round)
    assert all(sorted(row.positions) == list(range(1, positions + 1)) for row in rows)
    assert rows[-1].torque_nm == torque
    assert [row.number for row in rows] == list(range(1, len(rows) + 1))
    torques = [row.torque_nm for row in rows]
    assert torques == sorted(torques)
    assert [row.share for row in rows[: len(shares)]] == list(shares)


@given(st.integers(1, 32).map(lambda half: 2 * half))
def test_screws_of_a_pair_stand_opposite(positions):
    order = opposite_pairs(positions)
    for first, second in zip(order[::2], order[1::2], strict=True):
        assert second - first == positions // 2


@given(st.integers(2, 16).map(lambda quarter: 4 * quarter))
def test_the_second_pair_stands_a_quarter_turn_from_the_first(positions):
    order = opposite_pairs(positions)
    assert (order[2] - order[0]) % (positions // 2) == positions // 4


@given(st.integers(1, 31).map(lambda half: 2 * half + 1))
def test_of_an_odd_number_each_next_screw_stands_nearest_to_opposite(positions):
    order = opposite_pairs(positions)
    for one, other in pairwise(order):
        apart = abs(one - other)
        assert min(apart, positions - apart) == positions // 2


@given(st.integers(1, 8), st.integers(1, 8))
def test_a_segment_is_tightened_from_its_middle_outward(length, segments):
    order = middle_outward(length * segments, segments)
    for number in range(segments):
        along = order[number * length : (number + 1) * length]
        assert {(place - 1) // length for place in along} == {number}
        # What is done is always one unbroken stretch, with the middle in it.
        for count in range(1, length + 1):
            assert max(along[:count]) - min(along[:count]) == count - 1
        middle = number * length + (length + 1) / 2
        assert abs(along[0] - middle) <= 0.5


def test_a_row_of_six_is_tightened_3_4_2_5_1_6():
    assert middle_outward(6) == (3, 4, 2, 5, 1, 6)


def test_a_round_needs_no_second_round_to_check():
    assert [row.order for row in tightening_passes(60, 4, "round")] == ["round"] * len(STARTER_SHARES)
    assert tightening_passes(60, 4, "opposite")[-1].order == "round"
    assert len(tightening_passes(60, 1, "opposite", shares=(1.0,))) == 1


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"shares": (0.5, 0.4, 1.0)}, "shares"),
        ({"shares": (0.5, 0.9)}, "shares"),
        ({"shares": ()}, "shares"),
        ({"shares": (0.0, 1.0)}, "shares"),
        ({"shares": (float("nan"), 1.0)}, "shares"),
        ({"positions": 0}, "positions"),
        ({"positions": 65}, "positions"),
        ({"order": "as you like"}, "order"),
        ({"order": "middle-outward", "segments": 3}, "segments"),
        ({"order": "middle-outward", "segments": 0}, "segments"),
        ({"torque_nm": 0.0}, "torque"),
    ],
)
def test_what_cannot_be_meant_is_refused(change, field):
    asked = {"torque_nm": 60.0, "positions": 8, "order": "opposite"} | change
    with pytest.raises(FastenerError) as refused:
        tightening_passes(**asked)
    assert refused.value.field == field


def test_the_order_of_a_name_is_the_order_itself():
    assert positions_in_order("round", 3) == (1, 2, 3)
    assert positions_in_order("middle-outward", 4, 2) == (1, 2, 3, 4)
