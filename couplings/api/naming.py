"""Fields that have another shape outside than one column each: errors about them stand where the sender wrote them."""

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
