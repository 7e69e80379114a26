"""A service that calls others speaks of its own fields: errors about theirs are renamed on the way out."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace

from plant.refusals import Refusal


@contextmanager
def named(outside: Callable[[str], str]) -> Iterator[None]:
    """Rename the fields of a refusal that leaves this block."""
    try:
        yield
    except Refusal as refusal:
        refusal.errors = [replace(error, field=outside(error.field)) for error in refusal.errors]
        raise
