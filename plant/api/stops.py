"""Planned stops: days on which a train, an area or the whole site stands still."""

from typing import Any

from rest_framework import serializers

from plant.api.fields import ExternalRefField, NounSerializer, RootField, SiteField
from plant.api.filters import ByExternalRef, ByRoot, Filters, filters
from plant.api.views import ChangeRoots, CreateRoots, RemoveRoots, RootViewSet
from plant.models import Area, Stop, Train
from plant.services import stops


class StopSerializer(NounSerializer):
    fixed = ("id", "site")

    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField()
    name = serializers.CharField(max_length=80)
    area = RootField(Area, allow_null=True, required=False, help_text="With the areas within it.")
    train = RootField(
        Train, allow_null=True, required=False, help_text="One train; with neither area nor train: the whole site."
    )
    begins_on = serializers.DateField()
    ends_on = serializers.DateField(help_text="The last day; it counts.")
    note = serializers.CharField(max_length=200, allow_blank=True, required=False)
    external_ref = ExternalRefField()


class StopFilters(Filters):
    site = ByRoot("site")
    area = ByRoot("area")
    train = ByRoot("train")
    ends_after = filters.DateFilter("ends_on", lookup_expr="gte", label="Over on this day or later.")
    begins_before = filters.DateFilter("begins_on", lookup_expr="lte", label="Begun on this day or earlier.")
    external_ref = ByExternalRef()

    class Meta:
        model = Stop
        fields: list[str] = []


class StopViewSet(CreateRoots, ChangeRoots, RemoveRoots, RootViewSet):
    """When machines stand still as planned, by the site's calendar."""

    noun_class = Stop
    serializer_class = StopSerializer
    filterset_class = StopFilters
    ordering = ("begins_on",)

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("site", "area", "train")

    def make(self, **given: Any) -> Stop:
        return stops.plan_stop(**given)

    def change(self, root: Stop, expected: int | None, **given: Any) -> Stop:
        return stops.change_stop(stop=root, expected=expected, **given)

    def remove(self, root: Stop) -> None:
        stops.remove_stop(stop=root)
