"""Geometry of the memory line against arithmetic of its own: where days and shares of the limit come to lie."""

from dataclasses import replace
from datetime import date, timedelta
from math import nan
from xml.etree import ElementTree

import pytest

from plant.drawings.history import (
    COUNTED,
    JUMP,
    LIST,
    NARROW,
    STRUCK,
    WIDE,
    Ahead,
    History,
    Visited,
    Words,
    memory_line,
    years_of,
)
from tests.plant.drawn import numbers, parts

SPAN = (date(2024, 1, 1), date(2028, 1, 1))  # 1461 days
FIRST = Visited(date(2024, 7, 1), found=None, left=0.2)
AGAIN = Visited(date(2025, 1, 1), found=0.5, left=0.5, reached=COUNTED)
MOVED = Visited(date(2026, 1, 1), found=0.84, left=0.34, reached=COUNTED)
AHEAD = tuple(
    Ahead(date(2026, 1, 1) + timedelta(days=100 * n), 0.3 - 0.01 * n, 0.34 + 0.05 * n, 0.4 + 0.1 * n) for n in range(10)
)
WHOLE = History((FIRST, AGAIN, MOVED), AHEAD, date(2026, 6, 1), date(2027, 3, 14), "14 March", date(2027, 6, 2))


def x_of(on, left=44, right=744):
    return left + (on - SPAN[0]).days / 1461 * (right - left)


def y_of(share, base=216, tall=190):
    return base - share / 1.5 * tall


def near(*values):
    return pytest.approx(values, abs=0.06)


def points(element):
    return [tuple(map(float, one.split(","))) for one in element.attrib["points"].split()]


def test_a_visit_is_a_stroke_from_as_found_to_as_left():
    (stroke,) = parts(memory_line(WHOLE, SPAN, "history"), "stroke")
    x = x_of(MOVED.on)
    assert numbers(stroke, "x1", "y1", "x2", "y2") == near(x, y_of(0.84), x, y_of(0.34))


def test_found_so_and_left_so_is_a_dot_in_a_ring_and_an_installation_a_dot_alone():
    svg = memory_line(WHOLE, SPAN, "history")
    assert [numbers(one, "cx", "cy", "r") for one in parts(svg, "ring")] == [
        near(x_of(AGAIN.on), y_of(0.5), 6), near(x_of(MOVED.on), y_of(0.84), 4.5),
    ]  # fmt: skip
    assert [numbers(one, "cy") for one in parts(svg, "dot")] == [near(y_of(0.2)), near(y_of(0.5)), near(y_of(0.34))]


def test_legs_lead_from_as_left_to_the_next_as_found():
    svg = memory_line(WHOLE, SPAN, "history")
    assert [numbers(one, "y1", "y2") for one in parts(svg, "leg")] == [
        near(y_of(0.2), y_of(0.5)), near(y_of(0.5), y_of(0.84)),
    ]  # fmt: skip


def test_a_leg_that_began_before_the_span_is_cut_at_its_edge():
    early = replace(FIRST, on=SPAN[0] - timedelta(days=366))
    svg = memory_line(replace(WHOLE, visits=(early, AGAIN)), SPAN, "history")
    # The edge lies half way between: 0.2 + (0.5 - 0.2) / 2.
    assert numbers(parts(svg, "leg")[0], "x1", "y1") == near(44, y_of(0.35))
    assert len(parts(svg, "dot")) == 1


def test_the_limit_is_a_heavy_stroke_at_two_thirds_of_the_height():
    (limit,) = parts(memory_line(WHOLE, SPAN, "history"), "limit")
    assert numbers(limit, "x1", "y1", "x2", "y2") == near(44, 216 - 190 * 2 / 3, 744, 216 - 190 * 2 / 3)


def test_the_fan_holds_the_interval_and_the_dashed_line_the_middle():
    svg = memory_line(WHOLE, SPAN, "history")
    shown = [one for one in AHEAD if one.on <= SPAN[1]]
    edge = (SPAN[1] - AHEAD[7].on).days / 100
    (fan,) = parts(svg, "fan")
    corners = points(fan)
    assert corners[0] == near(x_of(AHEAD[0].on), y_of(0.4))
    assert corners[-1] == near(x_of(AHEAD[0].on), y_of(0.3))
    # Cut at the span's end, on the straight line between the points on both sides of it.
    assert corners[len(shown)] == near(744, y_of(0.4 + 0.1 * (7 + edge)))
    (middle,) = parts(svg, "fan-mid")
    assert points(middle)[2] == near(x_of(AHEAD[2].on), y_of(0.44))


def test_a_forecast_that_is_not_known_is_not_drawn():
    svg = memory_line(replace(WHOLE, ahead=[replace(one, middle=nan) for one in AHEAD]), SPAN, "history")
    assert parts(svg, "fan") == parts(svg, "fan-mid") == []


def test_the_next_check_is_a_tab_on_the_axis_and_the_other_date_an_open_one():
    svg = memory_line(WHOLE, SPAN, "history")
    assert points(parts(svg, "tab")[0])[0] == near(x_of(WHOLE.due_on), 216 - 1.6)
    assert points(parts(svg, "tab-open")[0])[0] == near(x_of(WHOLE.other_on), 216 - 1.4)
    (due,) = parts(svg, "next")
    assert numbers(due, "x1", "x2", "y2") == near(x_of(WHOLE.due_on), x_of(WHOLE.due_on), 216)
    assert {"next check", "14 March"} <= {one.text for one in parts(svg, "halo")}
    assert parts(memory_line(replace(WHOLE, due_on=date(2029, 1, 1)), SPAN, "history"), "tab") == []


def test_the_words_of_the_next_check_stand_free_of_others():
    """They go before their line, after it at the left end, and lower where a number above the scale stands."""
    crowded = replace(WHOLE, visits=(replace(MOVED, found=2.37),), due_on=MOVED.on + timedelta(days=30))
    at_the_left = replace(WHOLE, due_on=SPAN[0] + timedelta(days=20))
    heights = []
    for history, after in ((WHOLE, False), (crowded, False), (at_the_left, True)):
        (says,) = [one for one in parts(memory_line(history, SPAN, "history"), "halo") if one.text == "14 March"]
        assert numbers(says, "x") == near(x_of(history.due_on) + (6 if after else -6))
        assert ("end" in says.get("class").split()) is not after
        heights += numbers(says, "y")
    assert heights[0] == heights[2] == 54
    # The number stands at 31; the upper of the two lines 14 or more below it.
    assert heights[1] - 16 >= 31 + 14


def test_a_jump_is_dotted_and_named():
    visits = (FIRST, replace(AGAIN, reached=JUMP, says="jump: pipe strain"))
    svg = memory_line(replace(WHOLE, visits=visits), SPAN, "history")
    assert len(parts(svg, "leg-jump")) == 1
    assert "jump: pipe strain" in [one.text for one in parts(svg, "t")]
    small = memory_line(replace(WHOLE, visits=visits), SPAN, "history", NARROW, Words(jump="Sprung"))
    assert "Sprung" in [one.text for one in parts(small, "t")]


def test_words_at_neighbouring_jumps_do_not_lie_on_each_other():
    days = [date(2025, 1, 1) + timedelta(days=20 * n) for n in range(4)]
    visits = [FIRST, *(Visited(on, 0.9, 0.9, JUMP, "jump: foundation bolt") for on in days)]
    svg = memory_line(History(visits), SPAN, "history")
    heights = [numbers(one, "y")[0] for one in parts(svg, "halo")]
    assert len(heights) == 4
    assert min(b - a for a, b in zip(sorted(heights), sorted(heights)[1:], strict=False)) >= 13.9


def test_words_at_a_jump_make_room_for_those_of_today():
    visits = [FIRST, Visited(date(2026, 5, 20), 2.0, 0.1, JUMP)]
    svg = memory_line(replace(WHOLE, visits=visits, ahead=(), due_on=None), SPAN, "history", NARROW)
    (today,), (jump,) = ([one for one in parts(svg, "t") if one.text == word] for word in ("today", "jump"))
    assert numbers(jump, "y")[0] - numbers(today, "y")[0] >= 13.9


def test_a_leg_left_out_is_struck_and_one_that_compares_nothing_is_not_drawn():
    svg = memory_line(History((FIRST, replace(AGAIN, reached=STRUCK), replace(MOVED, reached=""))), SPAN, "history")
    assert len(parts(svg, "leg-out")) == 1
    assert parts(svg, "leg") == []


def test_what_lies_above_the_scale_is_cut_and_its_number_printed():
    svg = memory_line(History((replace(MOVED, found=2.37),)), SPAN, "history")
    assert numbers(parts(svg, "stroke")[0], "y1") == near(26)
    assert "237" in [one.text for one in parts(svg, "tb")]
    assert len(parts(svg, "dot")) == 2
    assert "237" not in memory_line(History((replace(MOVED, found=2.37),)), SPAN, "history", LIST)


def test_visits_without_readings_are_shown_on_the_axis_and_carry_no_value():
    old, looked = Visited(date(2025, 3, 1), stated=True), Visited(date(2025, 9, 1))
    svg = memory_line(History((old, looked)), SPAN, "history")
    assert points(parts(svg, "card")[0])[1] == near(x_of(old.on), 216 - 5)
    assert numbers(parts(svg, "hair")[0], "x1", "y1", "y2") == near(x_of(looked.on), 208, 216)
    assert parts(svg, "dot") == parts(svg, "ring") == []


def test_an_element_is_a_tick_below_the_axis_and_crowded_words_are_left_out():
    days = [date(2025, 1, 1), date(2025, 2, 1), date(2027, 1, 1)]
    svg = memory_line(History(elements=[(on, f"element {n}") for n, on in enumerate(days, 1)]), SPAN, "history")
    assert [numbers(one, "x1", "y1", "y2") for one in parts(svg, "tick")] == [near(x_of(on), 216, 230) for on in days]
    words = [one.text for one in parts(svg, "t")]
    assert ("element 1" in words, "element 2" in words, "element 3" in words) == (True, False, True)


def test_the_small_one_has_the_same_scale_and_no_words():
    svg = memory_line(WHOLE, SPAN, "history", LIST)
    assert parts(svg, "t") == parts(svg, "ring") == []
    (stroke,) = parts(svg, "stroke-s")
    x = x_of(MOVED.on, 4, 172)
    assert numbers(stroke, "x1", "y1", "y2") == near(x, y_of(0.84, 44, 40), y_of(0.34, 44, 40))
    assert numbers(parts(svg, "limit-s")[0], "y1") == near(y_of(1, 44, 40))
    assert numbers(parts(svg, "today")[0], "x1") == near(x_of(WHOLE.today, 4, 172))


@pytest.mark.parametrize(("size", "width", "height"), [(WIDE, 760, 260), (NARROW, 320, 226), (LIST, 176, 50)])
def test_nothing_is_drawn_outside_its_paper(size, width, height):
    visits = [replace(one, says="jump: foundation bolt", reached=JUMP, found=9.0) for one in (FIRST, AGAIN, MOVED)]
    svg = memory_line(replace(WHOLE, visits=visits), SPAN, "history", size)
    assert f'viewBox="0 0 {width} {height}"' in svg
    lines = [one for one in ElementTree.fromstring(svg).iter() if one.tag == "line"]
    assert len(lines) > 5
    for one in lines:
        x1, x2, y1, y2 = numbers(one, "x1", "x2", "y1", "y2")
        assert min(x1, x2) >= 0
        assert max(x1, x2) <= width
        assert min(y1, y2) >= 0
        assert max(y1, y2) <= height


def test_a_screen_reader_hears_what_it_is_and_what_is_on_it():
    svg = memory_line(WHOLE, SPAN, 'History of "BF-21"', says="Left at 34 % & due 14 March")
    assert 'role="img"' in svg
    assert "<desc>Left at 34 % &amp; due 14 March</desc>" in svg
    assert "&quot;BF-21&quot;" in svg


def test_an_empty_history_is_an_empty_sheet_with_its_limit():
    svg = memory_line(History(), years_of(History()), "history")
    assert len(parts(svg, "limit")) == 1
    assert parts(svg, "dot") == parts(svg, "fan") == []


def test_the_span_holds_everything_and_a_year_to_come():
    begin, end = years_of(WHOLE)
    assert begin < FIRST.on
    assert end >= WHOLE.other_on
    assert end >= WHOLE.today + timedelta(days=365)
    with pytest.raises(ValueError, match="begins before it ends"):
        memory_line(WHOLE, (end, end), "history")
