"""Saving what two people may save at the same moment."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeVar

from django.db import IntegrityError, models, transaction

from plant.refusals import Refused
from plant.services.rows import taken as is_taken

Row = TypeVar("Row", bound=models.Model)


def refuse(errors: Mapping[str, str], code: str | None = None) -> None:
    """Refuse with every error at once, where there are any."""
    if errors:
        raise Refused(errors, code)


def saved(row: Row, taken: Callable[[], dict[str, str]]) -> Row:
    """Save, and say which field was taken where somebody else was faster than the check beforehand."""
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError:
        errors = taken() | ({"id": "Something with this id exists already."} if is_taken(row, "uuid") else {})
        if errors:
            raise Refused(errors, "taken") from None
        raise
    return row
