"""Rules that a row carries itself (lengths, choices, bounds), asked for before it is written, all errors at once."""

from collections.abc import Iterable
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models

from plant.models.bounds import bounds_of
from plant.refusals import Refused


def errors_of(row: models.Model, under: str = "") -> dict[str, str]:
    """Message by field path for everything that the columns themselves refuse; `under` is where the row was sent.

    Relations are left out: services get rows, not numbers, and Django would ask the database for each of them.
    """
    errors: dict[str, str] = {}
    try:
        row.clean_fields(exclude={field.name for field in row._meta.fields if field.is_relation})
    except ValidationError as refused:
        errors = {field: " ".join(messages) for field, messages in refused.message_dict.items()}
    for field, (low, high) in bounds_of(type(row)).items():
        value = getattr(row, field)
        if field not in errors and value is not None and not low <= value <= high:
            errors[field] = f"It must lie between {low:g} and {high:g}."
    return {f"{under}.{field}" if under else field: message for field, message in errors.items()}


def taken(row: models.Model, *fields: str, **more: Any) -> bool:
    """Whether another row has the same values in these columns."""
    # By column: reading a relation would fetch its row for each of many rows changed together.
    columns = [row._meta.get_field(field).attname for field in fields]  # type: ignore[union-attr]
    same = {column: getattr(row, column) for column in columns} | more
    return type(row)._base_manager.filter(**same).exclude(pk=row.pk).exists()


def refuse_known_uuid(model: type[models.Model], uuid: Any) -> None:
    """A UUID may be chosen by the sender, once."""
    if uuid is not None and model._base_manager.filter(uuid=uuid).exists():
        raise Refused({"id": "Something with this id exists already."}, code="already-exists")


def set_fields(row: models.Model, fields: dict[str, Any], allowed: Iterable[str]) -> None:
    """Put keywords of a service on a row; a keyword that is no field of it is a fault of the caller."""
    if unknown := sorted(set(fields) - set(allowed)):
        raise TypeError(f"{type(row).__name__} is not changed by {', '.join(unknown)}")
    for name, value in fields.items():
        setattr(row, name, value)
