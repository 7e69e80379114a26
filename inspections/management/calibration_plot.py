"""The figures of `manage.py calibrate` as one drawing: coverage by size of fleet, crossings caught by checks made."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from html import escape
from math import log10

from inspections.forecasting.calibration import Coverage, Watch

WIDTH, HEIGHT, LEFT, TOP, INNER_W, INNER_H = 980, 420, 70, 50, 370, 300
# Dashes tell the lines apart in print as well; no colour carries meaning.
DASHES = ("", "8 3", "2 3", "8 3 2 3", "14 4")

Scale = Callable[[float], float]


def plot(coverages: Sequence[Coverage], watches: Sequence[Watch], small_least: float, band: tuple[float, float]) -> str:
    """One SVG: left the coverage of tolerance used, right what each rule caught for how many checks, as modelled."""
    sizes = sorted({one.trains for one in coverages})
    kinds = list(dict.fromkeys(one.kind for one in coverages))
    span = log10(sizes[-1] / sizes[0]) or 1.0

    def x(size: float) -> float:
        return LEFT + log10(size / sizes[0]) / span * INNER_W

    lowest = min([0.8, *(one.tolerance_used - 0.01 for one in coverages)])

    def y(share: float) -> float:
        return TOP + (1.0 - share) / (1.0 - lowest) * INNER_H

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" font-family="sans-serif" '
        'font-size="13" fill="#111">',
        "<title>How often the 90 % interval holds, and what each rule catches</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>',
        _text(LEFT, 28, "Share of next readings inside the 90 % interval of tolerance used"),
        f'<rect x="{LEFT}" y="{y(band[1]):.1f}" width="{INNER_W}" height="{y(band[0]) - y(band[1]):.1f}" '
        'fill="#e8e8e4"/>',
        _line([(LEFT, y(small_least)), (LEFT + INNER_W, y(small_least))], "1 4"),
    ]
    parts += _axes(
        LEFT, [(x(size), f"{size:,}") for size in sizes], [(y(s), f"{s:.2f}") for s in _steps(lowest, 1, 0.05)]
    )
    parts.append(_text(LEFT + INNER_W / 2, TOP + INNER_H + 42, "trains in the fleet", "middle"))
    for place, kind in enumerate(kinds):
        rows = sorted((one for one in coverages if one.kind == kind), key=lambda one: one.trains)
        parts.append(_line([(x(one.trains), y(one.tolerance_used)) for one in rows], DASHES[place % len(DASHES)]))
        parts += _key(LEFT + 20 + 175 * (place % 2), TOP + INNER_H - 62 + 20 * (place // 2), kind, place)
    parts += _caught(watches)
    return "\n".join([*parts, "</svg>"]) + "\n"


def _caught(watches: Sequence[Watch]) -> list[str]:
    first = [one for one in watches if one.kind == watches[0].kind] if watches else []
    if not first:
        return []
    left, most = LEFT + INNER_W + 120, max(one.checks for one in first)
    lowest = min(one.caught for one in first) - 0.02

    def x(checks: float) -> float:
        return left + checks / most * INNER_W

    def y(share: float) -> float:
        return TOP + (1.0 - share) / (1.0 - lowest) * INNER_H

    parts = [_text(left, 28, f"Share of limit crossings caught ({first[0].kind})")]
    parts += _axes(
        left,
        [(x(c), f"{c:g}") for c in _steps(0, most, 1)],
        [(y(s), f"{s:.1f}") for s in _steps(max(0.0, lowest), 1, 0.1)],
    )
    parts.append(_text(left + INNER_W / 2, TOP + INNER_H + 42, "checks per train and year", "middle"))
    for place, start in enumerate(("every", "risk")):
        rows = sorted((one for one in first if one.rule.startswith(start)), key=lambda one: one.checks)
        parts.append(_line([(x(one.checks), y(one.caught)) for one in rows], DASHES[place]))
    for one in first:
        parts.append(f'<circle cx="{x(one.checks):.1f}" cy="{y(one.caught):.1f}" r="3" fill="#111"/>')
        # To the right of its point, but for the last, which would leave the drawing.
        edge = x(one.checks) > left + INNER_W - 60
        where = (
            (x(one.checks) - 6, y(one.caught) + 16, "end") if edge else (x(one.checks) + 7, y(one.caught) + 4, "start")
        )
        parts.append(_text(where[0], where[1], one.rule.removesuffix(" to 70 %"), where[2], 10))
    return parts


def _key(x: float, y: float, word: str, place: int) -> list[str]:
    return [_line([(x, y), (x + 30, y)], DASHES[place % len(DASHES)]), _text(x + 36, y + 4, word, size=12)]


def _axes(left: float, across: Iterable[tuple[float, str]], up: Iterable[tuple[float, str]]) -> list[str]:
    bottom = TOP + INNER_H
    parts = [_line([(left, TOP), (left, bottom), (left + INNER_W, bottom)], "")]
    parts += [_text(x, bottom + 20, word, "middle") for x, word in across]
    parts += [_text(left - 8, y + 4, word, "end") for y, word in up]
    return parts


def _steps(low: float, high: float, step: float) -> list[float]:
    first = round(low / step + 0.499)
    return [round(k * step, 6) for k in range(first, int(high / step + 1e-9) + 1)]


def _line(points: Sequence[tuple[float, float]], dashes: str) -> str:
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'<polyline points="{path}" fill="none" stroke="#111" stroke-width="1.5"{dashed}/>'


def _text(x: float, y: float, words: str, anchor: str = "start", size: int = 13) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size}">{escape(words)}</text>'
