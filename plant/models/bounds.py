"""Two-sided bounds for float columns.

A one-sided check lets NaN and Infinity through: PostgreSQL sorts NaN above every number, SQLite stores Infinity.
"""

from django.db import models


def within(field: str, low: float, high: float) -> models.CheckConstraint:
    """Check constraint that keeps ``field`` (or NULL) between ``low`` and ``high``, both included."""
    return models.CheckConstraint(
        condition=models.Q(**{f"{field}__isnull": True}) | models.Q(**{f"{field}__gte": low, f"{field}__lte": high}),
        name=f"%(app_label)s_%(class)s_{field}_within",
        violation_error_message=f"{field} must lie between {low:g} and {high:g}.",
    )
