"""Families, data sheets with their versions, and grades in the administration."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from couplings.models import (
    DataSheet,
    Family,
    Grade,
    GradeRow,
    LimitChange,
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
from couplings.selectors.joints import joint_advice, sentences_of
from couplings.selectors.sheet_lists import ROW_LISTS
from couplings.selectors.sheets import JOINT_FIELDS, VERSION_FIELDS
from couplings.selectors.tables import joint_scatter_at
from couplings.services import grades, limit_changes, sheets
from plant.admin.base import RecordedAdmin, ShownRows, WrittenRows


@admin.register(Family)
class FamilyAdmin(admin.ModelAdmin):
    """Families are rows of every site, so it takes the administrator of the whole installation to change them."""

    list_display = ["name", "code", "kind", "element_name", "ages"]
    list_filter = ["kind", "ages"]
    search_fields = ["name", "code", "element_name"]

    def has_module_permission(self, request: HttpRequest) -> bool:
        return bool(request.user.is_active and request.user.is_staff)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self.has_module_permission(request)

    def has_add_permission(self, request: HttpRequest) -> bool:
        return bool(request.user.is_superuser)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return bool(request.user.is_superuser)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class VersionRows(ShownRows):
    model = SheetVersion
    fields = ["number", "published_at", "published_by", "digest"]
    show_change_link = True
    joined = ("sheet", "published_by")


@admin.register(DataSheet)
class DataSheetAdmin(RecordedAdmin):
    writes = "sheet.write"
    list_display = ["designation", "family", "site"]
    list_filter = ["site", "family"]
    list_select_related = ["family", "site"]
    search_fields = ["designation", "note"]
    inlines = [VersionRows]
    actions = ["begin_version"]

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> list[str]:
        return ["site"] if obj is not None else []

    def add(self, **fields: Any) -> DataSheet:
        return sheets.write_sheet(sheet_note=fields.pop("note", ""), **fields)

    def change(self, row: DataSheet, **fields: Any) -> DataSheet:
        return sheets.change_sheet(sheet=row, **fields)

    @admin.action(description="Begin a new version of the chosen data sheets")
    def begin_version(self, request: HttpRequest, rows: Any) -> None:
        self.acted(request, rows, lambda sheet: sheets.begin_version(sheet=sheet), "a new version was begun.")


class LimitRows(WrittenRows):
    model = SheetLimit
    fields = ["quantity", "stated_as", "stated_value", "over_diameter_mm", "value"]
    readonly_fields = ["value"]


class JointRows(WrittenRows):
    model = SheetJoint
    joined = ("version__sheet__site",)
    fields = [*JOINT_FIELDS, "advice"]
    readonly_fields = ["advice"]

    @admin.display(description="advice")
    def advice(self, row: SheetJoint) -> str:
        """The preload this torque gives, or what the sheet would have to state for it."""
        if row.pk is None:
            return "Follows once the row is saved."
        site = row.version.sheet.site
        return " ".join(sentences_of(joint_advice(row, joint_scatter_at(site)), site.units))


class WearLimitRows(WrittenRows):
    model = SheetWearLimit
    fields = ["code", "limit"]
    joined = ("code",)


class HubRows(WrittenRows):
    model = SheetHub


class SpacerRows(WrittenRows):
    model = SheetSpacer


class ScrewRows(WrittenRows):
    model = SheetScrew


class PartRows(WrittenRows):
    model = SheetPart


class HoldPointRows(WrittenRows):
    model = SheetHoldPoint


@admin.register(SheetVersion)
class SheetVersionAdmin(RecordedAdmin):
    """Versions begin on their data sheet; a published one is only shown."""

    writes = "sheet.write"
    rows_of = {row.model: row.name for row in ROW_LISTS.values()}
    list_display = ["sheet", "number", "published_at", "published_by"]
    list_filter = ["sheet__site", ("published_at", admin.EmptyFieldListFilter)]
    list_select_related = ["sheet", "published_by"]
    search_fields = ["sheet__designation", "element_part", "note"]
    fields = ["sheet", "number", "published_at", "published_by", "digest", *VERSION_FIELDS]
    readonly_fields = ["sheet", "number", "published_at", "published_by", "digest"]
    inlines = [LimitRows, JointRows, WearLimitRows, HubRows, SpacerRows, ScrewRows, PartRows, HoldPointRows]
    actions = ["publish"]

    def visible(self, rows: Any, person: Any) -> Any:
        return rows.filter(sheet__in=DataSheet.objects.visible_to(person))

    def site_of(self, row: SheetVersion) -> int:
        return row.sheet.site_id

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return (obj is None or obj.published_at is None) and super().has_change_permission(request, obj)

    def change(self, row: SheetVersion, **fields: Any) -> SheetVersion:
        return sheets.change_version(version=row, **fields)

    @admin.action(description="Publish the chosen versions: they never change afterwards")
    def publish(self, request: HttpRequest, rows: Any) -> None:
        self.acted(request, rows, lambda version: sheets.publish_version(version=version), "it is in force now.")


@admin.register(LimitChange)
class LimitChangeAdmin(RecordedAdmin):
    """Proposed by publishing a version; decided here by somebody else. Turning one down takes its reason: the API."""

    list_display = ["change_number", "sheet_version", "from_on", "proposed_by", "decision", "decided_by"]
    list_filter = ["site", "decision"]
    list_select_related = ["sheet_version__sheet", "proposed_by", "decided_by"]
    search_fields = ["change_number", "reason", "sheet_version__sheet__designation"]
    actions = ["approve"]

    @admin.action(description="Approve the chosen limit changes")
    def approve(self, request: HttpRequest, rows: Any) -> None:
        self.acted(request, rows, lambda change: limit_changes.approve_limit_change(change=change), "it is approved.")


class GradeRows(WrittenRows):
    model = GradeRow
    joined = ("grade",)


@admin.register(Grade)
class GradeAdmin(RecordedAdmin):
    writes = "policy.write"
    rows_of = {GradeRow: "rows"}
    list_display = ["name", "criticalities", "site"]
    list_filter = ["site"]
    list_select_related = ["site"]
    search_fields = ["name", "note"]
    inlines = [GradeRows]

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> list[str]:
        return ["site"] if obj is not None else []

    def add(self, **fields: Any) -> Grade:
        return grades.write_grade(**fields)

    def change(self, row: Grade, **fields: Any) -> Grade:
        return grades.change_grade(grade=row, **fields)
