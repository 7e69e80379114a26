"""Reading the published cases: by id, in the program's units, compared by the case's own tolerance."""

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from couplings.engineering import alignment
from couplings.engineering.alignment import ReadingSet, at

MIL = 0.0254
INCH = 25.4

PATH = Path(__file__).resolve().parents[2] / "fixtures" / "reference" / "alignment.json"
CASES: dict[str, dict[str, Any]] = {case["id"]: case for case in json.loads(PATH.read_text(encoding="utf-8"))}


def assert_agrees(case: dict[str, Any], got: dict[str, float | bool | str | list[float]]) -> None:
    """Every figure of the case that is given agrees with its expected value within its tolerance."""
    assert got, "a case must compare something"
    for name, value in got.items():
        expected = case["expected"][name]
        if isinstance(expected, bool | str):
            assert value == expected, f"{case['id']} {name}: {value} against {expected}"
            continue
        pairs = zip(value, expected, strict=True) if isinstance(expected, list) else [(value, expected)]
        for ours, theirs in pairs:
            allowed = _allowed(case["tolerance"], name, theirs)
            assert math.isclose(ours, theirs, rel_tol=0, abs_tol=allowed + 1e-12), (
                f"{case['id']} {name}: {ours} against {theirs} within {allowed}"
            )


def _allowed(tolerance: Any, name: str, expected: float) -> float:
    if not isinstance(tolerance, dict):
        return float(tolerance)
    if name in tolerance:
        return float(tolerance[name])
    return float(tolerance.get("abs", 0.0)) + float(tolerance.get("rel", 0.0)) * abs(expected)


RUN: list[str] = []
ROUND = (0.0, 90.0, 180.0, 270.0)
FLAT = ReadingSet("face", ROUND, (0.0,) * 4, swing_radius_mm=50.0)
LEVEL = ReadingSet("rim", ROUND, (0.0,) * 4, carried_by="stationary", x_mm=1000.0)


def cases(*ids: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Run a test once per case and remember that the case was run."""
    RUN.extend(ids)
    return pytest.mark.parametrize("case", [CASES[i] for i in ids], ids=ids)


def pair(kind: str, bottom: float, unit: float = MIL, **more: object) -> ReadingSet:
    """A set zeroed on top and read at the bottom."""
    return ReadingSet(kind, (0.0, 180.0), (0.0, bottom * unit), **more)  # type: ignore[arg-type]


def heights(solution: alignment.Solution, *z_mm: float) -> list[float]:
    return [float(at(solution.misalignment, z)[0][0]) for z in z_mm]
