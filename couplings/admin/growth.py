"""A site's coefficients of thermal expansion in the administration."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from couplings.models import GrowthCoefficient
from couplings.services import growth
from plant.admin.base import RecordedAdmin


@admin.register(GrowthCoefficient)
class GrowthCoefficientAdmin(RecordedAdmin):
    writes = "policy.write"
    removes = True
    list_display = ["material", "site", "per_k", "per_k_u", "mark", "source"]
    list_filter = ["site", "material"]
    list_select_related = ["site"]
    search_fields = ["material", "source"]
    fields = ["site", "material", "per_k", "per_k_u", "source"]

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> list[str]:
        return ["site", "material"] if obj is not None else []

    def add(self, **fields: Any) -> GrowthCoefficient:
        return growth.write_growth_coefficient(**fields)

    def change(self, row: GrowthCoefficient, **fields: Any) -> GrowthCoefficient:
        return growth.change_growth_coefficient(row=row, **fields)

    def remove(self, row: GrowthCoefficient) -> None:
        growth.remove_growth_coefficient(row=row)
