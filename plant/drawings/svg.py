"""The few SVG elements our drawings are made of.

Everything a person typed goes through `html.escape` here and nowhere else, so no drawing can forget it.
"""

from collections.abc import Iterable
from html import escape

Point = tuple[float, float]


def number(value: float) -> str:
    """One decimal, no trailing zero: a tenth of a pixel is finer than any screen shows, and the sheets stay small."""
    rounded = round(value, 1)
    return str(int(rounded)) if rounded == int(rounded) else f"{rounded:.1f}"


def line(x1: float, y1: float, x2: float, y2: float, css: str) -> str:
    """A straight stroke."""
    return f'<line class="{css}" x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}"/>'


def circle(x: float, y: float, r: float, css: str) -> str:
    """A circle by centre and radius."""
    return f'<circle class="{css}" cx="{number(x)}" cy="{number(y)}" r="{number(r)}"/>'


def polygon(points: Iterable[Point], css: str) -> str:
    """A closed shape."""
    return f'<polygon class="{css}" points="{" ".join(f"{number(x)},{number(y)}" for x, y in points)}"/>'


def polyline(points: Iterable[Point], css: str) -> str:
    """An open line through points."""
    return f'<polyline class="{css}" points="{" ".join(f"{number(x)},{number(y)}" for x, y in points)}"/>'


def text(x: float, y: float, words: str, css: str = "t") -> str:
    """Words at a point; escaped."""
    return f'<text class="{css}" x="{number(x)}" y="{number(y)}">{escape(words)}</text>'


def picture(width: float, height: float, body: str, label: str, css: str, says: str = "") -> str:
    """A whole drawing with the sentence a screen reader says; the numbers themselves stand in a table beside it.

    `says` is a longer description for those who ask for one.
    """
    more = f"<desc>{escape(says)}</desc>" if says else ""
    return (
        f'<svg class="{css}" viewBox="0 0 {number(width)} {number(height)}" role="img" '
        f'aria-label="{escape(label)}">{more}{body}</svg>'
    )


def ornament(width: float, height: float, body: str, css: str) -> str:
    """A drawing that repeats the word beside it; hidden from screen readers."""
    return f'<svg class="{css}" viewBox="0 0 {number(width)} {number(height)}" aria-hidden="true">{body}</svg>'
