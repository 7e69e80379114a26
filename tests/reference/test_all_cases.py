"""Every alignment case is run, or stands here with the reason why not."""

from tests.reference import test_limits, test_machine_state, test_methods, test_readings, test_thermal, test_trains
from tests.reference.alignment_cases import CASES, RUN

NOT_RUN = {
    "VA-05": "a printing slip in a sum of two figures; nothing of ours adds those two",
    "TL-15": "sliding speed; no rule of ours uses it",
}
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
