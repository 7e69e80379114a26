"""Columns checked before the database does it, so that every error is told at once and beside its field."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from typing import Any, TypeVar
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction

from plant.refusals import Refused

Made = TypeVar("Made")
_UNITS = {"mm": "mm", "mrad": "mm/m", "nm": "N·m", "kw": "kW", "rpm": "rpm", "years": "years"}


def column_errors(row: models.Model, prefix: str = "") -> dict[str, str]:
    """Messages by field for text too long, unknown choices, missing values and numbers outside a column's bounds.

    References are not looked up: services are handed rows, not keys.
    """
    errors: dict[str, str] = {}
    bounds = _bounds(type(row))
    for field in row._meta.fields:
        if field.primary_key or field.is_relation or not field.editable:
            continue
        value = getattr(row, field.attname)
        if value is None and field.null:
            continue
        try:
            value = field.clean(value, row)
        except ValidationError as error:
            errors[prefix + field.name] = " ".join(error.messages)
            continue
        if isinstance(value, str) and "\x00" in value:
            errors[prefix + field.name] = "This text holds a character that cannot be kept."
        if field.name in bounds and value is not None:
            low, high = bounds[field.name]
            # Written so that NaN, which compares with nothing, is outside.
            if not low <= value <= high:
                unit = _UNITS.get(field.name.rsplit("_", 1)[-1], "")
                errors[prefix + field.name] = f"This must lie between {low:g} and {high:g} {unit}".rstrip() + "."
    return errors


def assign(row: models.Model, fields: Mapping[str, Any], allowed: tuple[str, ...]) -> None:
    """Set the named columns; a name that is not the service's to change is a mistake of the caller."""
    unknown = set(fields) - set(allowed)
    if unknown:
        raise TypeError(f"{type(row).__name__} has no changeable {', '.join(sorted(unknown))}")
    for name, value in fields.items():
        setattr(row, name, value)


def saved(row: Made, taken: Callable[[], dict[str, str]]) -> Made:
    """Save, and say which field was taken when somebody else was faster than the check beforehand."""
    try:
        with transaction.atomic():
            row.save()  # type: ignore[attr-defined]
    except IntegrityError:
        if errors := taken():
            raise Refused(errors, code="taken") from None
        raise
    return row


def uuid_taken(model: Any, uuid: UUID | None) -> dict[str, str]:
    if uuid is not None and model._base_manager.filter(uuid=uuid).exists():
        return {"id": "This id exists already: it was recorded before, or by somebody else."}
    return {}


def refuse(errors: Mapping[str, str], code: str | None = None) -> None:
    if errors:
        raise Refused(errors, code)


@cache
def _bounds(model: type[models.Model]) -> dict[str, tuple[float, float]]:
    """Bounds of plant.models.bounds.within, read back from the model so that they are written once."""
    found: dict[str, tuple[float, float]] = {}
    for constraint in model._meta.constraints:
        if not (isinstance(constraint, models.CheckConstraint) and constraint.name.endswith("_within")):
            continue
        pairs = dict(_leaves(constraint.condition))
        low = next(((name[:-5], value) for name, value in pairs.items() if name.endswith("__gte")), None)
        if low is not None:
            found[low[0]] = (low[1], pairs[f"{low[0]}__lte"])
    return found


def _leaves(condition: Any) -> list[tuple[str, Any]]:
    leaves: list[tuple[str, Any]] = []
    for child in condition.children:
        leaves += [child] if isinstance(child, tuple) else _leaves(child)
    return leaves
