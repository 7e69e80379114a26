"""Reading the published cases: by id, in the program's units, compared by the case's own tolerance."""

import json
import math
from pathlib import Path
from typing import Any

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
