"""Geometry of the limit line, the state mark and the clock ring, against the formulas the design gives for them."""

import re
from math import cos, hypot, nan, radians, sin

import pytest

from plant.drawings import clock_ring, limit_line, state_mark
from tests.plant.drawn import numbers, parts

IN, CLOSE, OUT, UNKNOWN = "in tolerance", "too close to call", "out of tolerance", "not known"


# Limit line: x = 8 + 2 p, p in percent of the limit


@pytest.mark.parametrize("percent", [0, 10, 84, 100, 136, 150])
def test_value_stands_two_units_along_for_each_percent_of_the_limit(percent):
    (mark,) = parts(limit_line(percent / 100, 0.05, IN), "mark")
    assert numbers(mark, "cx", "cy", "r") == (8 + 2 * percent, 16, 6.5)


def test_limit_is_a_heavy_stroke_at_a_hundred_percent_and_the_rule_doubles_beyond():
    svg = limit_line(0.5, 0.1, IN)
    assert numbers(parts(svg, "limit")[0], "x1", "y1", "x2", "y2") == (208, 2, 208, 30)
    rules = {numbers(r, "x1", "x2", "y1") for r in parts(svg, "hair") if r.attrib["y1"] == r.attrib["y2"]}
    assert rules == {(8, 208, 16), (208, 308, 14), (208, 308, 18)}


def test_whisker_reaches_as_far_as_the_uncertainty():
    svg = limit_line(0.84, 0.19, CLOSE)
    assert numbers(parts(svg, "whisker")[0], "x1", "x2") == (8 + 2 * 65, 8 + 2 * 103)
    assert [numbers(c, "x1", "y1", "y2") for c in parts(svg, "cap")] == [(138, 10, 22), (214, 10, 22)]
    assert "84 percent of the limit, plus or minus 19: too close to call" in svg


def test_whisker_is_cut_at_nothing_and_at_the_end_of_the_line():
    assert numbers(parts(limit_line(0.1, 0.15, IN), "whisker")[0], "x1") == (8,)
    assert numbers(parts(limit_line(1.4, 1.2, CLOSE), "whisker")[0], "x2") == (308,)


def test_value_beyond_the_line_is_a_triangle_that_points_on_and_its_number_is_said():
    svg = limit_line(2.36, 0.2, OUT)
    (mark,) = parts(svg, "mark")
    assert mark.tag.endswith("polygon")
    assert mark.attrib["points"] == "288,7 312,16 288,25"
    assert parts(svg, "whisker") == []
    assert "236 percent" in svg


def test_doubt_about_a_value_beyond_the_line_still_shows_where_it_begins():
    svg = limit_line(1.6, 0.7, CLOSE)
    assert numbers(parts(svg, "whisker")[0], "x1", "x2") == (8 + 2 * 90, 308)
    assert len(parts(svg, "cap")) == 1, "a cap at the cut would say that the doubt ends there"


@pytest.mark.parametrize("share", [None, nan])
def test_unknown_value_leaves_rule_and_stroke_alone(share):
    svg = limit_line(share, None, UNKNOWN)
    assert parts(svg, "mark") == parts(svg, "whisker") == []
    assert parts(svg, "limit")
    assert "not known" in svg


@pytest.mark.parametrize(("verdict", "x"), [(IN, 7.5), (CLOSE, 17), (OUT, 26.5)])
def test_state_mark_stands_on_its_side_of_the_stroke(verdict, x):
    svg = state_mark(verdict)
    assert numbers(parts(svg, "mark")[0], "cx", "cy", "r") == (x, 9, 4.5)
    assert numbers(parts(svg, "limit-s")[0], "x1", "x2") == (17, 17)
    assert bool(parts(svg, "whisker-s")) == (verdict == CLOSE)
    assert 'aria-hidden="true"' in svg


def test_state_mark_of_the_unknown_is_a_dotted_rule_without_a_circle():
    svg = state_mark(UNKNOWN)
    assert parts(svg, "dots")
    assert parts(svg, "mark") == []


def test_a_verdict_that_is_none_of_the_four_words_is_refused():
    with pytest.raises(KeyError):
        state_mark("OK")


# Clock ring: r = 46 + 260 per mm from the mean


def test_readings_stand_on_the_clock_at_46_plus_260_per_millimetre():
    readings = {0: 0.0, 90: -0.05, 180: -0.02, 270: 0.02}
    svg = clock_ring(readings, active=90)
    mean = sum(readings.values()) / 4
    drawn = [numbers(p, "cx", "cy") for p in parts(svg, "dot") if numbers(p, "r") == (4.5,)]
    for angle in (0, 180, 270):
        r = 46 + 260 * (readings[angle] - mean)
        assert any(hypot(x - 70 - r * sin(radians(angle)), y - 70 + r * cos(radians(angle))) < 0.1 for x, y in drawn)
    (hand,) = parts(svg, "pt-on")
    assert numbers(hand, "cx", "cy") == pytest.approx((70 + 46 + 260 * (-0.05 - mean), 70), abs=0.06)


def test_fitted_circle_is_shifted_as_the_shaft_is():
    # The drawing's own published geometry: half of (12 - 6) up, half of (3 - 9) to the right.
    (fit,) = parts(clock_ring({0: 0.0, 90: -0.05, 180: -0.02, 270: 0.02}), "ring-fit")
    assert numbers(fit, "cx", "cy", "r") == pytest.approx((70 - 0.035 * 260, 70 - 0.01 * 260, 46), abs=0.06)


def test_three_readings_fix_the_circle_and_two_do_not():
    assert parts(clock_ring({0: 0.0, 90: 0.02, 180: 0.03}), "ring-fit")
    assert parts(clock_ring({0: 0.0, 180: 0.03}), "ring-fit") == []


def test_a_place_not_read_is_left_out_never_drawn_at_zero():
    svg = clock_ring({0: 0.0, 180: 0.03})
    assert len([p for p in parts(svg, "dot") if numbers(p, "r") == (4.5,)]) == 2
    assert "No reading yet" in clock_ring({})


def test_large_readings_stay_on_the_face_and_the_label_says_the_scale():
    svg = clock_ring({0: 0.0, 90: 0.2, 180: 0.9, 270: 0.7})
    for x, y in (numbers(p, "cx", "cy") for p in parts(svg, "dot") if numbers(p, "r") == (4.5,)):
        assert hypot(x - 70, y - 70) <= 70
    assert "times smaller than usual" in svg


def test_no_drawing_carries_style_or_colour_of_its_own():
    drawings = [limit_line(0.8, 0.1, IN), limit_line(2, 0.1, OUT), clock_ring({0: 0.1})]
    drawings += [state_mark(verdict) for verdict in (IN, CLOSE, OUT, UNKNOWN)]
    for svg in drawings:
        assert not re.search(r"\b(style|fill|stroke|on\w+|href)=|<(style|script|image|foreignObject)", svg)
