"""Reading the cases of life, replacement and decisions: by id, compared by the case's own tolerance."""

import json
from pathlib import Path

import numpy as np
import pytest

FOLDER = Path(__file__).parents[2] / "fixtures" / "reference"


def read(name):
    return {case["id"]: case for case in json.loads((FOLDER / name).read_text(encoding="utf-8"))["cases"]}


LIFE, DECISIONS = read("life.json"), read("decisions.json")
RUN = set()


def given(*ids):
    """Run a test once per case and remember that the case was run."""
    known = LIFE | DECISIONS
    RUN.update(ids)
    return pytest.mark.parametrize("case", [known[one] for one in ids], ids=ids)


def agrees(case, got):
    """Every figure lies within the case's tolerance: |x - e| <= abs + rel |e|, abs for each where it says so."""
    expected = np.atleast_1d(np.asarray(case["expected"], dtype=float))
    tolerance = case["tolerance"]
    allowed = np.asarray(tolerance.get("each", tolerance["abs"])) + tolerance["rel"] * np.abs(expected)
    found = np.atleast_1d(np.asarray(got, dtype=float))
    assert found.shape == expected.shape
    assert np.all(np.abs(found - expected) <= allowed), f"{case['id']}: {found} against {expected}"
