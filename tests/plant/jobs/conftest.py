"""A registry of the test's own, so that what other apps registered does not run here."""

import pytest

from plant.jobs import registry


@pytest.fixture
def jobs(monkeypatch):
    """The registry, emptied for this test."""
    kept = dict(registry.JOBS)
    registry.JOBS.clear()
    yield registry.JOBS
    registry.JOBS.clear()
    registry.JOBS.update(kept)
