"""Every case of fasteners, fits and elements is run, or stands beside its tests with the reason why not.

Each module test_fasteners_*.py here names the topics it answers for (TOPICS) and the cases of them that it does not
run, with the reason (NOT_RUN).
"""

from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

from tests.reference.fastener_cases import CASES, RUN, allowed_by, assert_agrees, left_by_writing

MODULES = [  # importing them fills RUN
    import_module(f"tests.reference.{path.stem}") for path in sorted(Path(__file__).parent.glob("test_fasteners_*.py"))
]


def test_every_topic_has_its_module():
    covered = {topic for module in MODULES for topic in module.TOPICS}
    assert covered == {case["topic"] for case in CASES.values()}


def test_every_case_of_the_file_is_run_or_stands_with_its_reason():
    named = {one for module in MODULES for one in module.NOT_RUN}
    assert RUN | named == set(CASES)


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_every_case_is_run_or_has_a_reason(module: Any):
    due = {one for one, case in CASES.items() if case["topic"] in module.TOPICS}
    assert due - RUN - set(module.NOT_RUN) == set(), "neither run nor in NOT_RUN"
    assert set(module.NOT_RUN) <= due, "NOT_RUN names what is not of these topics"
    assert not RUN & set(module.NOT_RUN), "run and in NOT_RUN"
    assert all(module.NOT_RUN.values())


def test_a_figure_outside_its_tolerance_is_found():
    case = {"id": "x", "expected": {"a": 100.0, "b": 1.0}, "tolerance": {"a": {"rel": 0.01}, "b": 0.1}}
    assert_agrees(case, {"a": 100.9, "b": 1.05})
    for wrong in ({"a": 101.1, "b": 1.0}, {"a": 100.0, "b": 1.11}, {"a": 100.0}, {"a": 100.0, "b": float("nan")}):
        with pytest.raises(AssertionError):
            assert_agrees(case, wrong)


def test_every_case_has_a_tolerance_of_a_known_form():
    for case in CASES.values():
        expected = case["expected"]
        for name, value in expected.items() if isinstance(expected, dict) else [("", expected)]:
            for one in value if isinstance(value, list) else [value]:
                if isinstance(one, int | float):
                    assert allowed_by(case["tolerance"], name, one) >= 0


@pytest.mark.parametrize(
    "written, exact", [(0.83333333, 5 / 6), (101.68635, 75 * 1.3558179483314004), (1.3558179, 1.3558179483314004)]
)
def test_a_figure_cut_to_eight_digits_stands_for_the_whole_one_and_for_no_other(written, exact):
    assert abs(written - exact) <= left_by_writing(written)
    assert abs(written * (1 + 2e-7) - exact) > left_by_writing(written)


@pytest.mark.parametrize("whole", [0.0254, 9.80665, 0.8, 60, 12])
def test_a_figure_that_is_whole_leaves_no_room(whole):
    assert left_by_writing(whole) <= 1e-10
