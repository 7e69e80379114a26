"""Who stands behind a kept version of a register row."""

from contextvars import ContextVar
from functools import cache
from typing import Any

from django.db import models
from simple_history.manager import HistoryManager
from simple_history.models import HistoricalRecords

# recording() sets it; the history rows of everything saved inside carry the person.
author: ContextVar[Any] = ContextVar("author", default=None)


class KeptHistory(HistoryManager):
    """The package's manager, its class put together once and not again for every row that is saved."""

    @classmethod
    @cache
    def from_queryset(cls, queryset_class: Any, class_name: str | None = None) -> Any:
        return super().from_queryset(queryset_class, class_name)


def _author(instance: models.Model, request: Any = None, **_: Any) -> Any:
    return author.get()


def kept_history(**options: Any) -> HistoricalRecords:
    """History of a register model, with the acting person from the open recording."""
    options.setdefault("history_manager", KeptHistory)
    return HistoricalRecords(get_user=_author, excluded_fields=options.pop("excluded_fields", []), **options)
