"""A request worked through in the interface's own text, for the documentation pages and for tests."""

from __future__ import annotations

from typing import Any


def _mm(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "mm"}


def _rim(carried_by: str, x: float, readings: tuple[float, float, float, float]) -> dict[str, Any]:
    return {
        "kind": "rim",
        "carried_by": carried_by,
        "x": _mm(x),
        "sag": _mm(-0.04),
        "readings": [
            {"clock": clock, "value": _mm(value)} for clock, value in zip((12, 3, 6, 9), readings, strict=True)
        ],
        "standard_uncertainty": _mm(0.01),
    }


EXAMPLE: dict[str, Any] = {
    "method": "reverse-rim",
    "viewed_from": "movable",
    "decision": "guarded",
    "reading_sets": [
        _rim("stationary", 75, (0, 0.12, 0.30, 0.18)),
        _rim("movable", -75, (0, -0.10, -0.26, -0.16)),
    ],
    "feet": [{"name": "inboard", "x": _mm(250)}, {"name": "outboard", "x": _mm(700)}],
    "flex_planes": [_mm(-70), _mm(70)],
    "limits": {"offset": _mm(0.05), "angularity": {"value": 0.5, "unit": "mm/m"}, "rule": "vector"},
}
