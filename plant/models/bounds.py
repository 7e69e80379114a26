"""Two-sided bounds for float columns.

A one-sided check lets NaN and Infinity through: PostgreSQL sorts NaN above every number, SQLite stores Infinity.
"""

from collections.abc import Iterator
from functools import cache

from django.db import models


def within(field: str, low: float, high: float) -> models.CheckConstraint:
    """Check constraint that keeps ``field`` (or NULL) between ``low`` and ``high``, both included."""
    return models.CheckConstraint(
        condition=models.Q(**{f"{field}__isnull": True}) | models.Q(**{f"{field}__gte": low, f"{field}__lte": high}),
        name=f"%(app_label)s_%(class)s_{field}_within",
        violation_error_message=f"{field} must lie between {low:g} and {high:g}.",
    )


@cache
def bounds_of(model: type[models.Model]) -> dict[str, tuple[float, float]]:
    """The bounds of a model's columns as `within` set them: {field: (low, high)}."""
    found = {}
    for constraint in model._meta.constraints:
        if not (isinstance(constraint, models.CheckConstraint) and constraint.name.endswith("_within")):
            continue
        limits: dict[str, float] = dict(child for child in _leaves(constraint.condition) if isinstance(child, tuple))
        field = next(name for name in limits if name.endswith("__gte")).removesuffix("__gte")
        found[field] = (limits[f"{field}__gte"], limits[f"{field}__lte"])
    return found


def _leaves(node: object) -> Iterator[object]:
    if isinstance(node, models.Q):
        for child in node.children:
            yield from _leaves(child)
    else:
        yield node
