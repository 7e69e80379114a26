"""Elements, what of them lies in store, and a site's reasons for taking them out, in the administration."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from couplings.models import Element, RemovalReason, StockLot, StockMovement
from couplings.services import fits, stock
from plant.admin.base import RecordedAdmin, ShownRows


class MovementRows(ShownRows):
    model = StockMovement
    fields = ["kind", "change", "count_after", "on", "by", "element", "note"]
    joined = ("lot", "by", "element")


@admin.register(StockLot)
class StockLotAdmin(RecordedAdmin):
    """Where a lot lies is mended here; counts change by movements, over the pages or the API."""

    writes = "stock.write"
    list_display = ["part_number", "batch", "cured_on", "polymer", "place", "count", "site"]
    list_filter = ["site", "polymer"]
    list_select_related = ["site"]
    search_fields = ["part_number", "batch", "place"]
    fields = ["site", "part_number", "batch", "cured_on", "polymer", "place", "count"]
    readonly_fields = ["site", "part_number", "batch", "cured_on", "count"]
    inlines = [MovementRows]

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def change(self, row: StockLot, **fields: Any) -> StockLot:
        return stock.change_lot(lot=row, **fields)


@admin.register(RemovalReason)
class RemovalReasonAdmin(RecordedAdmin):
    writes = "policy.write"
    list_display = ["title", "code", "failure", "in_use", "site", "source"]
    list_filter = ["site", "failure", "in_use"]
    list_select_related = ["site"]
    search_fields = ["code", "title", "source"]
    fields = ["site", "code", "title", "failure", "in_use", "source"]

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> list[str]:
        return ["site", "code"] if obj is not None else []

    def add(self, **fields: Any) -> RemovalReason:
        return stock.write_removal_reason(**fields)

    def change(self, row: RemovalReason, **fields: Any) -> RemovalReason:
        return stock.change_removal_reason(reason=row, **fields)


@admin.register(Element)
class ElementAdmin(RecordedAdmin):
    """What was found on an element and where it went is mended here; in and out is recorded by visits or the API."""

    writes = "register.write"
    list_display = ["part_number", "batch", "fit", "cured_on", "fitted_on", "removed_on", "removal_code", "went"]
    list_filter = ["site", "went", ("removed_on", admin.EmptyFieldListFilter)]
    list_select_related = ["fit__coupling", "fit__sheet_version__sheet", "removal_code", "site"]
    search_fields = ["part_number", "batch", "removal_reason", "removal_finding", "went_to", "fit__coupling__tag"]
    fields = [
        "site", "fit", "part_number", "batch", "cured_on", "fitted_on", "removed_on", "lot", "continues",
        "removal_code", "removal_reason", "removal_finding", "went", "went_to",
    ]  # fmt: skip
    readonly_fields = [
        "site", "fit", "part_number", "cured_on", "fitted_on", "removed_on", "lot", "continues",
    ]  # fmt: skip

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def change(self, row: Element, **fields: Any) -> Element:
        return fits.change_element(element=row, **fields)
