"""Numbers a data sheet sets on wear, in the base unit of each code."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from couplings.models import Family, SheetWearLimit, WearCode
from couplings.selectors.sheets import WEAR_LIMIT_FIELDS
from plant.services.rows import errors_of, set_fields

Rows = Sequence[Mapping[str, Any]]


def wear_limit_errors(limits: Rows, family: Family) -> dict[str, str]:
    """What stands against these limits: each on a number of a code of the family, none twice."""
    errors: dict[str, str] = {}
    if not limits:
        return errors
    own = set(WearCode.objects.filter(families=family).values_list("pk", flat=True))
    seen: set[int] = set()
    for no, row in enumerate(limits):
        code = row["code"]
        errors |= errors_of(_row(row), f"wear_limits.{no}")
        if not code.number:
            errors[f"wear_limits.{no}.code"] = f"“{code.title}” has grades only: no number can be limited."
        elif code.pk not in own:
            errors[f"wear_limits.{no}.code"] = f"“{code.title}” is not looked for on the family {family.name}."
        elif code.pk in seen:
            errors[f"wear_limits.{no}.code"] = f"“{code.title}” is limited twice."
        seen.add(code.pk)
    return errors


def _row(given: Mapping[str, Any], **more: Any) -> SheetWearLimit:
    row = SheetWearLimit(**more)
    set_fields(row, dict(given), WEAR_LIMIT_FIELDS)
    return row
