"""Many numbers in one line of a form: "9100; 3 x 12000; 12000-16000; 26000 from 9000"."""

from __future__ import annotations

import re
from dataclasses import dataclass

from plant import units

MOST = 400
_COUNT = re.compile(r"^(\d{1,6})\s*[x×]\s*(.+)$", re.IGNORECASE)
_FROM = re.compile(r"^(.+?)\s+from\s+(.+)$", re.IGNORECASE)
_SPAN = re.compile(r"^(.+?)\s*(?:-|–|−|\bto\b)\s*(.+)$")


@dataclass(frozen=True)
class Line:
    """So many times a number, or a span; where its record began, if that was said."""

    last: float
    first: float | None = None
    count: int = 1
    entry: float | None = None


def numbers(text: str, *, spans: bool = False) -> list[Line]:
    """What a line holds; raises UnitError with the part that cannot be read.

    `spans` says that a part may be two numbers with a dash between them.
    """
    parts = [part.strip() for part in re.split(r"[;\n]+", text) if part.strip()]
    if len(parts) > MOST:
        raise units.UnitError(f"At most {MOST} entries are taken in one line.")
    return [_line(part, spans) for part in parts]


def _line(part: str, spans: bool) -> Line:
    count, entry, first = 1, None, None
    if found := _COUNT.match(part):
        count, part = int(found.group(1)), found.group(2)
    if found := _FROM.match(part):
        part, entry = found.group(1), _plain(found.group(2))
    if spans and (found := _SPAN.match(part)):
        first, part = _plain(found.group(1)), found.group(2)
    return Line(_plain(part), first, count, entry)


def _plain(text: str) -> float:
    number, unit = units.split(text)
    if unit:
        raise units.UnitError(
            f"“{text.strip()}” is not one number: put semicolons between ages, and choose their unit below."
        )
    return number
