"""Two hubs on their shafts in section, to scale along the shaft, with the lengths that decide about the placement.

Across the shaft nothing is to scale: walls, flanges and the element only show what is where.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from plant import units
from plant.drawings.svg import line, picture, polygon, text

WIDTH, EDGE, STUB = 320.0, 8.0, 14.0
AXIS, ROD, WALL, FLANGE = 74.0, 13.0, 29.0, 46.0  # the centreline, and half heights about it
ELEMENT_IN, ELEMENT_OUT = 33.0, 42.0
ROW, FIRST_ROW, LETTER = 26.0, 150.0, 6.9
DISC_SHARE = 0.18  # of the bore: how thick a flange is drawn


@dataclass(frozen=True)
class HubSide:
    """One hub as placed: bore, overhang past the shaft end, flange plane behind the gap face. [mm]

    `shaft_mm`: straight length of the shaft up to its shoulder; None: none is known, none is drawn.
    """

    name: str
    bore_mm: float
    overhang_mm: float
    behind_mm: float
    engagement_mm: float
    reversed: bool
    shaft_mm: float | None = None

    @property
    def reach_mm(self) -> float:
        """How far from the shaft's end there is something to draw."""
        back = self.bore_mm - self.overhang_mm
        return max(back, 0.0 if self.shaft_mm is None else min(self.shaft_mm, 1.5 * self.bore_mm), 0.1 * self.bore_mm)


@dataclass(frozen=True)
class HubPicture:
    """Both hubs with the element between their flange planes. [mm]"""

    sides: tuple[HubSide, HubSide]
    dbse_mm: float
    length_mm: float
    gap_mm: float
    system: str = "metric"


@dataclass(frozen=True)
class _Paper:
    """Side 1 looks right, side 2 is its mirror image: `out` runs from a shaft's end towards the other machine."""

    asked: HubPicture
    from_mm: float
    scale: float

    def x(self, mm: float) -> float:
        return EDGE + STUB + (mm - self.from_mm) * self.scale

    def out(self, side: int, mm: float) -> float:
        return self.x(mm if side == 0 else self.asked.dbse_mm - mm)

    def box(self, side: int, start: float, end: float, low: float, high: float, css: str) -> str:
        """The same box above and below the centreline."""
        a, b = self.out(side, start), self.out(side, end)
        return "".join(
            polygon([(a, AXIS + way * low), (b, AXIS + way * low), (b, AXIS + way * high), (a, AXIS + way * high)], css)
            for way in (-1, 1)
        )


def hubs_picture(asked: HubPicture) -> str:
    """Draw both hubs, both shaft ends and the element, with dimension lines below, at the widest scale that fits.

    Raises
    ------
    ValueError
        A bore of no length, or a picture of no width.
    """
    if any(side.bore_mm <= 0 for side in asked.sides):
        raise ValueError("A hub without a bore cannot be drawn.")
    first, second = asked.sides
    start = min(-first.reach_mm, asked.dbse_mm - second.overhang_mm)
    end = max(asked.dbse_mm + second.reach_mm, first.overhang_mm)
    paper = _Paper(asked, start, (WIDTH - 2 * EDGE - 2 * STUB) / (end - start))
    body = "".join(_rod(paper, number, side) for number, side in enumerate(asked.sides))
    body += "".join(_hub(paper, number, side) for number, side in enumerate(asked.sides))
    planes = [paper.out(number, side.overhang_mm - side.behind_mm) for number, side in enumerate(asked.sides)]
    body += _element(planes)
    body += line(EDGE, AXIS, WIDTH - EDGE, AXIS, "plane")
    body += text(EDGE, 16, first.name, "t") + text(WIDTH - EDGE, 16, second.name, "t end")
    rows, height = _dimensions(paper, planes)
    return picture(WIDTH, height, body + rows, _said(asked), "sp")


def _rod(paper: _Paper, number: int, side: HubSide) -> str:
    """The shaft from the edge of the paper to its end; the shoulder where its straight length ends."""
    reach = side.reach_mm
    edge = EDGE if number == 0 else WIDTH - EDGE
    tip = paper.out(number, 0.0)
    body = polygon([(edge, AXIS - ROD), (tip, AXIS - ROD), (tip, AXIS + ROD), (edge, AXIS + ROD)], "rod")
    if side.shaft_mm is not None and side.shaft_mm <= reach:
        shoulder = paper.out(number, -side.shaft_mm)
        for way in (-1, 1):
            corners = [(edge, ROD), (shoulder, ROD), (shoulder, ROD + 6), (edge, ROD + 6)]
            body += polygon([(x, AXIS + way * y) for x, y in corners], "rod")
    return body


def _hub(paper: _Paper, number: int, side: HubSide) -> str:
    """Wall and flange in section; the disc stands behind the flange plane, seen from the flange side."""
    face = side.overhang_mm
    plane, disc = face - side.behind_mm, DISC_SHARE * side.bore_mm
    far = plane + disc if side.reversed else plane - disc
    wall = paper.box(number, face - side.bore_mm, face, ROD, WALL, "hub")
    return wall + paper.box(number, plane, far, WALL, FLANGE, "hub")


def _element(planes: Sequence[float]) -> str:
    """The element, or spacer, from flange plane to flange plane, above and below."""
    a, b = planes
    return "".join(
        polygon([(a, AXIS + way * y) for y in (ELEMENT_IN, ELEMENT_OUT)]
                + [(b, AXIS + way * y) for y in (ELEMENT_OUT, ELEMENT_IN)], "element")
        for way in (-1, 1)
    )  # fmt: skip


def _dimensions(paper: _Paper, planes: Sequence[float]) -> tuple[str, float]:
    """One row for each length, so that no two numbers meet; the rows of both sides have their words at the edges.

    All strokes come before all words: a word's halo then clears the strokes that run down past it.
    """
    asked = paper.asked
    ends = [paper.x(0.0), paper.x(asked.dbse_mm)]
    faces = [paper.out(number, side.overhang_mm) for number, side in enumerate(asked.sides)]
    strokes, words, y = "", "", FIRST_ROW
    for said, length, spots, top in (
        ("between shaft ends", asked.dbse_mm, ends, AXIS + ROD),
        ("between flange planes", asked.length_mm, planes, AXIS + FLANGE),
        ("gap between hub faces", asked.gap_mm, faces, AXIS + WALL),
    ):
        strokes += _stroke(spots[0], spots[1], y, top)
        words += _words(spots, y, f"{said} {_mm(length, asked.system)}")
        y += ROW
    for css, number in (("t", 0), ("t end", 1)):
        side = asked.sides[number]
        if side.engagement_mm > 0:
            inner = min(0.0, side.overhang_mm)
            strokes += _stroke(paper.out(number, inner), paper.out(number, inner - side.engagement_mm), y, AXIS + WALL)
        at = EDGE if number == 0 else WIDTH - EDGE
        words += text(at, y + 16, f"engaged {_mm(side.engagement_mm, asked.system)}", css)
        words += text(at, y + 33, f"{_stands(side)} {_mm(abs(side.overhang_mm), asked.system)}", css)
    return strokes + words, y + 40


def _stands(side: HubSide) -> str:
    return "proud" if side.overhang_mm < 0 else "overhang"


def _words(spots: Sequence[float], y: float, words: str) -> str:
    """Over the middle of a dimension line, kept on the paper."""
    half = LETTER * len(words) / 2
    return text(min(max(sum(spots) / 2, EDGE + half), WIDTH - EDGE - half), y - 5, words, "t halo mid")


def _stroke(a: float, b: float, y: float, top: float) -> str:
    """A dimension line between two places, with its strokes down from the part it measures."""
    body = "".join(line(x, top, x, y + 4, "tick1") for x in (a, b))
    return body + line(a, y, b, y, "hair") + "".join(line(x, y - 4, x, y + 4, "hair") for x in (a, b))


def _mm(length_mm: float, system: str) -> str:
    return units.written(length_mm, "size", system)


def _said(asked: HubPicture) -> str:
    """The drawing in a sentence; the numbers stand in the table after it."""
    ways = " and ".join(
        f"{side.name} {'reversed' if side.reversed else 'with its flange facing in'}" for side in asked.sides
    )
    fitted = "" if asked.gap_mm > 0 else " The hubs' faces overlap: they cannot be fitted so."
    return f"Hubs on their shafts, in section: {ways}, the element between their flange planes.{fitted}"
