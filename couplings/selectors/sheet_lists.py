"""The lists below a version of a data sheet: which columns each has, and which of them tell its rows apart.

Writing, copying, comparing and the digest all go by these rows, so a list that is added here is in none of them
forgotten.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from couplings.models import (
    SheetHoldPoint,
    SheetHub,
    SheetJoint,
    SheetLimit,
    SheetPart,
    SheetScrew,
    SheetSpacer,
    SheetVersion,
    SheetWearLimit,
)

LIMIT_FIELDS = ("quantity", "stated_as", "stated_value", "over_diameter_mm")
JOINT_FIELDS = (
    "name", "thread", "positions", "torque_nm", "strength_standard", "strength_class", "nut_factor",
    "nut_factor_source", "order", "segments", "pass_shares", "feature", "prevailing_nm", "recheck", "recheck_reason",
)  # fmt: skip
WEAR_LIMIT_FIELDS = ("code", "limit")


@dataclass(frozen=True)
class RowList:
    """`name` is the keyword of the services and the related name; `key` are the columns that tell its rows apart."""

    name: str
    model: Any
    fields: tuple[str, ...]
    key: tuple[str, ...]


ROW_LISTS: dict[str, RowList] = {
    row.name: row
    for row in (
        RowList("limits", SheetLimit, LIMIT_FIELDS, ("quantity",)),
        RowList("joints", SheetJoint, JOINT_FIELDS, ("name",)),
        RowList("wear_limits", SheetWearLimit, WEAR_LIMIT_FIELDS, ("code",)),
        RowList(
            "hubs",
            SheetHub,
            ("side", "bore_length_mm", "flange_mm", "overhang_mm", "protrusion_mm", "orientation", "mounting_kind"),
            ("side",),
        ),
        RowList("spacers", SheetSpacer, ("name", "length_mm"), ("name",)),
        RowList("screws", SheetScrew, ("kind", "over_bore_mm", "up_to_bore_mm", "size", "torque_nm", "source"),
                ("kind", "over_bore_mm")),
        RowList("element_parts", SheetPart, ("part_number", "description", "material", "standard"), ("part_number",)),
        RowList("hold_points", SheetHoldPoint, ("step", "what", "role"), ("step", "what")),
    )
}  # fmt: skip
# In the text of every version; the others only where they have rows, so that digests taken before they existed hold.
FIRST_LISTS = ("limits", "joints", "wear_limits")
LATER_LISTS = tuple(name for name in ROW_LISTS if name not in FIRST_LISTS)


def rows_of(version: SheetVersion, name: str) -> list[dict[str, Any]]:
    """The rows of one list as a service takes them."""
    given = ROW_LISTS[name]
    rows = getattr(version, name).all()
    if name == "wear_limits" and name not in getattr(version, "_prefetched_objects_cache", {}):
        rows = rows.select_related("code")
    return [{field: getattr(row, field) for field in given.fields} for row in rows]


def all_rows_of(version: SheetVersion) -> dict[str, list[dict[str, Any]]]:
    """Every list of a version by its name."""
    return {name: rows_of(version, name) for name in ROW_LISTS}
