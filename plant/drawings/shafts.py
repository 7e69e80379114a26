"""The shaft picture: both shafts' centrelines from the side and from above, to a scale that is printed.

It is drawn from the target: what is shown of the movable shaft is where it lies *minus* where it should lie, so that a
shaft on target continues the stationary one as a straight line, and an arrow is exactly the move its words ask for.
Where the target itself stands away from the stationary shaft, the sentence below the picture says by how much.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from plant.drawings.feet import LETTER, Foot, draw_feet
from plant.drawings.positions import Limits, Position, ShaftPicture, ShaftViews
from plant.drawings.ruling import RULINGS, scale_words
from plant.drawings.svg import circle, line, picture, polygon, text

SQUARE, WIDTH, LEFT, TOP = 30.0, 320.0, 8.0, 22.0
SQUARES_ALONG, SQUARES_ACROSS = 10.1, 8
STUB = 1.8  # squares of the stationary shaft that show left of the coupling
NAME_LETTERS = 14  # more would run over the flex planes; the full name stands in the label


@dataclass(frozen=True)
class _View:
    """One plane of the picture, already as deviation from the target."""

    deviation: Position
    planes: tuple[float, float]
    x_from: float
    x_to: float
    along_mm: float
    across_mm: float
    above_zero: int
    below_zero: int

    def x(self, mm: float) -> float:
        return LEFT + (mm - self.x_from) * SQUARE / self.along_mm

    def y(self, mm: float) -> float:
        return TOP + SQUARE * (self.above_zero - mm / self.across_mm)

    @property
    def base(self) -> float:
        return TOP + SQUARE * (self.above_zero + self.below_zero)

    @property
    def right(self) -> float:
        return LEFT + SQUARES_ALONG * SQUARE


def _extent(picture_of: ShaftPicture, along_mm: float) -> tuple[float, float]:
    """From the stationary shaft's stub to a little beyond the last foot. [mm]"""
    a, b = picture_of.planes_mm or (0.0, 0.0)
    start = min([a - STUB * along_mm, *(foot.x_mm - 0.6 * along_mm for foot in picture_of.feet)])
    end = max([b + 2 * along_mm, *(foot.x_mm + 0.6 * along_mm for foot in picture_of.feet)])
    return start, end


def _whole(squares: float) -> int:
    """Next whole square; 0.07 / 0.01 is seven, whatever binary fractions make of it."""
    return ceil(squares - 1e-9)


def _squares(shown: Position, b: float, end: float, across_mm: float) -> tuple[int, int]:
    """Whole squares needed above and below the stationary centreline, one each way at least."""
    heights = (shown.at(b), shown.at(end))
    return max(1, _whole(max(heights) / across_mm)), max(1, _whole(-min(heights) / across_mm))


def _with_gates(rows: tuple[int, int], limits: Limits | None, across_mm: float) -> tuple[int, int]:
    """Room for the gates as well where eight squares allow it, and never fewer than four in all."""
    gates = [] if limits is None else [limits.gate_a_mm, limits.gate_b_mm, limits.offset_mm]
    reach = _whole(max((g for g in gates if g is not None), default=0.0) / across_mm)
    above, below = rows
    for wanted in (max(reach, 2), 2):
        if max(above, wanted) + max(below, wanted) <= SQUARES_ACROSS:
            return max(above, wanted), max(below, wanted)
    return rows


def _band(view: _View, limits: Limits, planes: tuple[float, float] | None) -> str:
    """Every line the gates let through, cut at the edge of the squares, and the gates that are on the paper."""
    if planes and limits.gate_a_mm is not None and limits.gate_b_mm is not None:
        (a, b), gate_a, gate_b = planes, limits.gate_a_mm, limits.gate_b_mm
        widen = (gate_a + gate_b) / (b - a)
        gates, start = [(a, gate_a), (b, gate_b)], [(a, gate_a), (b, gate_b)]
    elif planes is None and limits.offset_mm is not None:
        widen = (limits.slope_mrad or 0.0) / 1000
        gates = start = [(0.0, limits.offset_mm)]
    else:
        return ""
    x0, g0 = start[-1]
    edge_x = view.x_from + SQUARES_ALONG * view.along_mm
    halves = []
    for sign, room in ((1, view.above_zero * view.across_mm), (-1, view.below_zero * view.across_mm)):
        points = [(x, min(g, room)) for x, g in start]
        if g0 < room and widen > 0 and (meets := x0 + (room - g0) / widen) < edge_x:
            points.append((meets, room))
        points.append((edge_x, min(room, g0 + widen * (edge_x - x0))))
        halves.append([(view.x(x), view.y(sign * g)) for x, g in points])
    body = polygon([*halves[0], *reversed(halves[1])], "band")
    for x, g in gates:
        for sign in (1, -1):
            y = view.y(sign * g)
            if TOP - 0.5 <= y <= view.base + 0.5:
                body += line(view.x(x) - 6, y, view.x(x) + 6, y, "gate")
    return body


def _short(name: str) -> str:
    return name if len(name) <= NAME_LETTERS else name[: NAME_LETTERS - 1] + "…"


def _names(view: _View, stationary: str, movable: str) -> str:
    """Machine names on a paper halo: each on the side of its line that the other shaft and the target leave free."""
    b = view.planes[1]
    middle = (b + view.x_to) / 2
    high = view.deviation.at(middle) >= 0
    away_to_left = high == (view.deviation.slope_mrad >= 0)
    # A long name runs past the coupling: what counts is where the movable shaft is at the name's end.
    name_ends = max(b, view.x_from + (LETTER * len(_short(stationary)) / SQUARE) * view.along_mm)
    return text(
        view.x(view.x_from) + 2,
        view.y(0) + (-7 if view.deviation.at(name_ends) <= 0 else 17),
        _short(stationary),
        "t halo",
    ) + text(
        view.x(middle) + (-7 if away_to_left else 7),
        view.y(view.deviation.at(middle)) + (-8 if high else 17),
        _short(movable),
        "t halo end" if away_to_left else "t halo",
    )


def _draw(view: _View, asked: ShaftPicture, moves: Sequence[tuple[Foot, float | None, str]], title: str) -> str:
    """One view, bottom layer first."""
    a, b = view.planes
    first = _whole(view.x_from / view.along_mm)
    body = "".join(
        line(view.x(k * view.along_mm), TOP, view.x(k * view.along_mm), view.base, "grid")
        for k in range(first, first + 12)
        if view.x(k * view.along_mm) <= view.right
    )
    body += "".join(
        line(LEFT, TOP + k * SQUARE, view.right, TOP + k * SQUARE, "grid")
        for k in range(view.above_zero + view.below_zero + 1)
    )
    if asked.limits is not None:
        body += _band(view, asked.limits, asked.planes_mm)
    feet, height = draw_feet(moves, view)
    body += feet.posts
    body += line(view.x(view.x_from), view.y(0), view.x(a), view.y(0), "shaft")
    body += line(view.x(a), view.y(0), view.right, view.y(0), "target")
    end_y = view.y(view.deviation.at(view.x_to))
    for plane, letter in zip((a, b) if asked.planes_mm else (0.0,), "AB", strict=False):
        body += line(view.x(plane), TOP, view.x(plane), view.base, "plane")
        if asked.planes_mm:
            body += text(view.x(plane), 15, letter, "t mid")
    if asked.planes_mm:
        body += line(view.x(a), view.y(0), view.x(b), view.y(view.deviation.at(b)), "spool")
    body += line(view.x(b), view.y(view.deviation.at(b)), view.x(view.x_to), end_y, "shaft")
    if asked.planes_mm:
        body += circle(view.x(a), view.y(0), 4, "hinge") + circle(view.x(b), view.y(view.deviation.at(b)), 4, "hinge")
    body += feet.moves + _names(view, asked.stationary, asked.movable)
    said = f"Shaft picture, {title}: {asked.stationary} at the left, {asked.movable} at the right. {feet.sentence}"
    return picture(WIDTH, height, body, said.strip(), "sp")


def shaft_picture(asked: ShaftPicture) -> ShaftViews:
    """Draw both views to one scale: the smallest round number across with which the shaft fits in eight squares.

    Raises
    ------
    ValueError
        The flex planes do not run from the stationary towards the movable machine, or the position is beyond any
        scale (a slipped decimal point that the caller should have questioned).
    """
    if asked.planes_mm and asked.planes_mm[0] >= asked.planes_mm[1]:
        raise ValueError("Flex plane A lies on the stationary side: its x must be smaller than that of B.")
    ruling = RULINGS[asked.system]
    planes = asked.planes_mm or (0.0, 0.0)
    for along in ruling.along:
        along_mm = along * ruling.along_unit_mm
        start, end = _extent(asked, along_mm)
        if end - start <= SQUARES_ALONG * along_mm + 1e-9:
            break
    else:
        raise ValueError("This machine is longer than any scale of the shaft picture.")
    shown = {
        "side": _minus(asked.vertical, asked.target_vertical),
        "above": _minus(asked.horizontal, asked.target_horizontal),
    }
    for across in ruling.across:
        across_mm = across * ruling.unit_mm
        rows = {name: _squares(p, planes[1], end, across_mm) for name, p in shown.items() if p}
        if all(sum(r) <= SQUARES_ACROSS for r in rows.values()):
            break
    else:
        raise ValueError("This misalignment is beyond any scale of the shaft picture; look for a slipped decimal.")
    drawn: dict[str, str | None] = {"side": None, "above": None}
    for name, title in (("side", "from the side"), ("above", "from above")):
        position = shown[name]
        if position is None:
            continue
        above, below = _with_gates(rows[name], asked.limits, across_mm)
        view = _View(position, planes, start, end, along_mm, across_mm, above, below)
        moves = [(foot, *foot.told(name, ruling.unit_mm, ruling.decimals)) for foot in asked.feet]
        drawn[name] = _draw(view, asked, moves, title)
    absent = [w for w, p in (("from the side", shown["side"]), ("from above", shown["above"])) if p is None]
    return ShaftViews(
        side=drawn["side"],
        above=drawn["above"],
        scale=scale_words(asked, ruling, along, across),
        missing=f"Not measured {' or '.join(absent)}." if absent else "",
        expected=asked.expected,
    )


def _minus(position: Position | None, target: Position) -> Position | None:
    """Deviation from the target; None for a plane nobody measured."""
    if position is None or not position.known():
        return None
    return Position(position.offset_mm - target.offset_mm, position.slope_mrad - target.slope_mrad)
