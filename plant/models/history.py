"""Who stands behind a kept version of a register row."""

from contextvars import ContextVar
from typing import Any

from django.db import models
from simple_history.models import HistoricalRecords

# recording() sets it; the history rows of everything saved inside carry the person.
author: ContextVar[int | None] = ContextVar("author", default=None)


def _author(instance: models.Model, request: Any = None, **_: Any) -> Any:
    from django.contrib.auth import get_user_model

    pk = author.get()
    return get_user_model().objects.filter(pk=pk).first() if pk else None


def kept_history(**options: Any) -> HistoricalRecords:
    """History of a register model, with the acting person from the open recording."""
    return HistoricalRecords(get_user=_author, excluded_fields=options.pop("excluded_fields", []), **options)
