"""The drawing of two hubs, read back: what is to scale, what is where, and that no number leaves the paper."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.drawings import HubPicture, HubSide, hubs_picture
from tests.plant.drawn import numbers, parts


def side(name="motor", bore=60.0, overhang=10.0, behind=8.0, engagement=50.0, reversed_=False, shaft=None):
    return HubSide(name, bore, overhang, behind, engagement, reversed_, shaft)


def drawn(one=None, other=None, dbse=50.0, length=46.0, gap=30.0, system="metric"):
    return hubs_picture(HubPicture((one or side(), other or side("pump")), dbse, length, gap, system))


def spans(svg, css):
    """Left and right edge of every polygon of a class."""
    found = []
    for part in parts(svg, css):
        xs = [float(pair.split(",")[0]) for pair in part.attrib["points"].split()]
        found.append((min(xs), max(xs)))
    return found


def test_lengths_along_the_shaft_are_to_one_scale():
    svg = drawn()
    walls = sorted(set(spans(svg, "hub")))
    first = next(s for s in walls if s[1] - s[0] == max(b - a for a, b in walls))
    scale = (first[1] - first[0]) / 60
    (shaft_1, shaft_2) = sorted(set(spans(svg, "rod")))
    assert (shaft_2[0] - shaft_1[1]) / scale == pytest.approx(50, abs=0.2)
    (element,) = set(spans(svg, "element"))
    assert (element[1] - element[0]) / scale == pytest.approx(46, abs=0.2)
    assert (first[1] - shaft_1[1]) / scale == pytest.approx(10, abs=0.2)


def test_every_number_of_the_placement_stands_on_it_with_its_unit():
    svg = drawn()
    said = [part.text for part in parts(svg, "t")]
    lengths = {"between shaft ends": 50, "between flange planes": 46, "gap between hub faces": 30, "engaged": 50}
    for words, mm in {**lengths, "overhang": 10}.items():
        assert f"{words} {mm}.0\xa0mm" in said
    assert "engaged 1.969\xa0inch" in [part.text for part in parts(drawn(system="us"), "t")]


def test_a_reversed_hub_is_said_and_a_shaft_that_stands_proud_too():
    svg = drawn(side(reversed_=True, behind=52.0, overhang=-5.0, engagement=60.0))
    assert "motor reversed" in svg
    assert "proud 5.0\xa0mm" in [part.text for part in parts(svg, "t")]


def test_faces_that_overlap_are_said_to_be_impossible():
    assert "cannot be fitted" in drawn(gap=-14.0)
    assert "cannot be fitted" not in drawn()


def test_a_shoulder_is_drawn_where_the_straight_length_is_known():
    assert len(parts(drawn(side(shaft=70.0)), "rod")) == len(parts(drawn(), "rod")) + 2


def test_names_are_escaped_and_nothing_carries_a_style():
    svg = drawn(side(name='<b onclick="x">'))
    assert "<b" not in svg
    assert not re.search(r"style=|fill=|stroke=", svg)


@settings(max_examples=60, derandomize=True, deadline=None, database=None)
@given(
    bore=st.floats(1, 500), overhang=st.floats(-300, 300), behind=st.floats(-50, 500),
    dbse=st.floats(0, 3000), length=st.floats(0, 3000), system=st.sampled_from(["metric", "us"]),
    shaft=st.one_of(st.none(), st.floats(1, 900)),
)  # fmt: skip
def test_words_stay_on_the_paper_whatever_the_lengths(bore, overhang, behind, dbse, length, system, shaft):
    one = side("m", bore, overhang, behind, bore / 2, shaft=shaft)
    svg = drawn(one, one, dbse, length, dbse - 2 * overhang, system)
    for part in parts(svg, "mid"):
        (x,) = numbers(part, "x")
        half = 6.9 * len(part.text) / 2
        assert x - half >= 0
        assert x + half <= 320
    assert "nan" not in svg
    edges = [part.text for part in parts(svg, "t") if "mid" not in part.attrib["class"]]
    assert all(6.9 * (len(a) + len(b)) <= 304 for a, b in zip(edges[2:4], edges[4:6], strict=True))


def test_a_hub_without_a_bore_is_refused():
    with pytest.raises(ValueError, match="bore"):
        drawn(side(bore=0.0))
