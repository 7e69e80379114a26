"""Legs, forecasts and group fits: read, since all three are computed."""

from __future__ import annotations

from django.contrib import admin

from inspections.models import DriftState, GroupFit, Leg
from plant.admin.base import SeenAdmin


@admin.register(Leg)
class LegAdmin(SeenAdmin):
    list_display = ["coupling", "from_on", "to_on", "days", "why_not", "jump", "cause", "site"]
    list_filter = ["why_not", "jump", "site"]
    list_select_related = ["coupling", "site"]
    search_fields = ["coupling__tag"]
    date_hierarchy = "to_on"


@admin.register(DriftState)
class DriftStateAdmin(SeenAdmin):
    list_display = ["coupling", "why_not", "legs", "left_on", "due_on", "due_by", "straight_on", "site"]
    list_filter = ["why_not", "due_by", "site"]
    list_select_related = ["coupling", "site"]
    search_fields = ["coupling__tag"]


@admin.register(GroupFit)
class GroupFitAdmin(SeenAdmin):
    list_display = ["site", "level", "key", "fitted_on", "current", "couplings", "legs", "flagged", "by_hours"]
    list_filter = ["level", "current", "site"]
    list_select_related = ["site"]
    search_fields = ["key"]
