"""A curve over age: a share that lives on, in steps, or a cost; with the band of its limits and marks on the axis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import ceil, floor, isfinite, log10

from plant.drawings.component import scale_of
from plant.drawings.svg import Point, line, picture, polygon, polyline, text

WIDTH, TOP, TALL, LEFT, RIGHT, BELOW = 320.0, 10.0, 140.0, 46.0, 308.0, 26.0


@dataclass(frozen=True)
class Curve:
    """What to draw, in the units printed; x and y from zero up.

    `measured` is drawn in ink (as steps where `steps`), `law` in the accent, dashed; `low` and `high` bound a band.
    `marks` are (x, word) of upright lines, `levels` heights of dotted ones. Points beyond `most_x` are left out.
    """

    most_x: float
    most_y: float
    measured: Sequence[Point] = ()
    law: Sequence[Point] = ()
    band: Sequence[tuple[float, float, float]] = ()
    marks: Sequence[tuple[float, str]] = ()
    levels: Sequence[float] = ()
    steps: bool = False
    percent: bool = False
    censored: Sequence[Point] = field(default=())


def curve_plot(asked: Curve, label: str, says: str = "") -> str:
    """Draw it, 320 x 176; its numbers stand in a table beside it.

    Parameters
    ----------
    asked : Curve
    label, says : str
        What a screen reader says it is, and what is on it.

    Returns
    -------
    str
        SVG.

    Raises
    ------
    ValueError
        A scale that is not above zero.
    """
    if not (asked.most_x > 0 and asked.most_y > 0 and isfinite(asked.most_x + asked.most_y)):
        raise ValueError("a scale ends above zero")
    step_x, end_x = _scale(asked.most_x)
    step_y, end_y = (0.25, 1.0) if asked.percent else scale_of([asked.most_y])

    def x(value: float) -> float:
        return LEFT + min(value, end_x) / end_x * (RIGHT - LEFT)

    def y(value: float) -> float:
        return TOP + TALL - min(value, end_y) / end_y * TALL

    drawn = ""
    for count in range(round(end_y / step_y) + 1):
        at = y(count * step_y)
        drawn += line(LEFT, at, RIGHT, at, "axis" if count == 0 else "grid")
        drawn += text(LEFT - 5, at + 4, f"{count * step_y * 100:.0f}" if asked.percent else _figure(count * step_y),
                      "t end")  # fmt: skip
    for count in range(1, round(end_x / step_x) + 1):
        at = x(count * step_x)
        drawn += line(at, TOP, at, TOP + TALL, "grid")
        drawn += text(at, TOP + TALL + 16, _figure(count * step_x), "t end" if at > RIGHT - 10 else "t mid")
    band = [one for one in asked.band if one[0] <= end_x and isfinite(one[1] + one[2])]
    if len(band) > 1:
        upper, lower = [(x(a), y(high)) for a, _, high in band], [(x(a), y(low)) for a, low, _ in band]
        if asked.steps:
            upper, lower = _stepped(upper), _stepped(lower)
        drawn += polygon([*upper, *reversed(lower)], "fan")
    for level in asked.levels:
        drawn += line(LEFT, y(level), RIGHT, y(level), "today")
    if len(asked.law) > 1:
        drawn += polyline([(x(a), y(b)) for a, b in asked.law if a <= end_x and isfinite(b)], "fan-mid")
    if len(asked.measured) > 1:
        points = [(x(a), y(b)) for a, b in asked.measured if a <= end_x and isfinite(b)]
        drawn += polyline(_stepped(points) if asked.steps else points, "plot")
    for at_x, at_y in asked.censored:
        if at_x <= end_x:
            drawn += line(x(at_x), y(at_y) - 4, x(at_x), y(at_y) + 4, "cap-s")
    for place, word in asked.marks:
        if place > end_x:
            continue
        at = x(place)
        drawn += line(at, TOP, at, TOP + TALL, "next")
        left = at > (LEFT + RIGHT) / 2
        # Where most live on the curve begins at the top, so words stand at the foot.
        height = TOP + TALL - 6 if asked.steps else TOP + 12
        drawn += text(at - 4 if left else at + 4, height, word, "t end" if left else "t")
    return picture(WIDTH, TOP + TALL + BELOW, drawn, label, "cp", says)


def _stepped(points: Sequence[Point]) -> list[Point]:
    """Level until the next point, then straight up or down to it."""
    found: list[Point] = []
    for place, one in enumerate(points):
        if place:
            found.append((one[0], points[place - 1][1]))
        found.append(one)
    return found


def _scale(most: float) -> tuple[float, float]:
    """Step and end of an axis: four to six round steps, the last of them just past the end."""
    power = 10.0 ** floor(log10(most / 4))
    step = next(one * power for one in (1.0, 2.0, 2.5, 5.0, 10.0) if one * power >= most / 4 * (1 - 1e-9))
    return step, step * ceil(most / step - 1e-9)


def _figure(value: float) -> str:
    """Short enough to stand below a ruled line."""
    if value >= 10_000:
        return f"{value / 1000:g}k"
    return f"{value:.3g}" if value < 1000 else f"{value:.0f}"
