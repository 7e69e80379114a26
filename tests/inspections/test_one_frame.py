"""The record has one frame for ever: whoever was movable that day, the same shafts get the same figures."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from couplings.calculations import read_typed, solve_alignment
from couplings.engineering.conformity import Limit, Limits
from inspections.steps.alignment import Surveyed
from inspections.steps.judging import Yardstick, judged

CLOCK = ("12", "3", "6", "9")
shown = st.integers(-200, 200).map(lambda divisions: f"{divisions / 100:.2f}")
dial = st.tuples(shown, shown, shown, shown)
planes = st.tuples(st.integers(20, 400), st.integers(20, 400))
targets = st.tuples(*[st.integers(-50, 50).map(lambda n: n / 100)] * 4)


def survey(stationary, far, near, x):
    """Reverse rim as typed: `far` is the dial on the movable rim, `near` the one on the stationary rim."""
    typed = {f"set0.{hour}": value for hour, value in zip(CLOCK, far, strict=True)}
    typed |= {f"set1.{hour}": value for hour, value in zip(CLOCK, near, strict=True)}
    typed |= {"viewed_from": "movable", "set0.x": f"{x[0]}", "set1.x": f"-{x[1]}", "set0.u": "0.01", "set1.u": "0.01"}
    request = read_typed("reverse-rim", typed, "metric")
    return Surveyed(request, solve_alignment(request), stationary)


def walked_round(values):
    """What the same dial shows to somebody who stands at the other machine: 3 and 9 change places."""
    twelve, three, six, nine = values
    return (twelve, nine, six, three)


def yardstick(target):
    limits = (
        Limit("offset", 0.2),
        Limit("angularity", 1.0),
        Limit("flex-angle-a", 2.0, "grade"),
        Limit("flex-angle-b", 3.0, "grade"),
    )
    return Yardstick(Limits(limits), (-70.0, 70.0), target, 0.95, 0.05, 0.05, {"driver": [], "driven": []})


@given(dial, dial, planes, targets)
def test_exchanging_the_machines_leaves_the_record_as_it_was(far, near, x, target):
    """Constructed by walking round: each dial keeps what it shows, but carrier, side and clock turn over."""
    by = yardstick(target)

    one = judged(survey("driven", far, near, x), by, "guarded")
    other = judged(survey("driver", walked_round(near), walked_round(far), x[::-1]), by, "guarded")

    assert other.record.mean == pytest.approx(one.record.mean, abs=1e-9)
    assert np.array(other.record.covariance) == pytest.approx(np.array(one.record.covariance), abs=1e-12)
    assert other.record_target == one.record_target == target
    assert (other.verdict, other.sheet_verdict, other.grade_verdict) == (
        one.verdict, one.sheet_verdict, one.grade_verdict,
    )  # fmt: skip
    assert other.judgement.tolerance_used == pytest.approx(one.judgement.tolerance_used)
    # The crew's own view is the other one: vertical offset and horizontal slope change sign, the target's too.
    assert np.array(other.from_target.mean) == pytest.approx(
        np.array([-1, 1, 1, -1]) * np.array(one.from_target.mean), abs=1e-9
    )
    seen = [{line.quantity: line.value for line in judgement.lines} for judgement in (one, other)]
    assert seen[1]["flex-angle-a"] == pytest.approx(seen[0]["flex-angle-b"])
