"""Wear codes, which are everybody's, and a site's storage rules in the administration."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from couplings.admin.sheets import FamilyAdmin
from couplings.models import StorageRule, WearCode
from couplings.services import storage
from plant.admin.base import RecordedAdmin


@admin.register(WearCode)
class WearCodeAdmin(FamilyAdmin):
    """Rows of every site, as families are: it takes the administrator of the whole installation to change them."""

    list_display = ["title", "code", "number", "kind", "fracture", "of_element", "source"]
    list_filter = ["families", "fracture"]
    search_fields = ["code", "title"]
    filter_horizontal = ["families"]


@admin.register(StorageRule)
class StorageRuleAdmin(RecordedAdmin):
    writes = "policy.write"
    removes = True
    list_display = ["polymer", "policy", "site", "initial_years", "extension_years", "in_use", "mark", "source"]
    list_filter = ["site", "policy", "in_use"]
    list_select_related = ["site"]
    search_fields = ["polymer", "policy", "source"]
    fields = [
        "site", "polymer", "policy", "group", "initial_years", "extension_years", "in_use", "source",
    ]  # fmt: skip

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> list[str]:
        return ["site", "polymer", "policy"] if obj is not None else []

    def add(self, **fields: Any) -> StorageRule:
        return storage.write_storage_rule(**fields)

    def change(self, row: StorageRule, **fields: Any) -> StorageRule:
        return storage.change_storage_rule(rule=row, **fields)

    def remove(self, row: StorageRule) -> None:
        storage.remove_storage_rule(rule=row)
