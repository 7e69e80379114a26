"""Fixtures that any test may need: a site of its own that a test can start as a real process."""

import os
from collections.abc import Callable
from pathlib import Path

import hypothesis
import pytest

pytest_plugins = ["tests.casts", "tests.flushing"]

Environment = dict[str, str]

# The same examples each time, so that a red run can be repeated; none kept between runs.
hypothesis.settings.register_profile("house", max_examples=50, derandomize=True, deadline=None, database=None)
hypothesis.settings.load_profile("house")


@pytest.fixture(autouse=True)
def _no_test_touches_the_plants_record(settings):
    data = Path(settings.DATA)
    assert data.name.startswith("asleft-tests-"), "a test run must use a data folder of its own"


@pytest.fixture
def site_environment(tmp_path: Path) -> Callable[..., Environment]:
    """Make the environment of a fresh site of its own, for processes that a test starts.

    Services of the run (DATABASE_URL, CELERY_BROKER_URL) are left out: such a site is the embedded one.
    """

    def make(**changes: str) -> Environment:
        ours = {"DJANGO_SETTINGS_MODULE", "DATABASE_URL", "CELERY_BROKER_URL"}
        kept = {name: value for name, value in os.environ.items() if name not in ours and name[:7] != "ASLEFT_"}
        return kept | {"ASLEFT_DATA": str(tmp_path / "site")} | changes

    return make
