"""Data sheets and their versions: what is in force, and the text its digest is taken over."""

from __future__ import annotations

import hashlib
import json
from typing import Any
from uuid import UUID

from django.db.models import OuterRef, Prefetch, Subquery, prefetch_related_objects

from couplings.models import DataSheet, SheetHoldPoint, SheetHub, SheetScrew, SheetVersion, SheetWearLimit, WearWording
from couplings.selectors.sheet_lists import JOINT_FIELDS, LATER_LISTS, LIMIT_FIELDS, WEAR_LIMIT_FIELDS, rows_of
from plant.models import Person
from plant.refusals import Missing

VERSION_FIELDS = (
    "rule", "combined", "dbse_mm", "dbse_tolerance_mm", "flex_distance_mm", "hub_length_mm", "hub_diameter_mm",
    "max_rpm", "torque_rating_nm", "set_screw_count", "set_screw_size", "set_screw_torque_nm", "set_screw_angle_deg",
    "set_screw_holding_n", "set_screw_holding_source", "bore_mm", "fit_hole", "fit_shaft", "key_standard",
    "mounting_kind", "element_part", "element_shelf_years", "element_polymer", "hardness_scale",
    "hardness_change", "lubricant", "lubricant_g", "lubricant_months", "note",
)  # fmt: skip
__all__ = [
    "JOINT_FIELDS",
    "LIMIT_FIELDS",
    "VERSION_FIELDS",
    "WEAR_LIMIT_FIELDS",
    "digest_of",
    "held_by",
    "hold_points_of",
    "hub_of",
    "mounting_kind_of",
    "screw_at",
    "text_of",
    "version_for",
    "versions_of",
    "with_rows",
]  # fmt: skip
SIDES = {"driver": "driver side", "driven": "driven side"}
# What a site calls the code of a wear limit, where it has words of its own.
OWN_TITLE = Subquery(
    WearWording.objects.filter(site=OuterRef("version__sheet__site"), code=OuterRef("code__code")).values("title")[:1]
)


def with_rows(versions: Any) -> Any:
    """Versions with everything below them, in as many queries for many as for one."""
    worn = Prefetch("wear_limits", queryset=SheetWearLimit.objects.select_related("code").annotate(own_title=OWN_TITLE))
    below = ("limits", "joints", "hubs", "spacers", "screws", "element_parts", "hold_points")
    return versions.select_related("published_by", "sheet__site", "sheet__family").prefetch_related(*below, worn)


def versions_of() -> Prefetch:
    """All versions of sheets with everything below them, oldest first, in a few queries for any number of sheets."""
    return Prefetch("versions", queryset=with_rows(SheetVersion.objects.all()).order_by("number"))


def version_for(person: Person, sheet: UUID, number: int) -> SheetVersion:
    """One version by its sheet and number, if the person may see it."""
    version = (
        SheetVersion.objects.select_related("sheet__site", "sheet__family")
        .filter(sheet__in=DataSheet.objects.visible_to(person), sheet__uuid=sheet, number=number)
        .first()
    )
    if version is None:
        raise Missing()
    return version


def text_of(version: SheetVersion) -> str:
    """The version with its limits and joints as canonical JSON: sorted keys, no blanks, shortest numbers.

    Everything a visit could be judged by is in it, and nothing that changes after publishing.
    """
    content: dict[str, Any] = {
        "sheet": str(version.sheet.uuid),
        "number": version.number,
        **{name: getattr(version, name) for name in VERSION_FIELDS},
        "limits": sorted(
            ({name: getattr(limit, name) for name in (*LIMIT_FIELDS, "value")} for limit in version.limits.all()),
            key=lambda limit: limit["quantity"],
        ),
        "joints": sorted(
            ({name: getattr(joint, name) for name in JOINT_FIELDS} for joint in version.joints.all()),
            key=lambda joint: joint["name"],
        ),
        "wear_limits": sorted([limit.code.code, limit.limit] for limit in version.wear_limits.select_related("code")),
    }
    for name in LATER_LISTS:
        if rows := rows_of(version, name):
            content[name] = sorted(rows, key=lambda row: json.dumps(row, sort_keys=True))
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def digest_of(version: SheetVersion) -> str:
    """SHA-256 of the canonical text, in hexadecimal."""
    return hashlib.sha256(text_of(version).encode()).hexdigest()


def hold_points_of(version: SheetVersion, step_key: str) -> list[SheetHoldPoint]:
    """What somebody else has to look on in this step of a visit, by this version of the data sheet."""
    return [point for point in version.hold_points.all() if point.step == step_key]


def hub_of(version: SheetVersion, side: str) -> SheetHub | None:
    """The hub of one side, `driver` or `driven`; None where the sheet has no rows of hubs."""
    # Asked side by side and field by field: fetched once for this version, and only where somebody asks.
    prefetch_related_objects([version], "hubs")
    hubs = {hub.side: hub for hub in version.hubs.all()}
    return hubs.get(side) or hubs.get(SheetHub.Side.BOTH)


def mounting_kind_of(version: SheetVersion, side: str) -> str:
    """How the hub of one side is held: as its own row says, else as the whole sheet does; empty: not stated."""
    hub = hub_of(version, side)
    return (hub.mounting_kind if hub is not None else "") or version.mounting_kind


def held_by(version: SheetVersion) -> str:
    """How both hubs are held, in words; by side where they differ, empty where the sheet does not say."""
    said = {side: dict(SheetVersion.Mounting.choices).get(mounting_kind_of(version, side), "") for side in SIDES}
    if len(set(said.values())) == 1:
        return str(said["driver"])
    return "; ".join(f"{SIDES[side]}: {words}" for side, words in said.items() if words)


def screw_at(version: SheetVersion, bore_mm: float | None, kind: str = "set") -> SheetScrew | None:
    """The row of the table of screws that holds for this bore; None where there is none."""
    if bore_mm is None:
        return None
    rows = (row for row in version.screws.all() if row.kind == kind)
    return next((row for row in rows if row.over_bore_mm < bore_mm <= row.up_to_bore_mm), None)
