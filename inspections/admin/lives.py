"""The weekly fits of the lives of elements, which are read."""

from django.contrib import admin

from inspections.models import LifeFit
from plant.admin.base import SeenAdmin


@admin.register(LifeFit)
class LifeFitAdmin(SeenAdmin):
    list_display = ["part_number", "family", "site", "basis", "failures", "elements", "b10", "fitted_on", "current"]
    list_filter = ["current", "basis", "family", "site"]
    list_select_related = ["site"]
    search_fields = ["part_number"]
