"""The demo plant for tests: a small part of it, and whichever part a module wants, built once and cleared away."""

from contextlib import contextmanager
from dataclasses import replace

from django.core.management import call_command
from django.db import transaction
from django.utils import timezone

from inspections import triggers
from inspections.demo.build import fill
from inspections.demo.works import WORKS

SOME = frozenset({"BF-21", "BF-22", "CW-11", "CW-12", "SL-51", "VP-61", "FN-41", "AG-31", "WW-02"})


def part_of(tags):
    """The plant with these trains only."""
    return tuple(replace(works, trains=tuple(row for row in works.trains if row.tag in tags)) for works in WORKS)


def fill_some():
    """Some of the plant, for a test that walks through pages of every kind."""
    with transaction.atomic():
        fill(timezone.now(), "not-for-signing-in", plant=part_of(SOME))


@contextmanager
def standing(blocker, plant):
    """The plant stands, committed, for as long as this lasts."""
    with blocker.unblock():
        with transaction.atomic():
            fill(timezone.now(), "not-for-signing-in", plant=plant)
        yield
        triggers.open_for_good(reason="the end of a test's demo plant")
        triggers.empty()
        call_command("flush", interactive=False, verbosity=0)
