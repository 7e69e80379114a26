"""Data sheets and their versions: what is in force, and the text its digest is taken over."""

from __future__ import annotations

import hashlib
import json
from typing import Any
from uuid import UUID

from django.db.models import Prefetch

from couplings.models import DataSheet, SheetVersion, SheetWearLimit
from plant.models import Person
from plant.refusals import Missing

VERSION_FIELDS = (
    "rule", "combined", "dbse_mm", "dbse_tolerance_mm", "flex_distance_mm", "hub_length_mm", "hub_diameter_mm",
    "max_rpm", "torque_rating_nm", "set_screw_count", "set_screw_size", "set_screw_torque_nm", "set_screw_angle_deg",
    "set_screw_holding_n", "set_screw_holding_source", "bore_mm", "fit_hole", "fit_shaft", "key_standard",
    "mounting_kind", "element_part", "element_shelf_years", "element_polymer", "hardness_scale",
    "hardness_change", "lubricant", "lubricant_g", "lubricant_months", "note",
)  # fmt: skip
WEAR_LIMIT_FIELDS = ("code", "limit")
LIMIT_FIELDS = ("quantity", "stated_as", "stated_value", "over_diameter_mm")
JOINT_FIELDS = (
    "name", "thread", "positions", "torque_nm", "strength_standard", "strength_class", "nut_factor",
    "nut_factor_source", "order", "segments", "pass_shares", "feature", "prevailing_nm", "recheck", "recheck_reason",
)  # fmt: skip


def versions_of() -> Prefetch:
    """All versions of sheets with their limits and joints, oldest first, in a few queries for any number of sheets."""
    versions = SheetVersion.objects.select_related("published_by", "sheet__site")
    worn = Prefetch("wear_limits", queryset=SheetWearLimit.objects.select_related("code"))
    return Prefetch("versions", queryset=versions.prefetch_related("limits", "joints", worn).order_by("number"))


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
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def digest_of(version: SheetVersion) -> str:
    """SHA-256 of the canonical text, in hexadecimal."""
    return hashlib.sha256(text_of(version).encode()).hexdigest()
