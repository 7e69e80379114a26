"""Every alignment case is run, or stands in fixtures/reference/not_run.json with the reason why not."""

import json
from pathlib import Path

from tests.reference import test_limits, test_machine_state, test_methods, test_readings, test_thermal, test_trains
from tests.reference.alignment_cases import CASES, RUN

TABLE = Path(__file__).parents[2] / "fixtures" / "reference" / "not_run.json"
NOT_RUN = json.loads(TABLE.read_text())["alignment.json"]
MODULES = (
    test_limits,
    test_machine_state,
    test_methods,
    test_readings,
    test_thermal,
    test_trains,
)  # importing them fills RUN


def test_every_case_is_run_or_has_a_reason():
    assert sorted([*RUN, *NOT_RUN]) == sorted(CASES)
    assert all(NOT_RUN.values())
