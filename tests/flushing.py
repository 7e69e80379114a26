"""The end of a test that committed: its signed records are opened for the flush the way a restore opens them.

Without this the triggers would refuse the flush, which is what they are for; the maintenance row goes with it, so the
next test finds the records shut.
"""

import pytest

from inspections import triggers

COMMITS = {"transactional_db", "live_server", "django_db_reset_sequences", "django_db_serialized_rollback"}


@pytest.fixture(autouse=True)
def _maintenance_opens_for_the_flush(request):
    yield
    marker = request.node.get_closest_marker("django_db")
    commits = marker is not None and (marker.kwargs.get("transaction") or marker.kwargs.get("reset_sequences"))
    if not commits and not COMMITS & set(request.fixturenames):
        return
    blocker = request.getfixturevalue("django_db_blocker")
    with blocker.unblock():
        triggers.open_for_good(reason="a test's flush")
        triggers.empty()
