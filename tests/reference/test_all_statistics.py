"""Every case of life, replacement and decisions is run; what no file runs stands with its reason."""

import json

from tests.reference import test_decisions, test_life  # importing them fills RUN
from tests.reference.statistics_cases import DECISIONS, FOLDER, LIFE, RUN

MODULES = (test_decisions, test_life)


def test_every_case_of_life_and_decisions_is_run():
    assert set(LIFE) | set(DECISIONS) == RUN


def test_no_case_stands_twice_and_none_is_left_without_a_reason():
    """Drift and due dates are run by test_drift.py and by the tests of due dates, each with a test of this kind."""
    files = {name: json.loads((FOLDER / name).read_text()) for name in ("drift.json", "statistics.json")}
    elsewhere = [case["id"] for one in files.values() for case in one["cases"]]
    left = {one["id"]: one["reason"] for one in files["statistics.json"]["not_covered"]}
    every = [*LIFE, *DECISIONS, *elsewhere, *left]
    assert len(every) == len(set(every))
    assert all(left.values())
