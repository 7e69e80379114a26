"""The feet under the shaft picture: bars on the base rule, posts, and what each has to do, as arrow and in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Protocol

from plant.drawings.svg import circle, line, polygon, text

SHORTEST_ARROW = 9.0  # a shorter one would be all head
ROW, LETTER = 36.0, 7.4  # height of a pair of label lines, and how wide a bold letter of 13 px runs
EDGE_RIGHT, EDGE_LEFT = 318.0, 2.0


class Paper(Protocol):
    """What the feet need to know of the view they stand in."""

    @property
    def base(self) -> float: ...
    def x(self, mm: float) -> float: ...
    def y(self, mm: float) -> float: ...
    @property
    def deviation(self) -> "Line": ...


class Line(Protocol):
    """A shaft's centreline as deviation from its target."""

    def at(self, x_mm: float) -> float: ...


@dataclass(frozen=True)
class Foot:
    """A foot plane, inboard or outboard, by its distance from the coupling's centre, with its move; None: not known."""

    name: str
    x_mm: float
    up_mm: float | None = None
    right_mm: float | None = None

    def told(self, view: str, unit_mm: float, decimals: int) -> tuple[float | None, str]:
        """The move in this view and its words: "down 0.07", "right 0.12", "stays"."""
        move = self.up_mm if view == "side" else self.right_mm
        if move is None or not isfinite(move):
            return None, "not known"
        size = f"{abs(move) / unit_mm:.{decimals}f}"
        if float(size) == 0:
            return move, "stays"
        plus, minus = ("up", "down") if view == "side" else ("right", "left")
        return move, f"{plus if move > 0 else minus} {size}"


@dataclass(frozen=True)
class Feet:
    """Layers of a drawing, and the same in a sentence."""

    posts: str
    moves: str
    sentence: str


def _anchor(x: float, width: float) -> tuple[float, float, str]:
    """Left edge, anchor point and class for a label under x that must stay on the paper."""
    if x + width / 2 > EDGE_RIGHT:
        return EDGE_RIGHT - width, EDGE_RIGHT, " end"
    if x - width / 2 < EDGE_LEFT:
        return EDGE_LEFT, EDGE_LEFT, ""
    return x - width / 2, x, " mid"


def draw_feet(moves: Sequence[tuple[Foot, float | None, str]], paper: Paper) -> tuple[Feet, float]:
    """Draw each foot; labels that would run into each other go to a further row. Returns the drawing's height too."""
    posts = arrows = ""
    ends: list[float] = []  # right edge of the last label of each row
    for foot, move, words in moves:
        x, y = paper.x(foot.x_mm), paper.y(paper.deviation.at(foot.x_mm))
        posts += line(x, y, x, paper.base, "post") + line(x - 9, paper.base, x + 9, paper.base, "foot")
        if move is not None:
            goal = paper.y(paper.deviation.at(foot.x_mm) + move)
            if abs(goal - y) >= SHORTEST_ARROW:
                way = 1 if goal > y else -1
                arrows += line(x, y, x, goal - way * 7, "move")
                arrows += polygon([(x - 6, goal - way * 9), (x, goal), (x + 6, goal - way * 9)], "arrow")
        arrows += circle(x, y, 3.5, "dot")
        width = LETTER * max(len(foot.name), len(words))
        left, point, css = _anchor(x, width)
        row = next((i for i, end in enumerate(ends) if left > end + 8), len(ends))
        ends[row : row + 1] = [left + width]
        top = paper.base + 16 + row * ROW
        arrows += text(point, top, foot.name, f"t{css}") + text(point, top + 17, words, f"t tb ta{css}")
    sentence = "; ".join(f"{foot.name} {words}" for foot, _, words in moves)
    return Feet(posts, arrows, f"{sentence}." if sentence else ""), paper.base + 4 + ROW * max(1, len(ends))
