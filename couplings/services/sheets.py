"""Data sheets: written as a draft, published once, changed only by a new version."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any
from uuid import UUID

from couplings import rules
from couplings.models import DataSheet, Family, SheetVersion
from couplings.selectors.limit_changes import held_to_differently, standing_before
from couplings.selectors.sheet_lists import ROW_LISTS, all_rows_of
from couplings.selectors.sheets import VERSION_FIELDS, digest_of
from couplings.services.checking import refuse, saved
from couplings.services.limit_changes import propose_limit_change
from couplings.services.sheet_rows import Rows, row_errors, take_standard_part, tidied, write_rows
from plant import access
from plant.models import Site
from plant.recording import bump, changed, current
from plant.refusals import Refused
from plant.services.rows import errors_of, refuse_known_uuid, set_fields


def write_sheet(
    *,
    site: Site,
    family: Family,
    designation: str,
    sheet_note: str = "",
    uuid: UUID | None = None,
    **given: Any,
) -> DataSheet:
    """Write a new data sheet with its first, unpublished version.

    `given` are columns of the version, and the lists below it by their names (`ROW_LISTS`).
    """
    unit = current()
    access.require(unit.by, "sheet.write", site)
    refuse_known_uuid(DataSheet, uuid)
    sheet = DataSheet(site=site, family=family, designation=designation.strip(), note=sheet_note)
    if uuid is not None:
        sheet.uuid = uuid
    fields, lists = _parted(given)
    version = SheetVersion(sheet=sheet, number=1)
    set_fields(version, fields, VERSION_FIELDS)
    _refuse_wrong(version, family, lists, errors_of(sheet) | _designation_taken(sheet))
    saved(sheet, lambda: _designation_taken(sheet))
    version.save()
    write_rows(version, lists)
    changed(sheet)
    return sheet


def copy_sheet(*, sheet: DataSheet, designation: str, number: int | None = None, uuid: UUID | None = None) -> DataSheet:
    """Write another data sheet of the same site that says all that a version of this one says, as a draft.

    `number` names the version, the latest where it is not given. Nothing of who published what goes along.
    """
    unit = current()
    access.require(unit.by, "sheet.write", sheet.site)
    refuse_known_uuid(DataSheet, uuid)
    versions = sheet.versions.order_by("-number")
    original = versions.first() if number is None else versions.filter(number=number).first()
    if original is None:
        raise Refused({"number": "This data sheet has no such version to copy."})
    copy = DataSheet(site=sheet.site, family=sheet.family, designation=designation.strip(), note=sheet.note)
    if uuid is not None:
        copy.uuid = uuid
    refuse(errors_of(copy) | _designation_taken(copy))
    saved(copy, lambda: _designation_taken(copy))
    _copied(original, copy, 1)
    changed(copy)
    return copy


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
    **given: Any,
) -> SheetVersion:
    """Change an unpublished version. A list that is given takes the place of the one that stands."""
    unit = current()
    sheet = version.sheet
    access.require(unit.by, "sheet.write", sheet.site)
    bump(sheet, expected)
    version.refresh_from_db()
    _refuse_published(version)
    fields, lists = _parted(given)
    set_fields(version, fields, VERSION_FIELDS)
    _refuse_wrong(version, sheet.family, lists, {})
    version.save()
    write_rows(version, lists)
    return version


def publish_version(
    *,
    version: SheetVersion,
    expected: int | None = None,
    reason: str = "",
    change_number: str = "",
    from_on: date | None = None,
) -> SheetVersion:
    """Put a version into force: from now on it never changes, and fits may be made by it.

    A sheet may state no limits (a maker that publishes none); whatever is judged by it alone is then not known.

    Where the version is held to other numbers than the one before, its limit change is proposed with it: why, under
    which number, from when. It is gone by only after somebody else approved that, so that whoever writes sheets may
    publish such a version.
    """
    unit = current()
    sheet = version.sheet
    if not access.may(unit.by, "sheet.write", sheet.site):
        access.require(unit.by, "limit.approve", sheet.site)
    bump(sheet, expected)
    version.refresh_from_db()
    _refuse_published(version)
    # Everything below it is read under the lock the bump took, whatever the caller fetched before.
    written = SheetVersion.objects.get(pk=version.pk)
    before = standing_before(written)
    changing = before is not None and bool(held_to_differently(before, written))
    if not changing:
        access.require(unit.by, "limit.approve", sheet.site)
        if reason or change_number or from_on:
            raise Refused({"reason": "No limit differs from the version before: there is no change to propose."})
    version.digest = digest_of(written)
    version.published_at = unit.at
    version.published_by = unit.by
    version.save()
    if changing and before is not None:
        propose_limit_change(
            version=version, before=before, reason=reason, change_number=change_number, from_on=from_on
        )
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
    return _copied(latest, sheet, latest.number + 1)


def _parted(given: dict[str, Any]) -> tuple[dict[str, Any], dict[str, list[dict[str, Any]]]]:
    """Keywords of a service as columns of the version and lists below it."""
    lists = tidied({name: given[name] for name in given if name in ROW_LISTS})
    fields = {name: value for name, value in given.items() if name not in ROW_LISTS}
    take_standard_part(fields, lists)
    return fields, lists


def _refuse_published(version: SheetVersion) -> None:
    if version.published_at is not None:
        raise Refused(
            f"Version {version.number} is published and stays as it is: begin a new version to change it.", "frozen"
        )


def _refuse_wrong(version: SheetVersion, family: Family, lists: Mapping[str, Rows], more: Mapping[str, str]) -> None:
    errors = errors_of(version) | rules.screw_errors(version.set_screw_holding_n, version.set_screw_holding_source)
    errors |= rules.specified_fit_errors(version.fit_hole, version.fit_shaft, version.bore_mm)
    refuse(errors | row_errors(version, family, lists) | dict(more))


def _copied(latest: SheetVersion, sheet: DataSheet, number: int) -> SheetVersion:
    """An unpublished version that says all that another one says."""
    version = SheetVersion(sheet=sheet, number=number)
    set_fields(version, {name: getattr(latest, name) for name in VERSION_FIELDS}, VERSION_FIELDS)
    version.save()
    write_rows(version, all_rows_of(latest))
    return version


def _designation_taken(sheet: DataSheet) -> dict[str, str]:
    others = DataSheet.objects.filter(site_id=sheet.site_id, designation=sheet.designation).exclude(pk=sheet.pk)
    return {"designation": "This site has a data sheet of this designation already."} if others.exists() else {}
