"""A whole train on one axis: every shaft where it lies, dashed where it will lie, and the arrows between.

Drawn from the targets, as the shaft picture is: a train on its targets is one straight line. Position 1, the driver
end, stands at the right. So from above, up on the picture is the right hand of somebody who stands at position 1 and
looks along the train: positive right is up, and the sign never turns.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, isfinite

from plant.drawings.feet import LETTER, Foot, draw_feet
from plant.drawings.positions import Limits
from plant.drawings.ruling import RULINGS, Ruling
from plant.drawings.shafts import LEFT, SQUARE, SQUARES_ACROSS, SQUARES_ALONG, TOP, WIDTH
from plant.drawings.svg import line, picture, text

# What a square may stand for along: finer steps than one machine's picture needs, so that a train fills its paper.
ALONG = {
    "metric": (100, 200, 300, 400, 500, 600, 800, 1000, 1500, 2000, 3000, 5000, 10_000),
    "us": (4, 8, 12, 16, 20, 24, 30, 40, 60, 80, 120, 200, 400),
}
FEWEST_LETTERS = 4
VIEWS = (("side", "from the side"), ("above", "from above"))


@dataclass(frozen=True)
class Laid:
    """A shaft's line along the train in one plane: height at X = 0 [mm] and slope along X [mrad]."""

    height_mm: float
    slope_mrad: float

    def at(self, x_mm: float) -> float:
        """Height at X. [mm]"""
        return self.height_mm + self.slope_mrad * x_mm / 1000


@dataclass(frozen=True)
class TrainShaft:
    """One machine's shaft from X to X, with its foot planes; vertical and horizontal line each, None: not measured.

    `after` is left empty where nothing is to be moved to; the feet's x is X.
    """

    name: str
    x_from_mm: float
    x_to_mm: float
    before: tuple[Laid | None, Laid | None]
    after: tuple[Laid | None, Laid | None] = (None, None)
    feet: tuple[Foot, ...] = ()


@dataclass(frozen=True)
class TrainGate:
    """A coupling at X with what its limits leave about the driver-side shaft; flex planes as X, driver side first."""

    x_mm: float
    limits: Limits | None = None
    planes_mm: tuple[float, float] | None = None

    @property
    def openings(self) -> list[tuple[float, float]]:
        """(X, half width) of every gate. [mm]"""
        if self.limits is None:
            return []
        if self.planes_mm is None:
            return [] if self.limits.offset_mm is None else [(self.x_mm, self.limits.offset_mm)]
        # Plane B lies on the driver side, as the record has it.
        pairs = zip(self.planes_mm, (self.limits.gate_b_mm, self.limits.gate_a_mm), strict=True)
        return [(x, gate) for x, gate in pairs if gate is not None]


@dataclass(frozen=True)
class TrainPicture:
    """Shafts from position 1 on, couplings between them."""

    shafts: tuple[TrainShaft, ...]
    gates: tuple[TrainGate, ...]
    system: str = "metric"


@dataclass(frozen=True)
class TrainViews:
    """Two drawings (None: not measured in that plane) and the sentence about the scale."""

    side: str | None
    above: str | None
    scale: str
    missing: str


@dataclass(frozen=True)
class _Paper:
    """One view."""

    asked: TrainPicture
    plane: int
    along_mm: float
    across_mm: float
    above_zero: int
    below_zero: int

    @property
    def right(self) -> float:
        return LEFT + SQUARES_ALONG * SQUARE

    @property
    def base(self) -> float:
        return TOP + SQUARE * (self.above_zero + self.below_zero)

    @property
    def deviation(self) -> "_Paper":
        """What stands over the base rule: at every X the shaft that is there."""
        return self

    def x(self, mm: float) -> float:
        return self.right - (mm - self.asked.shafts[0].x_from_mm) * SQUARE / self.along_mm

    def y(self, mm: float) -> float:
        return TOP + SQUARE * (self.above_zero - mm / self.across_mm)

    def at(self, x_mm: float) -> float:
        place = sum(gate.x_mm < x_mm for gate in self.asked.gates)
        laid = self.asked.shafts[place].before[self.plane]
        return 0.0 if laid is None else laid.at(x_mm)


def train_picture(asked: TrainPicture) -> TrainViews:
    """Draw both views to one scale: the smallest round number across with which every shaft fits in eight squares.

    Raises
    ------
    ValueError
        The train is longer, or stands farther from a straight line, than any scale: look for a slipped decimal.
    """
    ruling = RULINGS[asked.system]
    length = asked.shafts[-1].x_to_mm - asked.shafts[0].x_from_mm
    room_mm = SQUARES_ALONG * ruling.along_unit_mm
    along = _first("is longer", [step for step in ALONG[asked.system] if length <= room_mm * step + 1e-9])
    heights = [_heights(asked, plane) for plane in (0, 1)]
    shown = [found for found in heights if found]
    fitting = [
        step for step in ruling.across if all(sum(_rows(h, step * ruling.unit_mm)) <= SQUARES_ACROSS for h in shown)
    ]
    across = _first("stands farther from a straight line", fitting)
    drawn: list[str | None] = [None, None]
    for plane, (_name, title) in enumerate(VIEWS):
        if heights[plane]:
            rows = _rows(heights[plane], across * ruling.unit_mm)
            paper = _Paper(asked, plane, along * ruling.along_unit_mm, across * ruling.unit_mm, *rows)
            drawn[plane] = _draw(paper, ruling, title)
    absent = [title for plane, (_name, title) in enumerate(VIEWS) if drawn[plane] is None]
    return TrainViews(
        side=drawn[0],
        above=drawn[1],
        scale=_scale_words(asked, ruling, along, across),
        missing=f"Not measured {' or '.join(absent)}." if absent else "",
    )


def _first(what: str, fitting: Sequence[float]) -> float:
    if not fitting:
        raise ValueError(f"This train {what} than any scale of the picture shows; look for a slipped decimal.")
    return fitting[0]


def _heights(asked: TrainPicture, plane: int) -> list[float]:
    """Every end of every line in a plane; none where it was not measured. [mm]"""
    return [
        laid.at(x)
        for shaft in asked.shafts
        for laid in (shaft.before[plane], shaft.after[plane])
        if laid is not None and isfinite(laid.height_mm) and isfinite(laid.slope_mrad)
        for x in (shaft.x_from_mm, shaft.x_to_mm)
    ]


def _rows(heights: Sequence[float], across_mm: float) -> tuple[int, int]:
    """Whole squares above and below the datum, two each way at least."""
    above, below = (ceil(most / across_mm - 1e-9) for most in (max(heights), -min(heights)))
    return max(2, above), max(2, below)


def _draw(paper: _Paper, ruling: Ruling, title: str) -> str:
    """One view, bottom layer first."""
    asked, plane = paper.asked, paper.plane
    start = asked.shafts[0].x_from_mm
    body = "".join(
        line(x, TOP, x, paper.base, "grid")
        for k in range(int(SQUARES_ALONG) + 1)
        for x in (paper.x(start + k * paper.along_mm),)
    )
    body += "".join(
        line(LEFT, TOP + k * SQUARE, paper.right, TOP + k * SQUARE, "grid")
        for k in range(paper.above_zero + paper.below_zero + 1)
    )
    # Labels are laid out from left to right, so the feet come from the far end.
    feet = [
        (foot, *foot.told(VIEWS[plane][0], ruling.unit_mm, ruling.decimals))
        for shaft in reversed(asked.shafts)
        for foot in sorted(shaft.feet, key=lambda one: -one.x_mm)
    ]
    under, height = draw_feet(feet, paper)
    body += under.posts
    for place, gate in enumerate(asked.gates):
        body += line(paper.x(gate.x_mm), TOP, paper.x(gate.x_mm), paper.base, "plane")
        body += text(paper.x(gate.x_mm), 15, f"C{place + 1}", "t mid")
        body += _gate(paper, gate, asked.shafts[place])
    for lies, css in (("after", "target"), ("before", "shaft")):
        for shaft in asked.shafts:
            laid = getattr(shaft, lies)[plane]
            if laid is not None:
                ends = [(paper.x(x), paper.y(laid.at(x))) for x in (shaft.x_to_mm, shaft.x_from_mm)]
                body += line(*ends[0], *ends[1], css)
    body += under.moves + "".join(_name(paper, shaft) for shaft in asked.shafts)
    said = ", ".join(shaft.name for shaft in asked.shafts)
    label = f"Train {title}, position 1 at the right: {said}. Feet from the far end: {under.sentence}"
    return picture(WIDTH, height, body, label, "sp")


def _gate(paper: _Paper, gate: TrainGate, driver: TrainShaft) -> str:
    """Bars about the driver-side shaft, where it will lie if it moves, between which the next shaft must pass."""
    laid = driver.after[paper.plane] or driver.before[paper.plane]
    body = ""
    for x, half in gate.openings if laid is not None else []:
        for sign in (1, -1):
            y = paper.y(laid.at(x) + sign * half) if laid is not None else TOP
            if TOP - 0.5 <= y <= paper.base + 0.5:
                body += line(paper.x(x) - 5, y, paper.x(x) + 5, y, "gate")
    return body


def _name(paper: _Paper, shaft: TrainShaft) -> str:
    """The machine's name over the middle of its shaft, as much of it as there is room for."""
    left, right = paper.x(shaft.x_to_mm), paper.x(shaft.x_from_mm)
    room = max(FEWEST_LETTERS, int((right - left) / LETTER))
    name = shaft.name if len(shaft.name) <= room else shaft.name[: room - 1] + "…"
    laid = shaft.before[paper.plane]
    y = paper.y(laid.at((shaft.x_from_mm + shaft.x_to_mm) / 2)) if laid is not None else paper.y(0)
    return text((left + right) / 2, y - 9 if y - 20 > TOP else y + 18, name, "t halo mid")


def _scale_words(asked: TrainPicture, ruling: Ruling, along: float, across: float) -> str:
    times = round(along * ruling.along_unit_mm / (across * ruling.unit_mm))
    said = (
        f"One square: {along:g}\u00a0{ruling.along_unit} along, {across:g}\u00a0{ruling.unit} across "
        f"(drawn {times:,} times too tall), measured from the targets: a train on its targets is one straight line."
    )
    if any(shaft.after != (None, None) for shaft in asked.shafts):
        said += " Dashed: where the shafts lie after the moves."
    if any(gate.openings for gate in asked.gates):
        said += " Bars at a coupling: what its limits would allow the next shaft in this view alone."
    return said
