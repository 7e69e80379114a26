"""Work orders, visits with their drafts, and signed records."""

from __future__ import annotations

import json
from typing import Any

from django.contrib import admin
from django.utils.html import format_html

from inspections.models import CrewMember, Entry, Maintenance, SignedRecord, Visit, WorkOrder
from plant.admin.base import SeenAdmin, ShownRows


class CrewRows(ShownRows):
    model = CrewMember
    joined = ("order", "person")


@admin.register(WorkOrder)
class WorkOrderAdmin(SeenAdmin):
    list_display = ["number", "title", "train", "site", "state", "isolated_at", "verified_at", "removed_at"]
    list_filter = ["state", "site"]
    list_select_related = ["train", "site"]
    search_fields = ["number", "title", "train__tag"]
    inlines = [CrewRows]


class EntryRows(ShownRows):
    model = Entry
    fields = ["step", "number", "version", "typed", "errors", "by", "at"]
    joined = ("visit__coupling", "by")


@admin.register(Visit)
class VisitAdmin(SeenAdmin):
    list_display = ["coupling", "on", "kind", "state", "site", "work_order", "taken_by", "signed_by"]
    list_filter = ["state", "kind", "site"]
    list_select_related = ["coupling", "site", "work_order", "taken_by", "signed_by"]
    search_fields = ["coupling__tag", "work_order__number"]
    date_hierarchy = "on"
    inlines = [EntryRows]


@admin.register(SignedRecord)
class SignedRecordAdmin(SeenAdmin):
    list_display = ["coupling", "number", "kind", "visit", "signed_by", "signed_at", "short_digest"]
    list_filter = ["kind", "site"]
    list_select_related = ["coupling", "visit__coupling", "signed_by"]
    search_fields = ["coupling__tag", "digest"]
    fields = [
        "site", "coupling", "number", "kind", "visit", "amends", "reason", "signed_by", "signed_at", "previous_digest",
        "digest", "readable",
    ]  # fmt: skip

    @admin.display(description="digest")
    def short_digest(self, record: SignedRecord) -> str:
        return record.digest[:12]

    @admin.display(description="text as signed")
    def readable(self, record: SignedRecord) -> Any:
        return format_html("<pre>{}</pre>", json.dumps(json.loads(record.text), indent=2, ensure_ascii=False))


@admin.register(Maintenance)
class MaintenanceAdmin(admin.ModelAdmin):
    """Whether signed records lie open; shown to whoever keeps the whole installation, changed by commands only."""

    list_display = ["__str__", "reason", "since"]

    def has_add_permission(self, request: Any) -> bool:
        return False

    def has_change_permission(self, request: Any, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: Any, obj: Any = None) -> bool:
        return False
