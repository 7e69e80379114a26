"""How long elements live, as the weekly fits found it: read only, since the records themselves say it."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from inspections.models import LifeFit
from plant import units
from plant.api.fields import NounSerializer, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.views import RootViewSet

DAY_HOURS = 24.0


class LifeFitSerializer(NounSerializer):
    id = serializers.UUIDField(source="uuid", read_only=True)
    version = serializers.IntegerField(read_only=True)
    site = SiteField(read_only=True)
    family = serializers.CharField(read_only=True)
    part_number = serializers.CharField(read_only=True)
    level = serializers.ChoiceField(choices=LifeFit.Level.choices, read_only=True)
    basis = serializers.ChoiceField(choices=LifeFit.Basis.choices, read_only=True)
    by_hours = serializers.BooleanField(read_only=True, help_text="Ages are run hours; false: hours of the calendar.")
    elements = serializers.IntegerField(read_only=True)
    failures = serializers.IntegerField(read_only=True)
    family_failures = serializers.IntegerField(read_only=True)
    shape = serializers.FloatField(source="beta", read_only=True, allow_null=True)
    shape_limits = serializers.ListField(
        source="beta_limits", child=serializers.FloatField(allow_null=True), read_only=True,
        help_text="Of nine in ten; null has no end.",
    )  # fmt: skip
    scale = serializers.SerializerMethodField(help_text="Of a bound: at least.")
    b10 = serializers.SerializerMethodField(help_text="Age by which one in ten has failed; of a bound: at least.")
    b10_limits = serializers.SerializerMethodField(help_text="Of nine in ten; null has no end.")
    fitted_on = serializers.DateField(read_only=True)
    current = serializers.BooleanField(read_only=True)

    def get_scale(self, fit: LifeFit) -> dict[str, Any] | None:
        return self._age(fit, fit.eta)

    def get_b10(self, fit: LifeFit) -> dict[str, Any] | None:
        return self._age(fit, fit.b10)

    def get_b10_limits(self, fit: LifeFit) -> list[dict[str, Any] | None]:
        return [self._age(fit, one) for one in fit.b10_limits]

    def _age(self, fit: LifeFit, age: float | None) -> dict[str, Any] | None:
        """An age in hours, of running or of the calendar."""
        system = self.context.get("system", units.METRIC)
        return units.quantity(None if age is None else age * (1.0 if fit.by_hours else DAY_HOURS), "hours", system)


class LifeFitFilters(Filters):
    site = ByRoot("site")
    family = filters.CharFilter()
    part_number = filters.CharFilter()
    current = filters.BooleanFilter()

    class Meta:
        model = LifeFit
        fields: list[str] = []


class LifeFitViewSet(RootViewSet):
    """Shape, scale and B10 of each part number, with what they rest on. Fitted every week; older fits are kept."""

    noun_class = LifeFit
    serializer_class = LifeFitSerializer
    filterset_class = LifeFitFilters
    ordering = ("family", "part_number", "fitted_on")

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("site")
