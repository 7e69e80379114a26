"""Fixtures that any test may need: a site of its own that a test can start as a real process."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

Environment = dict[str, str]


@pytest.fixture(autouse=True)
def _no_test_touches_the_plants_record(settings):
    assert Path(settings.DATA).name.startswith("asleft-tests-"), "a test run must use a data folder of its own"


@pytest.fixture
def site_environment(tmp_path: Path) -> Callable[..., Environment]:
    """Make the environment of a fresh site of its own, for processes that a test starts.

    Services of the run (DATABASE_URL, CELERY_BROKER_URL) are left out: such a site is the embedded one.
    """

    def make(**changes: str) -> Environment:
        kept = {
            name: value
            for name, value in os.environ.items()
            if not name.startswith("ASLEFT_") and name not in {"DJANGO_SETTINGS_MODULE", "DATABASE_URL", "CELERY_BROKER_URL"}
        }
        return kept | {"ASLEFT_DATA": str(tmp_path / "site")} | changes

    return make
