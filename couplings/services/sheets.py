"""Data sheets: written as a draft, published once, changed only by a new version."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from couplings import rules
from couplings.engineering.fastening import completed
from couplings.models import DataSheet, Family, SheetJoint, SheetLimit, SheetVersion
from couplings.selectors.sheets import JOINT_FIELDS, LIMIT_FIELDS, VERSION_FIELDS, digest_of
from couplings.services.checking import refuse, saved
from couplings.services.wear_limits import wear_limit_errors, wear_limits_from, write_wear_limits
from plant import access
from plant.models import Site
from plant.recording import bump, changed, current
from plant.refusals import Refused
from plant.services.rows import errors_of, refuse_known_uuid, set_fields

Rows = Sequence[Mapping[str, Any]]


def write_sheet(
    *,
    site: Site,
    family: Family,
    designation: str,
    sheet_note: str = "",
    limits: Rows = (),
    joints: Rows = (),
    wear_limits: Rows = (),
    uuid: UUID | None = None,
    **fields: Any,
) -> DataSheet:
    """Write a new data sheet with its first, unpublished version. `fields` are columns of the version."""
    unit = current()
    access.require(unit.by, "sheet.write", site)
    refuse_known_uuid(DataSheet, uuid)
    sheet = DataSheet(site=site, family=family, designation=designation.strip(), note=sheet_note)
    if uuid is not None:
        sheet.uuid = uuid
    version = SheetVersion(sheet=sheet, number=1)
    set_fields(version, fields, VERSION_FIELDS)
    errors = _version_errors(version, limits, joints) | wear_limit_errors(wear_limits, family)
    refuse(errors_of(sheet) | errors | _designation_taken(sheet))
    saved(sheet, lambda: _designation_taken(sheet))
    version.save()
    _write_limits(version, limits)
    _write_joints(version, joints)
    write_wear_limits(version, wear_limits)
    changed(sheet)
    return sheet


def change_sheet(
    *,
    sheet: DataSheet,
    expected: int | None = None,
    designation: str | None = None,
    note: str | None = None,
    family: Family | None = None,
) -> DataSheet:
    """Change what a sheet is called; its family only while no version of it is published."""
    unit = current()
    access.require(unit.by, "sheet.write", sheet.site)
    bump(sheet, expected)
    if family is not None and family != sheet.family:
        if sheet.versions.filter(published_at__isnull=False).exists():
            raise Refused({"family": "A version is published: the family stays. Write another data sheet."}, "frozen")
        sheet.family = family
    if designation is not None:
        sheet.designation = designation.strip()
    if note is not None:
        sheet.note = note
    refuse(errors_of(sheet) | _designation_taken(sheet))
    return saved(sheet, lambda: _designation_taken(sheet))


def change_version(
    *,
    version: SheetVersion,
    expected: int | None = None,
    limits: Rows | None = None,
    joints: Rows | None = None,
    wear_limits: Rows | None = None,
    **fields: Any,
) -> SheetVersion:
    """Change an unpublished version. Limits and joints, where given, replace those that stand."""
    unit = current()
    sheet = version.sheet
    access.require(unit.by, "sheet.write", sheet.site)
    bump(sheet, expected)
    version.refresh_from_db()
    _refuse_published(version)
    set_fields(version, fields, VERSION_FIELDS)
    refuse(_version_errors(version, limits, joints) | wear_limit_errors(wear_limits or (), sheet.family))
    version.save()
    if limits is not None:
        version.limits.all().delete()
        _write_limits(version, limits)
    if joints is not None:
        version.joints.all().delete()
        _write_joints(version, joints)
    if wear_limits is not None:
        write_wear_limits(version, wear_limits)
    return version


def publish_version(*, version: SheetVersion, expected: int | None = None) -> SheetVersion:
    """Put a version into force: from now on it never changes, and fits may be made by it.

    A sheet may state no limits (a maker that publishes none); whatever is judged by it alone is then not known.
    """
    unit = current()
    sheet = version.sheet
    access.require(unit.by, "limit.approve", sheet.site)
    bump(sheet, expected)
    version.refresh_from_db()
    _refuse_published(version)
    version.digest = digest_of(version)
    version.published_at = unit.at
    version.published_by = unit.by
    version.save()
    return version


def begin_version(*, sheet: DataSheet, expected: int | None = None) -> SheetVersion:
    """Begin the next version as a copy of the latest one; fits keep the version they were made by."""
    unit = current()
    access.require(unit.by, "sheet.write", sheet.site)
    bump(sheet, expected)
    latest = sheet.versions.order_by("-number").first()
    if latest is None:
        raise Refused("This data sheet has no version to copy.")
    if latest.published_at is None:
        raise Refused(
            f"Version {latest.number} is not published yet: change that one, or publish it first.",
            "unpublished-version",
        )
    version = SheetVersion(sheet=sheet, number=latest.number + 1)
    set_fields(version, {name: getattr(latest, name) for name in VERSION_FIELDS}, VERSION_FIELDS)
    version.save()
    _write_limits(version, [{name: getattr(row, name) for name in LIMIT_FIELDS} for row in latest.limits.all()])
    _write_joints(version, [{name: getattr(row, name) for name in JOINT_FIELDS} for row in latest.joints.all()])
    write_wear_limits(version, wear_limits_from(latest))
    return version


def _refuse_published(version: SheetVersion) -> None:
    if version.published_at is not None:
        raise Refused(
            f"Version {version.number} is published and stays as it is: begin a new version to change it.", "frozen"
        )


def _version_errors(version: SheetVersion, limits: Rows | None, joints: Rows | None) -> dict[str, str]:
    errors = errors_of(version) | rules.screw_errors(version.set_screw_holding_n, version.set_screw_holding_source)
    errors |= rules.specified_fit_errors(version.fit_hole, version.fit_shaft, version.bore_mm)
    joints = [completed(row) for row in joints or ()]
    for no, row in enumerate(limits or ()):
        errors |= errors_of(_row(SheetLimit, row, LIMIT_FIELDS, value=1.0), f"limits.{no}")
    for no, row in enumerate(joints):
        errors |= errors_of(_row(SheetJoint, row, JOINT_FIELDS), f"joints.{no}")
    # The rules speak of the trade and so overwrite what is said about the column.
    errors |= rules.limit_errors(limits or ()) | rules.joint_errors(joints)
    for no, row in enumerate(limits or ()):
        if not any(path.startswith(f"limits.{no}.") for path in errors):
            limit = _row(SheetLimit, row, LIMIT_FIELDS, value=_judged(row))
            if "value" in errors_of(limit):
                errors[f"limits.{no}.stated_value"] = "This is far outside anything in the trade: check its unit."
    return errors


def _write_limits(version: SheetVersion, limits: Rows) -> None:
    rows = [_row(SheetLimit, row, LIMIT_FIELDS, version=version, value=_judged(row)) for row in limits]
    SheetLimit.objects.bulk_create(rows)


def _judged(row: Mapping[str, Any]) -> float:
    return rules.judged_value(row["stated_as"], row["stated_value"], row.get("over_diameter_mm"))


def _write_joints(version: SheetVersion, joints: Rows) -> None:
    rows = [_row(SheetJoint, completed(row), JOINT_FIELDS, version=version) for row in joints]
    SheetJoint.objects.bulk_create(rows)


def _row(model: Any, given: Mapping[str, Any], allowed: tuple[str, ...], **more: Any) -> Any:
    row = model(**more)
    set_fields(row, dict(given), allowed)
    return row


def _designation_taken(sheet: DataSheet) -> dict[str, str]:
    others = DataSheet.objects.filter(site_id=sheet.site_id, designation=sheet.designation).exclude(pk=sheet.pk)
    return {"designation": "This site has a data sheet of this designation already."} if others.exists() else {}
