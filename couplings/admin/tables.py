"""A site's own tables in the administration."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from couplings.models import FailureCode, FitClass, NutFactor, SecondScrewFactor, TighteningScatter, WearWording
from couplings.services import tables
from plant.admin.base import RecordedAdmin


class TableAdmin(RecordedAdmin):
    """Rows of one table: what names a row is fixed once it is written."""

    writes = "policy.write"
    removes = True
    list_select_related = ["site"]

    def get_fields(self, request: HttpRequest, obj: Any = None) -> list[str]:
        table = tables.TABLES[self.model]
        shown = ["site", *table.keys, *table.figures, "source"]
        return [*shown, "mark"] if obj is not None else shown

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> list[str]:
        return ["site", *tables.TABLES[self.model].keys, "mark"] if obj is not None else []

    def add(self, **fields: Any) -> Any:
        return tables.write_table_row(model=self.model, **fields)

    def change(self, row: Any, **fields: Any) -> Any:
        return tables.change_table_row(row=row, **fields)

    def remove(self, row: Any) -> None:
        tables.remove_table_row(row=row)


@admin.register(NutFactor)
class NutFactorAdmin(TableAdmin):
    list_display = ["condition", "of_set", "nut_factor", "low", "high", "mark", "site"]
    list_filter = ["site", "of_set", "mark"]
    search_fields = ["condition", "of_set", "source"]


@admin.register(TighteningScatter)
class TighteningScatterAdmin(TableAdmin):
    list_display = ["method", "of_set", "scatter", "note", "mark", "site"]
    list_filter = ["site", "of_set", "mark"]
    search_fields = ["method", "of_set", "source"]


@admin.register(SecondScrewFactor)
class SecondScrewFactorAdmin(TableAdmin):
    list_display = ["from_deg", "to_deg", "factor", "mark", "source", "site"]
    list_filter = ["site", "mark"]
    search_fields = ["source"]


@admin.register(FitClass)
class FitClassAdmin(TableAdmin):
    list_display = [
        "name", "over_mm", "up_to_mm", "bore_lower_mm", "bore_upper_mm", "shaft_lower_mm", "shaft_upper_mm", "site",
    ]  # fmt: skip
    list_filter = ["site", "name"]
    search_fields = ["name", "source"]


@admin.register(FailureCode)
class FailureCodeAdmin(TableAdmin):
    list_display = ["code", "kind", "name", "mark", "site"]
    list_filter = ["site", "kind", "mark"]
    search_fields = ["code", "name", "source"]


@admin.register(WearWording)
class WearWordingAdmin(TableAdmin):
    """What is left out of a new row is copied from the program's row of its code."""

    list_display = ["title", "code", "limit", "mark", "source", "site"]
    list_filter = ["site", "mark"]
    search_fields = ["title", "code", "source"]
