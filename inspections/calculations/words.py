"""Figures of these calculations as a page prints them."""

from __future__ import annotations

import math

from plant import units


def cut(base: float | None, kind: str, system: str) -> str:
    """A quantity with its unit; "" where there is none. Lengths to a thousandth, since limits may lie that close."""
    if base is None:
        return ""
    return units.written(base, kind, system, decimals=3 if kind in ("gap", "slope") and system == "metric" else None)


def hours(base: float | None, system: str) -> str:
    """An age; words where it has no end."""
    if base is None:
        return ""
    return (
        "no end" if math.isinf(base) else units.written(base, "hours", system, decimals=0 if abs(base) >= 100 else None)
    )


def between(limits: tuple[float, float] | None, system: str) -> str:
    """Two-sided limits of an age."""
    return "" if limits is None else f"{hours(limits[0], system)} to {hours(limits[1], system)}"


def finite(base: float | None, kind: str, system: str) -> dict[str, object] | None:
    """A quantity of an answer; null where it has no end, since JSON has no infinity."""
    return None if base is None or not math.isfinite(base) else units.quantity(base, kind, system)
