"""Geometry of the shaft picture, against the formulas the design and the axes give for it."""

import re
from math import nan
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.drawings import Foot, Limits, Position, ShaftPicture, shaft_picture
from tests.plant.drawn import numbers, parts

PLANES = (-70.0, 70.0)


def picture(**given_: object) -> ShaftPicture:
    given_ = {
        "stationary": "pump",
        "movable": "motor",
        "vertical": Position(0.103, 0.733),
        "horizontal": Position(-0.04, -0.4),
        "planes_mm": PLANES,
        "limits": Limits.of_flex_angles(0.5, 0.5, PLANES),
        "feet": (Foot("inboard feet", 250, -0.29, 0.14), Foot("outboard feet", 700, -0.62, 0.32)),
        **given_,
    }
    return ShaftPicture(**given_)  # type: ignore[arg-type]


def pixel(svg: str) -> tuple[float, float]:
    """x of flex plane A and y of the stationary centreline."""
    stationary = parts(svg, "shaft")[0]
    return numbers(stationary, "x2", "y2")


# Shaft picture: 30 units = one square = 100 mm along


def test_a_shaft_on_target_is_one_straight_line_whatever_the_target():
    target = {"target_vertical": Position(0.06, 0.1), "target_horizontal": Position(-0.02, -0.3)}
    views = shaft_picture(picture(vertical=target["target_vertical"], horizontal=target["target_horizontal"], **target))
    for svg in (views.side, views.above):
        assert svg
        heights = {h for line in [*parts(svg, "shaft"), *parts(svg, "spool")] for h in numbers(line, "y1", "y2")}
        assert heights == {numbers(parts(svg, "target")[0], "y1")[0]}
    assert "0.06\u00a0mm above the pump" in views.scale
    assert "0.02\u00a0mm left of the pump" in views.scale
    assert "rising by 0.10\u00a0mm/m" in views.scale
    assert "turning left by 0.30\u00a0mm/m" in views.scale


def test_movable_shaft_lies_where_its_numbers_put_it():
    views = shaft_picture(picture(target_vertical=Position(0.06, 0.0)))
    assert views.side
    ax, zero = pixel(views.side)
    movable = parts(views.side, "shaft")[1]
    # 0.1 mm across: 30 units; at B (x = 70 mm) the shaft is 0.103 + 0.733 * 0.07 - 0.06 = 0.0943 mm above target.
    assert "0.1\u00a0mm across" in views.scale
    assert numbers(movable, "x1", "y1") == pytest.approx((ax + 140 * 0.3, zero - 0.0943 / 0.1 * 30), abs=0.06)
    # The sheet ends 0.6 squares beyond the last foot: 0.103 + 0.733 * 0.76 - 0.06 = 0.6001 mm.
    assert numbers(movable, "x2", "y2") == pytest.approx((ax + 830 * 0.3, zero - 0.6001 / 0.1 * 30), abs=0.06)


def test_positive_right_is_up_in_the_view_from_above():
    views = shaft_picture(picture(horizontal=Position(0.05, 0.0)))
    assert views.above
    assert numbers(parts(views.above, "shaft")[1], "y1")[0] < pixel(views.above)[1]


def test_scale_is_the_smallest_round_number_that_fits_eight_squares_in_both_views():
    # From the side 0.5 mm to 0.76 m: at 0.05 mm a square ten squares, at 0.1 five and one spare below.
    views = shaft_picture(picture(vertical=Position(0.5, 0.0), horizontal=Position(0.0, 0.0)))
    assert "0.1\u00a0mm across (drawn 1,000 times too tall)" in views.scale
    # Seven squares up and the spare one below are eight.
    for up, right, across in ((0.07, 0, "0.01"), (0.071, 0, "0.02"), (0, -0.071, "0.02")):
        views = shaft_picture(picture(vertical=Position(up, 0), horizontal=Position(right, 0)))
        assert f"{across}\u00a0mm across" in views.scale


@pytest.mark.parametrize(("outboard", "along"), [(700, 100), (701, 200), (1470, 200), (1471, 500), (3780, 500)])
def test_long_machines_put_more_millimetres_into_a_square(outboard, along):
    # 70 mm to flex plane A, 1.8 squares of stub before it, 0.6 behind the last foot, 10.1 squares on the paper.
    views = shaft_picture(picture(feet=(Foot("outboard feet", outboard, 0, 0),)))
    assert f"{along}\u00a0mm along" in views.scale


def test_gates_stand_at_the_flex_planes_as_far_from_the_target_as_the_limit_allows():
    views = shaft_picture(picture())
    assert views.above
    ax, zero = pixel(views.above)
    # 0.5 mm/m over 140 mm between the planes: 0.07 mm, that is 21 units at 0.1 mm across.
    gates = [numbers(g, "x1", "x2", "y1") for g in parts(views.above, "gate")]
    b = ax + 42
    assert gates == [
        pytest.approx(g, abs=0.06)
        for g in (
            (ax - 6, ax + 6, zero - 21),
            (ax - 6, ax + 6, zero + 21),
            (b - 6, b + 6, zero - 21),
            (b - 6, b + 6, zero + 21),
        )
    ]


def test_a_shaft_at_the_edge_of_a_gate_has_exactly_the_angle_allowed_at_the_other_plane():
    limits = Limits.of_flex_angles(0.4, 0.7, PLANES)
    # Angle at A = offset(x_B) / L, angle at B = -offset(x_A) / L (spec of the axes), L = 140 mm.
    assert limits.gate_b_mm == pytest.approx(0.4 * 0.140)
    assert limits.gate_a_mm == pytest.approx(0.7 * 0.140)


def test_band_widens_as_every_line_through_both_gates_may():
    views = shaft_picture(picture(horizontal=Position(0.0, 0.5)))
    assert views.above
    ax, zero = pixel(views.above)
    points = [tuple(map(float, p.split(","))) for p in parts(views.above, "band")[0].attrib["points"].split()]
    upper = points[: len(points) // 2]
    # From gate -0.07 at A through +0.07 at B the line gains 0.14 mm in 140 mm: one slope of 1 mm/m beyond B.
    (bx, by), (mx, my) = upper[1], upper[2]
    assert (bx - ax) / 0.3 == pytest.approx(140, abs=0.4)
    assert (by - my) / 30 * 0.1 == pytest.approx((mx - bx) / 0.3 * 0.001, abs=2e-3)
    assert min(y for _, y in points) >= 22
    assert zero == pytest.approx(sum(p[1] for p in (points[0], points[-1])) / 2, abs=0.06)


def test_without_flex_planes_one_gate_stands_at_the_centre_and_no_spool_is_drawn():
    views = shaft_picture(picture(planes_mm=None, limits=Limits(offset_mm=0.1, slope_mrad=1.0)))
    assert views.above
    assert len(parts(views.above, "gate")) == 2
    assert parts(views.above, "spool") == parts(views.above, "hinge") == []
    assert "the gate at the coupling’s centre" in views.scale


def test_an_arrow_leads_from_the_shaft_to_the_target_and_its_words_carry_the_number():
    views = shaft_picture(picture(feet=(Foot("inboard feet", 250, -0.28625, None),)))
    assert views.side
    _, zero = pixel(views.side)
    (arrow,) = parts(views.side, "arrow")
    tip = [tuple(map(float, p.split(","))) for p in arrow.attrib["points"].split()][1]
    assert tip[1] == pytest.approx(zero, abs=0.1)  # 0.103 + 0.733 * 0.25 = 0.28625 mm
    assert [t.text for t in parts(views.side, "ta")] == ["down 0.29"]
    assert views.above
    assert [t.text for t in parts(views.above, "ta")] == ["not known"]


def test_a_move_shorter_than_nine_units_has_words_and_no_arrow():
    views = shaft_picture(picture(feet=(Foot("inboard feet", 250, -0.014, 0.0),)))
    assert views.side
    assert parts(views.side, "arrow") == []
    assert "down 0.01" in views.side
    assert views.above
    assert "stays" in views.above


def test_every_foot_keeps_its_name_and_number_even_where_labels_would_run_together():
    feet = tuple(Foot(f"foot plane {i}", 200 + 60 * i, -0.1 - i / 100, 0.1) for i in range(4))
    views = shaft_picture(picture(feet=feet))
    assert views.side
    texts = [t.text for t in parts(views.side, "t")]
    assert [f"foot plane {i}" for i in range(4)] == [t for t in texts if t and t.startswith("foot")]
    assert [f"down {0.1 + i / 100:.2f}" for i in range(4)] == [t for t in texts if t and t.startswith("down")]
    height = float(ElementTree.fromstring(views.side).attrib["viewBox"].split()[3])
    rows = {numbers(t, "y")[0] for t in parts(views.side, "ta")}
    assert len(rows) > 1
    assert max(rows) < height


def test_a_plane_nobody_measured_is_said_not_drawn():
    for missing in (None, Position(nan, nan)):
        views = shaft_picture(picture(horizontal=missing))
        assert views.side
        assert views.above is None
        assert views.missing == "Not measured from above."
    assert shaft_picture(picture(vertical=None)).missing == "Not measured from the side."


def test_names_are_escaped_and_stay_whole_in_the_label():
    name = 'Circulating water pump & <motor> "2"'
    views = shaft_picture(picture(movable=name))
    assert views.side
    assert "<motor>" not in views.side
    assert name in ElementTree.fromstring(views.side).attrib["aria-label"]


def test_inch_sheets_have_squares_of_four_inches_and_whole_thousandths():
    views = shaft_picture(picture(system="us"))
    assert "4\u00a0inch along, 5\u00a0thou across" in views.scale
    assert views.side
    assert "down 24.4" in views.side  # 0.62 mm / 0.0254 mm


def test_flex_planes_in_the_wrong_order_and_slipped_decimals_are_refused():
    with pytest.raises(ValueError, match="Flex plane A"):
        shaft_picture(picture(planes_mm=(70, -70)))
    with pytest.raises(ValueError, match="slipped decimal"):
        shaft_picture(picture(vertical=Position(1000, 0)))


@settings(max_examples=50, deadline=None, derandomize=True)
@given(
    offset=st.floats(-5, 5),
    slope=st.floats(-20, 20),
    inboard=st.floats(80, 900),
    span=st.floats(60, 4000),
    planes=st.sampled_from([None, (-70.0, 70.0), (-20.0, 20.0), (-900.0, 900.0)]),
    limit=st.floats(0.05, 10),
)
def test_nothing_is_ever_drawn_off_the_paper(offset, slope, inboard, span, planes, limit):
    position = Position(offset, slope)
    inboard = max(inboard, planes[1] + 50) if planes else inboard
    feet = tuple(
        Foot(name, x, -position.at(x), None)
        for name, x in (("inboard feet", inboard), ("outboard feet", inboard + span))
    )
    limits = Limits.of_flex_angles(limit, limit, planes) if planes else Limits(offset_mm=limit, slope_mrad=limit)
    views = shaft_picture(picture(vertical=position, planes_mm=planes, limits=limits, feet=feet))
    assert views.side
    root = ElementTree.fromstring(views.side)
    width, height = (float(n) for n in root.attrib["viewBox"].split()[2:])
    for element in root.iter():
        for name, value in element.attrib.items():
            if name in {"x1", "x2", "cx"}:
                assert 0 <= float(value) <= width
            elif name in {"y1", "y2", "cy", "y"}:
                assert 0 <= float(value) <= height
            elif name == "points":
                assert all(0 <= float(y) <= height for y in re.findall(r",(-?[\d.]+)", value))
    squares = {numbers(g, "y1")[0] for g in parts(views.side, "grid") if g.attrib["y1"] == g.attrib["y2"]}
    assert len(squares) <= 9, "eight squares across at most"


def test_the_picture_carries_no_style_or_colour_of_its_own():
    views = shaft_picture(picture())
    for svg in (views.side, views.above):
        assert svg
        assert not re.search(r"\b(style|fill|stroke|on\w+|href)=|<(style|script|image|foreignObject)", svg)
