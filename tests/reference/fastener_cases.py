"""Reading the cases of fasteners, fits and elements: by id, compared by the case's own tolerance."""

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

PATH = Path(__file__).resolve().parents[2] / "fixtures" / "reference" / "fasteners_fits_and_elements.json"
CASES: dict[str, dict[str, Any]] = {case["id"]: case for case in json.loads(PATH.read_text(encoding="utf-8"))}
RUN: set[str] = set()


def cases(*ids: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Run a test once per case (its argument is `case`) and remember that the case was run."""
    RUN.update(ids)
    return pytest.mark.parametrize("case", [CASES[one] for one in ids], ids=ids)


def ids_of(topic: str, beginning: str = "") -> tuple[str, ...]:
    """The ids of a topic, or of those that begin so: for tables of like rows."""
    found = tuple(one for one, case in CASES.items() if case["topic"] == topic and one.startswith(beginning))
    assert found, f"no case of {topic!r} begins with {beginning!r}"
    return found


def assert_agrees(case: dict[str, Any], got: Any) -> None:
    """What was computed is what the case expects, all of it, within its tolerance.

    `got` has the shape of `expected`: a number, a word, a truth, a list, or a mapping with exactly its keys.
    """
    expected = case["expected"]
    if isinstance(expected, dict):
        assert isinstance(got, dict), f"{case['id']}: {got} against {expected}"
        assert set(got) == set(expected), f"{case['id']}: fields {got} against {expected}"
        for name in expected:
            _compare(case, name, got[name], expected[name])
    else:
        _compare(case, "", got, expected)


def _compare(case: dict[str, Any], name: str, ours: Any, theirs: Any) -> None:
    where = f"{case['id']} {name}".strip()
    if isinstance(theirs, list):
        assert len(ours) == len(theirs), f"{where}: {ours} against {theirs}"
        for one, other in zip(ours, theirs, strict=True):
            _compare(case, name, one, other)
    elif isinstance(theirs, bool | str) or theirs is None:
        assert (type(ours), ours) == (type(theirs), theirs), f"{where}: {ours} against {theirs}"
    else:
        allowed = allowed_by(case["tolerance"], name, theirs)
        assert math.isclose(ours, theirs, rel_tol=0, abs_tol=allowed + left_by_writing(theirs)), (
            f"{where}: {ours} against {theirs} within {allowed}"
        )


def allowed_by(tolerance: Any, name: str, expected: float) -> float:
    """A number is absolute; `abs` and `rel` add up; otherwise the tolerance is given per field."""
    if not isinstance(tolerance, dict):
        return float(tolerance)
    if name in tolerance:
        return allowed_by(tolerance[name], "", expected)
    assert set(tolerance) in ({"abs"}, {"rel"}, {"abs", "rel"}), f"a tolerance of no known form: {tolerance}"
    return float(tolerance.get("abs", 0.0)) + float(tolerance.get("rel", 0.0)) * abs(expected)


def left_by_writing(expected: float) -> float:
    """What the writing down of a figure leaves beside its tolerance: half its last digit where all eight were used.

    The file keeps eight significant digits (5/6 stands as 0.83333333), also beside the tolerance "exact". Shorter
    figures are whole, and only the dust of binary fractions is left.
    """
    digits = f"{abs(expected):.12g}".replace(".", "").lstrip("0").split("e")[0]
    if len(digits) >= 8:
        return 0.5 * 10.0 ** (math.floor(math.log10(abs(expected))) - 7) * (1 + 1e-6)
    return 1e-12 * max(1.0, abs(expected))
