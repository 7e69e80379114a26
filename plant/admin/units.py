"""Units by serial number in the administration; they are moved over the API and on the page of the train."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest
from simple_history.admin import SimpleHistoryAdmin

from plant.admin.base import ReadOnlyAdmin, RecordedAdmin, ShownRows
from plant.models import MachineUnit, UnitStay

STAY = ("machine", "from_at", "until_at", "came_with_hub", "left_with_hub", "reason", "went_to")


class UnitStayInline(ShownRows):
    model = UnitStay
    fields = readonly_fields = STAY

    def get_queryset(self, request: HttpRequest) -> Any:
        return super().get_queryset(request).select_related("unit", "machine__train")


@admin.register(MachineUnit)
class MachineUnitAdmin(RecordedAdmin):
    """A unit and where it stood. What stood somewhere is not deleted."""

    list_display = ["kind", "serial", "site"]
    list_select_related = ["site"]
    list_filter = [("site", admin.RelatedOnlyFieldListFilter), "kind"]
    search_fields = ["kind", "serial", "plate", "note"]
    exclude = ["changed_no"]
    inlines = [UnitStayInline]


@admin.register(UnitStay)
class UnitStayAdmin(ReadOnlyAdmin, SimpleHistoryAdmin):
    list_display = ["unit", "machine", "from_at", "until_at", "reason", "went_to"]
    list_select_related = ["unit", "machine__train"]
    list_filter = [("site", admin.RelatedOnlyFieldListFilter)]
    search_fields = ["unit__serial", "unit__kind", "machine__train__tag", "reason", "went_to"]
