"""One component of the misalignment over time: each leg a line between two readings with their doubt, the pace ahead.

Drawn from the target: the target is the line at nought. Values come in the unit they are printed in.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import ceil, floor, isfinite, log10

from plant.drawings.history import COUNTED, LEG_CSS, Ahead, years_between
from plant.drawings.svg import circle, line, picture, polygon, polyline, text

WIDTH, TOP, TALL, LEFT, RIGHT, BELOW = 320.0, 10.0, 120.0, 46.0, 312.0, 24.0
STEPS = (1.0, 2.0, 5.0, 10.0)


@dataclass(frozen=True)
class LegLine:
    """From one reading to the next: days, positions less the target, half widths of their intervals, and how it counts.

    `kind` is one of COUNTED, JUMP, STRUCK.
    """

    from_on: date
    to_on: date
    start: float
    end: float
    start_u: float
    end_u: float
    kind: str = COUNTED


def component_plot(
    legs: Sequence[LegLine],
    ahead: Sequence[Ahead],
    span: tuple[date, date],
    label: str,
    says: str = "",
    today: date | None = None,
) -> str:
    """Draw one component, 320 x 154: the scale is symmetrical about the target and the same for legs and forecast.

    Parameters
    ----------
    legs : sequence of LegLine
        Oldest first, in the unit printed.
    ahead : sequence of Ahead
        Middle and interval of the position to come, of the same unit. It is drawn as far as the span.
    span : tuple of date
        First and last day drawn.
    label, says : str
        What a screen reader says it is, and what is on it; the numbers stand in a table.
    today : date, optional

    Returns
    -------
    str
        SVG.

    Raises
    ------
    ValueError
        A span without a day in it.
    """
    begin, end = (one.toordinal() for one in span)
    if begin >= end:
        raise ValueError("a span begins before it ends")
    shown = [one for one in ahead if span[0] <= one.on <= span[1] and isfinite(one.low + one.high)]
    step, most = scale_of(
        [abs(value) + half for one in legs for value, half in ((one.start, one.start_u), (one.end, one.end_u))]
        + [max(abs(one.low), abs(one.high)) for one in shown]
    )

    def x(on: date) -> float:
        return LEFT + (on.toordinal() - begin) / (end - begin) * (RIGHT - LEFT)

    def y(value: float) -> float:
        return TOP + TALL / 2 - value / most * TALL / 2

    drawn = ""
    for count in range(-round(most / step), round(most / step) + 1):
        at = y(count * step)
        drawn += line(LEFT, at, RIGHT, at, "axis" if count == 0 else "grid")
        drawn += text(LEFT - 5, at + 4, _figure(count * step, step), "t end")
    apart = 365.25 / (end - begin) * (RIGHT - LEFT)
    every = years_between(apart)
    for year in range(span[0].year + 1, span[1].year + 1):
        at = x(date(year, 1, 1))
        drawn += line(at, TOP, at, TOP + TALL, "grid")
        if year % every == 0 and at + 18 <= WIDTH:
            drawn += text(at, TOP + TALL + 16, str(year), "t mid")
    if len(shown) > 1:
        upper, lower = [(x(one.on), y(one.high)) for one in shown], [(x(one.on), y(one.low)) for one in shown]
        drawn += polygon([*upper, *reversed(lower)], "fan")
        drawn += polyline([(x(one.on), y(one.middle)) for one in shown], "fan-mid")
    if today is not None and span[0] <= today <= span[1]:
        drawn += line(x(today), TOP, x(today), TOP + TALL, "today")
    for leg in legs:
        if not span[0] <= leg.from_on <= leg.to_on <= span[1]:
            continue
        drawn += line(x(leg.from_on), y(leg.start), x(leg.to_on), y(leg.end), LEG_CSS[leg.kind])
        for on, value, half, css in (
            (leg.from_on, leg.start, leg.start_u, "dot"),
            (leg.to_on, leg.end, leg.end_u, "ring"),
        ):
            drawn += line(x(on), y(value - half), x(on), y(value + half), "cap-s")
            drawn += circle(x(on), y(value), 2.5 if css == "dot" else 3.5, css)
    return picture(WIDTH, TOP + TALL + BELOW, drawn, label, "cp", says)


def scale_of(sizes: Sequence[float]) -> tuple[float, float]:
    """The step of the ruled lines and the end of the scale, both round, for values up to these sizes."""
    largest = max([one for one in sizes if isfinite(one)], default=0.0)
    if largest <= 0:
        return 1.0, 1.0
    # Two or three lines on each side of the target.
    raw = largest / 2
    power = 10.0 ** floor(log10(raw))
    step = next(one * power for one in STEPS if one * power >= raw * (1 - 1e-9))
    return step, step * max(1, ceil(largest / step - 1e-9))


def _figure(value: float, step: float) -> str:
    """As many decimals as the step has, with a true minus."""
    decimals = max(0, -floor(log10(step) + 1e-9))
    words = f"{abs(value):.{decimals}f}"
    return f"−{words}" if value < 0 else words
