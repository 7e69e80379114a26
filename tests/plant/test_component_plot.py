"""Geometry of a component's plot against arithmetic of its own."""

from datetime import date

import pytest

from plant.drawings.component import LegLine, component_plot, scale_of
from plant.drawings.history import JUMP, STRUCK, Ahead
from tests.plant.drawn import numbers, parts

SPAN = (date(2025, 1, 1), date(2027, 1, 1))  # 730 days
LEG = LegLine(date(2025, 1, 1), date(2026, 1, 1), 0.05, -0.15, 0.02, 0.04)


def near(*values):
    return pytest.approx(values, abs=0.06)


def test_a_leg_is_a_line_between_its_readings_with_whiskers_about_the_target():
    svg = component_plot([LEG], [], SPAN, "offset")
    # The largest reach is 0.19, so the scale ends at 0.2: 60 units for 0.2, the target half way down.
    (leg,) = parts(svg, "leg")
    assert numbers(leg, "x1", "y1", "x2", "y2") == near(46, 70 - 15, 46 + 266 / 2, 70 + 45)
    assert [numbers(one, "y1", "y2") for one in parts(svg, "cap-s")] == [near(61, 49), near(127, 103)]
    assert numbers(parts(svg, "axis")[0], "y1") == near(70)


def test_jumps_and_legs_left_out_look_different():
    drawn = [LegLine(LEG.from_on, LEG.to_on, 0, 0.1, 0, 0, kind) for kind in (JUMP, STRUCK)]
    svg = component_plot(drawn, [], SPAN, "offset")
    assert (len(parts(svg, "leg-jump")), len(parts(svg, "leg-out")), len(parts(svg, "leg"))) == (1, 1, 0)


def test_the_pace_ahead_is_a_fan_inside_the_span():
    ahead = [Ahead(date(year, 1, 1), -0.1, 0.0, 0.1) for year in (2026, 2027, 2028)]
    svg = component_plot([LEG], ahead, SPAN, "offset")
    corners = parts(svg, "fan")[0].attrib["points"].split()
    assert len(corners) == 4
    assert corners[1] == "312,40"


@pytest.mark.parametrize(
    ("sizes", "step", "most"),
    [([], 1, 1), ([0.0], 1, 1), ([0.19], 0.1, 0.2), ([0.2], 0.1, 0.2), ([0.21], 0.2, 0.4),
     ([7.0], 5, 10), ([41], 50, 50)],
)  # fmt: skip
def test_the_scale_is_round_and_holds_everything(sizes, step, most):
    assert scale_of(sizes) == (pytest.approx(step), pytest.approx(most))


def test_figures_stand_at_the_lines_with_the_decimals_of_the_step():
    svg = component_plot([LEG], [], SPAN, "offset")
    assert [one.text for one in parts(svg, "end")] == ["−0.2", "−0.1", "0.0", "0.1", "0.2"]


def test_a_span_without_a_day_is_refused():
    with pytest.raises(ValueError, match="begins before it ends"):
        component_plot([], [], (SPAN[0], SPAN[0]), "offset")
