"""Geometry of a train's picture: position 1 at the right, one scale for both views, arrows to where shafts will lie."""

from dataclasses import replace
from math import nan

import pytest

from plant.drawings import Foot, Limits
from plant.drawings.train import Laid, TrainGate, TrainPicture, TrainShaft, train_picture
from tests.plant.drawn import numbers, parts

FLAT = Laid(0.0, 0.0)
LOW = Laid(-0.2, 0.0)
MOTOR = TrainShaft("motor", -200, 700, (FLAT, FLAT), (FLAT, FLAT), (Foot("1", 0, 0, 0), Foot("2", 500, 0, 0)))
GEAR = TrainShaft("gear", 700, 1400, (FLAT, LOW), (FLAT, FLAT), (Foot("3", 900, 0, 0.2), Foot("4", 1200, 0, 0.2)))
LAST = replace(MOTOR, name="compressor", x_from_mm=1400, x_to_mm=2600, feet=(Foot("5", 1600, 0, 0),))
GATES = (TrainGate(700, Limits(offset_mm=0.05)), TrainGate(1400))
ASKED = TrainPicture((MOTOR, GEAR, LAST), GATES)


def test_position_one_stands_at_the_right_and_right_is_up():
    svg = train_picture(ASKED).above
    motor, gear, last = (numbers(one, "x1", "x2", "y1", "y2") for one in parts(svg, "shaft"))
    # 2800 mm at 300 a square; 30 units a square, the driver end at the right edge of 10.1 squares.
    assert motor[1] == pytest.approx(8 + 303, abs=0.06)
    assert motor[0] == pytest.approx(motor[1] - 900 / 300 * 30, abs=0.06)
    assert gear[1] == motor[0]
    assert last[0] == pytest.approx(motor[1] - 2800 / 300 * 30, abs=0.06)
    # The gear stands 0.2 mm left, four squares of 0.05 mm below its neighbours' line.
    assert gear[2] - motor[2] == pytest.approx(0.2 / 0.05 * 30, abs=0.06)
    assert motor[2] == last[2]


def test_arrows_lead_to_the_dashed_line_and_words_say_which_way():
    svg = train_picture(ASKED).above
    dashed = numbers(parts(svg, "target")[1], "y1")[0]
    tips = [numbers_of(arrow)[1] for arrow in parts(svg, "arrow")]
    assert len(tips) == 2
    assert [y for _x, y in tips] == pytest.approx([dashed, dashed], abs=0.06)
    assert [one.text for one in parts(svg, "ta")].count("right 0.20") == 2
    assert "up" not in [one.text for one in parts(train_picture(ASKED).side, "ta")]


def numbers_of(arrow):
    return [tuple(map(float, point.split(","))) for point in arrow.attrib["points"].split()]


def test_bars_leave_what_the_limit_allows_about_the_driver_side():
    svg = train_picture(ASKED).above
    bars = [numbers(bar, "x1", "x2", "y1") for bar in parts(svg, "gate")]
    motor = numbers(parts(svg, "shaft")[0], "x1", "y1")
    assert bars == [pytest.approx((motor[0] - 5, motor[0] + 5, motor[1] - s * 30), abs=0.06) for s in (1, -1)]


def test_bars_at_flex_planes_bound_the_angle_at_the_other_one():
    gate = TrainGate(700, Limits.of_flex_angles(0.5, 0.25, (-50, 50)), (650, 750))
    # Driver side first: plane B, where the angle allowed at A opens 0.5 mm/m over 100 mm.
    assert gate.openings == [(650, pytest.approx(0.05)), (750, pytest.approx(0.025))]
    svg = train_picture(replace(ASKED, gates=(gate, GATES[1]))).above
    assert len(parts(svg, "gate")) == 4


def test_both_views_have_one_scale_and_it_is_said():
    views = train_picture(ASKED)
    assert "One square: 300\u00a0mm along, 0.05\u00a0mm across (drawn 6,000 times too tall)" in views.scale
    assert "Dashed" in views.scale
    views = train_picture(replace(ASKED, system="us"))
    assert "12\u00a0inch along, 2\u00a0thou across" in views.scale


def test_a_plane_nobody_measured_is_not_drawn_and_that_is_said():
    for lost in (None, Laid(nan, 0.0)):
        shafts = tuple(replace(one, before=(FLAT, lost), after=(FLAT, None)) for one in ASKED.shafts)
        views = train_picture(TrainPicture(shafts, GATES))
        assert views.above is None
        assert views.side
        assert views.missing == "Not measured from above."


def test_six_machines_on_four_foot_planes_each_keep_their_labels_on_the_paper():
    shafts = tuple(
        TrainShaft(
            f"machine {place}", 1000 * place, 1000 * place + 1000, (FLAT, LOW), (FLAT, FLAT),
            tuple(Foot(str(4 * place + n), 1000 * place + 200 * (n + 1), -0.05, 0.2) for n in range(4)),
        )
        for place in range(6)
    )  # fmt: skip
    views = train_picture(TrainPicture(shafts, tuple(TrainGate(1000.0 * place) for place in range(1, 6))))
    for svg in (views.side, views.above):
        labels = [one for one in parts(svg, "ta")]
        assert len(labels) == 24
        assert all(2 <= numbers(one, "x")[0] <= 318 for one in labels)
        places = [(numbers(one, "x")[0], numbers(one, "y")[0]) for one in labels]
        same_row = [(a, b) for a in places for b in places if a[1] == b[1] and a[0] < b[0]]
        assert all(b[0] - a[0] > 55 for a, b in same_row)


def test_names_are_escaped_and_cut_to_the_room_there_is():
    shafts = (replace(MOTOR, name="<b>motor of the boiler feed pump</b>"), GEAR, LAST)
    svg = train_picture(replace(ASKED, shafts=shafts)).side
    assert "&lt;b&gt;" in svg
    assert "boiler" not in "".join(one.text or "" for one in parts(svg, "halo"))


@pytest.mark.parametrize("shaft", [replace(LAST, x_to_mm=300_000), replace(LAST, before=(Laid(1e6, 0), FLAT))])
def test_what_no_scale_shows_is_refused(shaft):
    with pytest.raises(ValueError, match="slipped decimal"):
        train_picture(replace(ASKED, shafts=(MOTOR, GEAR, shaft)))
