"""The memory line: each visit a stroke from as-found to as-left, the forecast fan after the last, the next check.

Time runs across, share of the limit up; the limit is a heavy stroke. What was measured is ink, what comes next is the
accent. The small one for lists has neither words nor rings; all rows of a list are drawn over one span.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from math import isfinite

from plant.drawings.svg import Point, circle, line, picture, polygon, polyline, text

TOP_PERCENT = 150
COUNTED, JUMP, STRUCK = "counted", "jump", "struck"
LEG_CSS = {COUNTED: "leg", JUMP: "leg-jump", STRUCK: "leg-out"}
MOVED_PERCENT = 1  # a visit that changed less is drawn as found so and left so
CLEAR = 4  # units between two words on one height
_LETTER = 6.6  # units; wide for 13 px, so that words are rather kept apart


@dataclass(frozen=True)
class Visited:
    """One visit: as-found and as-left as shares of the limit, None where not measured [1].

    `reached`: what leads here from the visit before, one of COUNTED, JUMP, STRUCK (left out by a person), or "" where
    nothing can be compared. `says` are the words at a jump. `stated`: an old figure without its readings, not drawn as
    a value.
    """

    on: date
    found: float | None = None
    left: float | None = None
    reached: str = ""
    says: str = ""
    stated: bool = False

    @property
    def measured(self) -> bool:
        return self.found is not None or self.left is not None


@dataclass(frozen=True)
class Ahead:
    """The forecast on one day: tolerance used, middle and interval. [1]"""

    on: date
    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class History:
    """Everything on one memory line. Visits and forecast oldest first; `elements` with the words at their ticks.

    `due_says` are the words at the tab of the next check ("14 March"), `other_on` is the runner-up's date.
    """

    visits: Sequence[Visited] = ()
    ahead: Sequence[Ahead] = ()
    today: date | None = None
    due_on: date | None = None
    due_says: str = ""
    other_on: date | None = None
    elements: Sequence[tuple[date, str]] = ()


@dataclass(frozen=True)
class Words:
    """What stands on the large drawing."""

    today: str = "today"
    due: str = "next check"
    jump: str = "jump"


@dataclass(frozen=True)
class _Size:
    """Width, top, height of the scale, left and right end of the axis, space below."""

    width: float
    top: float
    tall: float
    left: float
    right: float
    below: float
    css: str

    @property
    def base(self) -> float:
        return self.top + self.tall


WIDE = _Size(760, 26, 190, 44, 744, 44, "ml ml-wide")
NARROW = _Size(320, 26, 156, 30, 312, 44, "ml ml-narrow")
LIST = _Size(176, 4, 40, 4, 172, 6, "ml ml-list")


def memory_line(
    history: History,
    span: tuple[date, date],
    label: str,
    size: _Size = WIDE,
    words: Words | None = None,
    says: str = "",
) -> str:
    """Draw one coupling's history over a span.

    Parameters
    ----------
    history : History
    span : tuple of date
        First and last day drawn, the first before the last; a list uses one for all rows.
    label : str
        What a screen reader says it is.
    size : WIDE, NARROW or LIST
        760 x 260, 320 x 226 or 176 x 50.
    words : Words, optional
        In the reader's language.
    says : str
        What a screen reader says is on it; the numbers themselves stand in a table.

    Returns
    -------
    str
        SVG: y runs from 0 at the base to 150 % of the limit; what lies above is cut there, its number printed.

    Raises
    ------
    ValueError
        A span without a day in it.
    """
    if span[0] >= span[1]:
        raise ValueError("a span begins before it ends")
    drawing = _Drawing(history, span, size, words or Words())
    return picture(size.width, size.base + size.below, drawing.body(), label, size.css, says)


def years_of(history: History, *, at_least: int = 365) -> tuple[date, date]:
    """A span that holds everything: from the first visit to a little past the last of today, checks and a year ahead.

    Parameters
    ----------
    history : History
    at_least : int
        Ahead of today, or of the last visit. [day]
    """
    known = [one.on for one in history.visits] + [on for on, _says in history.elements]
    known += [one for one in (history.today, history.due_on, history.other_on) if one is not None]
    if not known:
        return date(2000, 1, 1), date(2001, 1, 1)
    last = max([history.today or max(known)] + [one.on for one in history.visits])
    end = max([last.toordinal() + at_least, *(one.toordinal() + 45 for one in known)])
    return date.fromordinal(min(known).toordinal() - 45), date.fromordinal(end)


class _Drawing:
    def __init__(self, history: History, span: tuple[date, date], size: _Size, words: Words) -> None:
        self.history, self.span, self.size, self.words = history, span, size, words
        self.large = size is not LIST
        self.taken: list[tuple[float, float, float]] = []  # (height, from, to) of words that are there already

    def x(self, on: date) -> float:
        begin, end = self.span
        share = (on.toordinal() - begin.toordinal()) / (end.toordinal() - begin.toordinal())
        return self.size.left + share * (self.size.right - self.size.left)

    def y(self, share: float) -> float:
        percent = min(max(100 * share, 0.0), TOP_PERCENT)
        return self.size.base - percent / TOP_PERCENT * self.size.tall

    def holds(self, on: date) -> bool:
        return self.span[0] <= on <= self.span[1]

    def body(self) -> str:
        parts = [self._paper() if self.large else "", self._fan(), self._frame(), self._legs(), self._strokes()]
        if self.large:
            parts += [self._elements(), self._says()]
        return "".join([*parts, self._due()])

    def _paper(self) -> str:
        """Squares at 0, 50, 150 % and at the years, with their numbers; years thin out where they would touch."""
        s, begin, end = self.size, *self.span
        drawn = ""
        for percent in (0, 50, TOP_PERCENT):
            y = self.y(percent / 100)
            drawn += line(s.left, y, s.right, y, "grid") + text(s.left - 6, y + 4, str(percent), "t end")
        drawn += text(s.left - 6, self.y(1) + 4, "100", "t tb end")
        apart = 365.25 / (end.toordinal() - begin.toordinal()) * (s.right - s.left)
        every = years_between(apart)
        for year in range(begin.year + 1, end.year + 1):
            x = self.x(date(year, 1, 1))
            drawn += line(x, s.top, x, s.base + 36, "grid")
            if year % every == 0 and x + 32 <= s.width:
                drawn += text(x + 4, s.base + 36, str(year), "t")
        return drawn

    def _fan(self) -> str:
        """The interval and the middle, cut at both ends of the span."""
        points = _cut(self.history.ahead, self.span)
        if len(points) < 2:
            return ""
        upper = [(self.x(one.on), self.y(one.high)) for one in points]
        lower = [(self.x(one.on), self.y(one.low)) for one in reversed(points)]
        return polygon([*upper, *lower], "fan") + polyline(
            [(self.x(one.on), self.y(one.middle)) for one in points], "fan-mid"
        )

    def _frame(self) -> str:
        s, today = self.size, self.history.today
        drawn = line(s.left, self.y(1), s.right, self.y(1), "limit" if self.large else "limit-s")
        drawn += line(s.left, s.base, s.right, s.base, "axis")
        if today is not None and self.holds(today):
            drawn += line(self.x(today), s.top, self.x(today), s.base, "today")
            if self.large:
                x, half = self._inside(self.x(today), self.words.today), _LETTER * len(self.words.today) / 2
                drawn += text(x, s.top - 10, self.words.today, "t mid")
                self.taken.append((s.top - 10, x - half - CLEAR, x + half + CLEAR))
        return drawn

    def _legs(self) -> str:
        """From each position left to the next one found; one that begins before the span is cut there."""
        drawn, before = "", None
        for visit in self.history.visits:
            ends = visit.found if visit.found is not None else visit.left
            if before is not None and visit.reached in LEG_CSS and ends is not None and self.holds(visit.on):
                (on, share) = before
                if on < self.span[0]:
                    part = (self.span[0] - on) / (visit.on - on)
                    on, share = self.span[0], share + (ends - share) * part
                drawn += line(self.x(on), self.y(share), self.x(visit.on), self.y(ends), LEG_CSS[visit.reached])
            stays = visit.left if visit.left is not None else visit.found
            if stays is not None:
                before = visit.on, stays
        return drawn

    def _strokes(self) -> str:
        return "".join(self._stroke(one) for one in self.history.visits if self.holds(one.on))

    def _stroke(self, visit: Visited) -> str:
        x, found, left = self.x(visit.on), visit.found, visit.left
        if found is None and left is None:
            return self._unmeasured(x, visit)
        drawn = ""
        moved = found is not None and left is not None and abs(found - left) * 100 > MOVED_PERCENT
        if moved and found is not None and left is not None:
            drawn += line(x, self.y(found), x, self.y(left), "stroke" if self.large else "stroke-s")
        if self.large:
            if found is not None:
                drawn += circle(x, self.y(found), 4.5 if moved or left is None else 6, "ring")
            if left is not None:
                drawn += circle(x, self.y(left), 3.5 if moved or found is None else 2.5, "dot")
        else:
            stands = left if left is not None else found
            assert stands is not None
            drawn += circle(x, self.y(stands), 2.2, "dot")
        highest = max(one for one in (found, left) if one is not None)
        if 100 * highest > TOP_PERCENT:
            drawn += self._beyond(x, highest)
        return drawn

    def _unmeasured(self, x: float, visit: Visited) -> str:
        """A visit without a survey leaves a short stroke on the axis; an old card an open mark there."""
        base, size = self.size.base, 1.0 if self.large else 0.5
        if visit.stated:
            reach = 5 * size
            return polygon([(x - reach, base), (x, base - reach), (x + reach, base), (x, base + reach)], "card")
        return line(x, base - 8 * size, x, base, "hair")

    def _beyond(self, x: float, share: float) -> str:
        """Above the scale: a mark that points on, and the number."""
        top, reach = self.size.top, 5.0 if self.large else 3.0
        drawn = polygon([(x - reach, top + 1), (x, top + 1 - 1.4 * reach), (x + reach, top + 1)], "dot")
        if self.large:
            drawn += self._placed(x + 8, top + 5, f"{100 * share:.0f}", "t tb halo", middle=False)
        return drawn

    def _elements(self) -> str:
        """Ticks below the axis; a word that would run into the one before is left to the table."""
        drawn, free, base = "", 0.0, self.size.base
        for on, says in self.history.elements:
            if not self.holds(on):
                continue
            x = self.x(on)
            drawn += line(x, base, x, base + 14, "tick")
            wide = _LETTER * len(says)
            if x + 6 >= free and x + 6 + wide <= self.size.width:
                drawn += text(x + 6, base + 16, says, "t")
                free = x + 6 + wide + CLEAR
        return drawn

    def _says(self) -> str:
        """The words at each jump, above the position it was found in."""
        drawn = ""
        for visit in self.history.visits:
            if visit.reached == JUMP and self.holds(visit.on) and visit.found is not None:
                says = (visit.says or self.words.jump) if self.size is WIDE else self.words.jump
                drawn += self._placed(self.x(visit.on), self.y(visit.found) - 11, says, "t halo", middle=True)
        return drawn

    def _placed(self, x: float, y: float, says: str, css: str, *, middle: bool) -> str:
        """Words near a point, inside the frame, lowered line by line until they touch no others."""
        wide = _LETTER * len(says)
        if middle:
            x = self._inside(x, says)
        begins = x - wide / 2 if middle else x
        if not middle and begins + wide > self.size.width:
            begins = x - 16 - wide
            x, css = x - 16, f"{css} end"
        y = max(y, self.size.top - 12)
        while any(_touch((y, begins, begins + wide), one) for one in self.taken):
            y += 14
        self.taken.append((y, begins - CLEAR, begins + wide + CLEAR))
        return text(x, y, says, f"{css} mid" if middle else css)

    def _inside(self, x: float, says: str) -> float:
        half = _LETTER * len(says) / 2
        return min(max(x, half), self.size.width - half)

    def _due(self) -> str:
        """The next check's tab below the axis, the runner-up's open one; words beside the line."""
        s, due, other = self.size, self.history.due_on, self.history.other_on
        drawn = ""
        if self.large and other is not None and other != due and self.holds(other):
            drawn += polygon(_tab(self.x(other), s.base, 7), "tab-open")
        if due is None or not self.holds(due):
            return drawn
        x = self.x(due)
        drawn += line(x, s.top if self.large else s.base - 12, x, s.base, "next")
        if self.large:
            drawn += self._due_says(x)
        return drawn + polygon(_tab(x, s.base, 8 if self.large else 4.5), "tab")

    def _due_says(self, x: float) -> str:
        """Before the line where there is room, else after it; lower where other words stand."""
        said = [(self.words.due, "t halo"), (self.history.due_says, "t tb halo")]
        wide = _LETTER * max(len(says) for says, _css in said)
        before = x - 6 - wide >= self.size.left
        begins = x - 6 - wide if before else x + 6
        top = self.size.top + 12
        while any(_touch((top + down, begins, begins + wide), one) for down in (0, 16) for one in self.taken):
            top += 14
        return "".join(
            text(x - 6, top + 16 * n, says, f"{css} end") if before else text(x + 6, top + 16 * n, says, css)
            for n, (says, css) in enumerate(said)
        )


def years_between(apart: float) -> int:
    """Every how many years one is named, where two stand so many units apart: names never touch."""
    return next(one for one in (1, 2, 5, 10, 20, 50, 1000) if apart * one >= 42)


def _touch(box: tuple[float, float, float], other: tuple[float, float, float]) -> bool:
    """Whether words at (height, from, to) run into others."""
    return abs(box[0] - other[0]) < 14 and box[1] < other[2] and box[2] > other[1]


def _cut(points: Sequence[Ahead], span: tuple[date, date]) -> list[Ahead]:
    """Points inside the span, and those on its ends by straight lines between neighbours."""
    known = [one for one in points if all(isfinite(share) for share in (one.low, one.middle, one.high))]
    found = [one for one in known if span[0] <= one.on <= span[1]]
    for edge in span:
        for one, after in pairwise(known):
            if one.on < edge < after.on:
                part = (edge - one.on) / (after.on - one.on)
                low, middle, high = (
                    a + (b - a) * part
                    for a, b in ((one.low, after.low), (one.middle, after.middle), (one.high, after.high))
                )
                found.append(replace(one, on=edge, low=low, middle=middle, high=high))
    return sorted(found, key=lambda one: one.on)


def _tab(x: float, y: float, w: float) -> list[Point]:
    """A house-shaped tab that hangs below the axis."""
    return [(x, y - 0.2 * w), (x + w, y + w), (x + w, y + 1.9 * w), (x - w, y + 1.9 * w), (x - w, y + w)]
