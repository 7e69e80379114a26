"""The rows below a version: what stands against them, and putting a whole list in the place of what stands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from couplings import rules, sheet_rules
from couplings.engineering.fastening import completed
from couplings.models import Family, SheetVersion
from couplings.selectors.sheet_lists import LATER_LISTS, ROW_LISTS
from couplings.selectors.steps import known_steps
from couplings.services.wear_limits import wear_limit_errors
from plant.services.rows import errors_of, set_fields

Rows = Sequence[Mapping[str, Any]]
_TEXTS = ("name", "part_number", "what", "size", "source")


def tidied(lists: Mapping[str, Rows | None]) -> dict[str, list[dict[str, Any]]]:
    """The lists that were given: their words without blanks at the ends, what a joint leaves out completed."""
    found = {name: [dict(row) for row in rows] for name, rows in lists.items() if rows is not None}
    if unknown := sorted(set(found) - set(ROW_LISTS)):
        raise TypeError(f"A data sheet has no list {', '.join(unknown)}")
    if "joints" in found:
        found["joints"] = [dict(completed(row)) for row in found["joints"]]
    for name in LATER_LISTS:
        for row in found.get(name, ()):
            row.update({text: row[text].strip() for text in _TEXTS if isinstance(row.get(text), str)})
    return found


def take_standard_part(fields: dict[str, Any], lists: Mapping[str, Rows]) -> None:
    """The standard one of a list of parts is the element the sheet names, unless somebody named one beside it."""
    standard = [row["part_number"] for row in lists.get("element_parts", ()) if row.get("standard")]
    if len(standard) == 1 and not fields.get("element_part"):
        fields["element_part"] = standard[0]


def row_errors(version: SheetVersion, family: Family, lists: Mapping[str, Rows]) -> dict[str, str]:
    """Everything that stands against these lists, by field path; columns first, what the trade says over it."""
    errors: dict[str, str] = {}
    for name, rows in lists.items():
        if name == "wear_limits":
            errors |= wear_limit_errors(rows, family)
            continue
        more = {"value": 1.0} if name == "limits" else {}
        for no, row in enumerate(rows):
            errors |= errors_of(_row(name, row, **more), f"{name}.{no}")
        if (rule := sheet_rules.ROW_RULES.get(name)) is not None:
            errors |= rule(rows)
    limits = lists.get("limits", ())
    errors |= rules.limit_errors(limits) | rules.joint_errors(lists.get("joints", ()))
    errors |= sheet_rules.hold_point_errors(lists.get("hold_points", ()), known_steps())
    parts = lists["element_parts"] if "element_parts" in lists else _standing_parts(version)
    errors |= sheet_rules.part_errors(parts, version.element_part)
    for no, row in enumerate(limits):
        if not any(path.startswith(f"limits.{no}.") for path in errors):
            limit = _row("limits", row, value=_judged(row))
            if "value" in errors_of(limit):
                errors[f"limits.{no}.stated_value"] = "This is far outside anything in the trade: check its unit."
    return errors


def write_rows(version: SheetVersion, lists: Mapping[str, Rows]) -> None:
    """Put each list that is given in the place of what stands."""
    for name, rows in lists.items():
        getattr(version, name).all().delete()
        ROW_LISTS[name].model.objects.bulk_create(
            _row(name, row, version=version, **({"value": _judged(row)} if name == "limits" else {})) for row in rows
        )


def _standing_parts(version: SheetVersion) -> list[dict[str, Any]]:
    if version.pk is None:
        return []
    return [dict(row) for row in version.element_parts.values("part_number", "standard")]


def _judged(row: Mapping[str, Any]) -> float:
    return rules.judged_value(row["stated_as"], row["stated_value"], row.get("over_diameter_mm"))


def _row(name: str, given: Mapping[str, Any], **more: Any) -> Any:
    row = ROW_LISTS[name].model(**more)
    set_fields(row, dict(given), ROW_LISTS[name].fields)
    return row
