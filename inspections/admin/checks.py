"""Policies, which are written here, and the checks and flags that follow, which are read."""

from __future__ import annotations

from typing import Any

from django.contrib import admin

from inspections.models import Check, Flag, OtherWork, Policy
from inspections.services import policies
from plant.admin.base import RecordedAdmin, SeenAdmin


@admin.register(Policy)
class PolicyAdmin(RecordedAdmin):
    writes = "policy.write"
    removes = True
    list_display = ["site", "check_kind", "criticality", "every_months", "mode", "first_days", "first_hours", "mark"]
    list_filter = ["site", "check_kind"]
    list_select_related = ["site"]
    search_fields = ["check_kind", "site__name"]
    fields = [
        "site", "check_kind", "criticality", "every_months", "mode", "window_share", "first_days", "first_hours",
        "every_hours", "after_other_work", "defer_days", "by_drift", "risk", "shortest_days", "longest_months",
        "needs_stop", "crew_hours", "crew_size", "source",
    ]  # fmt: skip

    def get_readonly_fields(self, request: Any, obj: Any = None) -> list[str]:
        return ["site", "check_kind", "criticality"] if obj is not None else []

    def add(self, **fields: Any) -> Policy:
        return policies.add_policy(**fields)

    def change(self, row: Policy, **fields: Any) -> Policy:
        return policies.write_policy(
            site=row.site, check_kind=row.check_kind, criticality=row.criticality, expected=row.version, **fields
        )

    def remove(self, row: Policy) -> None:
        policies.remove_policy(policy=row)


@admin.register(Check)
class CheckAdmin(SeenAdmin):
    list_display = [
        "coupling",
        "kind",
        "site",
        "opens_on",
        "due_on",
        "closes_on",
        "winner",
        "deferred_until",
        "settled_on",
        "outcome",
    ]
    list_filter = ["kind", ("settled_on", admin.EmptyFieldListFilter), "site"]
    list_select_related = ["coupling", "site"]
    search_fields = ["coupling__tag"]
    date_hierarchy = "due_on"


@admin.register(Flag)
class FlagAdmin(SeenAdmin):
    list_display = ["coupling", "kind", "site", "opened_at", "owner", "acknowledged_at", "cleared_at", "cause"]
    list_filter = ["kind", ("cleared_at", admin.EmptyFieldListFilter), "site"]
    list_select_related = ["coupling", "site", "owner"]
    search_fields = ["coupling__tag"]


@admin.register(OtherWork)
class OtherWorkAdmin(SeenAdmin):
    list_display = ["coupling", "kind", "on", "site", "by"]
    list_filter = ["kind", "site"]
    list_select_related = ["coupling", "site", "by"]
    search_fields = ["coupling__tag", "note"]
