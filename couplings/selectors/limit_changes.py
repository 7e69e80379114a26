"""Which numbers of a data sheet somebody is held to, what changed in them, and which change a version stands on."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from couplings import sheet_rules
from couplings.models import LimitChange, SheetVersion

# What a visit is judged by or told to reach; a part number or a lubricant is no limit.
HELD_TO = (
    "rule", "combined", "dbse_mm", "dbse_tolerance_mm", "flex_distance_mm", "max_rpm", "torque_rating_nm",
    "set_screw_torque_nm", "fit_hole", "fit_shaft", "element_shelf_years", "hardness_scale", "hardness_change",
)  # fmt: skip
# Of the lists: the columns whose change is one of limits, and what is told apart by.
HELD_TO_LISTS: dict[str, tuple[str, ...]] = {
    "limits": ("stated_as", "stated_value", "over_diameter_mm"),
    "joints": ("torque_nm", "prevailing_nm"),
    "wear_limits": ("limit",),
    "screws": ("over_bore_mm", "up_to_bore_mm", "torque_nm"),
}


def held_to(version: SheetVersion) -> dict[tuple[str, ...], Any]:
    """Every number this version holds somebody to, by where it stands."""
    found: dict[tuple[str, ...], Any] = {(name,): getattr(version, name) for name in HELD_TO}
    for limit in version.limits.all():
        found[("limits", limit.quantity)] = limit.value
    for joint in version.joints.all():
        found[("joints", joint.name)] = (joint.torque_nm, joint.prevailing_nm)
    for worn in version.wear_limits.all():
        found[("wear_limits", str(worn.code_id))] = worn.limit
    for screw in version.screws.all():
        place = ("screws", screw.kind, f"{screw.over_bore_mm:g}", f"{screw.up_to_bore_mm:g}")
        found[place] = screw.torque_nm
    return found


def held_to_differently(before: SheetVersion, after: SheetVersion) -> list[tuple[str, ...]]:
    """Where two versions hold somebody to different numbers, or only one of them does."""
    one, other = held_to(before), held_to(after)
    return sorted(place for place in {*one, *other} if one.get(place) != other.get(place))


def standing_before(version: SheetVersion) -> SheetVersion | None:
    """The version to compare limits with: the latest published one before it whose own change, if any, is approved."""
    rows = _published(version).filter(number__lt=version.number)
    return next((row for row in rows if _change_of(row) is None or _approved(_change_of(row))), None)


def change_governing(version: SheetVersion) -> LimitChange | None:
    """The limit change a version stands on: its own, or that of the version it took its limits from unchanged."""
    if (own := _change_of(version)) is not None:
        return own
    rows = [row for row in _published(version).filter(number__lt=version.number) if _approved(_change_of(row))]
    return next((_change_of(row) for row in rows[:1] if not held_to_differently(row, version)), None)


def not_adoptable(version: SheetVersion, today: date) -> str:
    """Why nothing may be held to this version today; empty where nothing stands against it."""
    change = change_governing(version)
    return sheet_rules.adoption_refusal(
        number=version.number,
        published=version.published_at is not None,
        decision=change.decision if change is not None else "",
        change_number=change.change_number if change is not None else "",
        from_on=change.from_on if change is not None else None,
        today=today,
    )


def limit_changes(rows: Any = None) -> Any:
    """Limit changes with what they print."""
    rows = LimitChange.objects.all() if rows is None else rows
    return rows.select_related("site", "sheet_version__sheet__site", "before__sheet", "proposed_by", "decided_by")


def waiting_at(sites: Iterable[int]) -> Any:
    """Changes that wait for somebody's approval, the oldest first."""
    waiting = LimitChange.Decision.WAITING
    return limit_changes().filter(site_id__in=list(sites), decision=waiting).order_by("proposed_at", "pk")


def _published(version: SheetVersion) -> Any:
    rows = SheetVersion.objects.filter(sheet_id=version.sheet_id, published_at__isnull=False)
    return rows.select_related("limit_change").prefetch_related(*HELD_TO_LISTS).order_by("-number")


def _change_of(version: SheetVersion) -> LimitChange | None:
    try:
        return version.limit_change
    except LimitChange.DoesNotExist:
        return None


def _approved(change: LimitChange | None) -> bool:
    return change is not None and change.decision == LimitChange.Decision.APPROVED
