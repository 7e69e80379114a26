"""Months side by side: the share of couplings that is not in tolerance, stacked; the table of counts stands below."""

from collections.abc import Sequence
from dataclasses import dataclass

from plant.drawings.svg import line, number, picture, text

CEILINGS = (10, 20, 40, 60, 80, 100)
STEPS = 4


@dataclass(frozen=True)
class MonthBar:
    """One month in percent of all: out of tolerance, too close to call, not known; None where it was not counted."""

    name: str
    out: float | None
    close: float = 0.0
    unknown: float = 0.0


def months_pictures(bars: Sequence[MonthBar], label: str) -> tuple[str, str]:
    """The drawing for a narrow and for a wide sheet: 320 x 164 and 920 x 182.

    Parameters
    ----------
    bars : sequence of MonthBar
        Oldest first. From the bottom: out (full), too close (hatched), not known (blank).
    label : str
        What a screen reader says; the numbers stand in a table.
    """
    return _picture(bars, label, 320, 164, 40, 140, 3), _picture(bars, label, 920, 182, 48, 158, 1)


def _picture(
    bars: Sequence[MonthBar], label: str, width: float, height: float, left: float, base: float, every: int
) -> str:
    top = 8.0
    ceiling = _ceiling(bars)
    pattern = f"p-close-{int(width)}"
    body = (
        f'<defs><pattern id="{pattern}" width="6" height="6" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><rect class="f-close" width="6" height="6"/>'
        '<line class="pat" x1="1" y1="0" x2="1" y2="6"/></pattern></defs>'
    )
    for step in range(STEPS + 1):
        y = base - (base - top) * step / STEPS
        body += line(left, y, width, y, "axis" if step == 0 else "grid")
        body += text(left - 4, y + 4, f"{ceiling * step / STEPS:g} %", "t end")
    pitch = (width - left - 4) / max(len(bars), 1)
    wide = pitch * 0.87
    for place, bar in enumerate(bars):
        x, y = left + 4 + pitch * place, base
        # Counted from the last, so that the current month always has its name.
        if (len(bars) - 1 - place) % every == 0:
            body += text(x + wide / 2, base + 18, bar.name, "t mid")
        if bar.out is None:
            continue
        for share, fill in ((bar.out, "f-out"), (bar.close, ""), (bar.unknown, "f-none")):
            if share <= 0:
                continue
            tall = (base - top) * share / ceiling
            y -= tall
            ink = f'class="seg {fill}"' if fill else f'class="seg" fill="url(#{pattern})"'
            body += f'<rect {ink} x="{number(x)}" y="{number(y)}" width="{number(wide)}" height="{number(tall)}"/>'
    return picture(width, height, body, label, "st st-narrow" if every > 1 else "st st-wide")


def _ceiling(bars: Sequence[MonthBar]) -> int:
    """The smallest round end of the scale that holds the tallest month."""
    tallest = max((bar.out + bar.close + bar.unknown for bar in bars if bar.out is not None), default=0.0)
    return next((one for one in CEILINGS if one >= tallest - 1e-9), CEILINGS[-1])
