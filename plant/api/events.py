"""Events: what happened, in the order in which each site committed it."""

from typing import Any

from rest_framework import serializers
from rest_framework.mixins import ListModelMixin
from rest_framework.viewsets import GenericViewSet

from plant.api.filters import ByName, ByRoot, Filters, filters
from plant.api.paging import Pages
from plant.api.views import ApiView
from plant.models import Event


class EventSerializer(serializers.ModelSerializer):
    site = serializers.UUIDField(source="site.uuid")
    by = serializers.UUIDField(source="by.uuid", allow_null=True, default=None)
    coupling = serializers.UUIDField(source="lane", allow_null=True)

    class Meta:
        model = Event
        fields = ["site", "no", "kind", "coupling", "at", "by", "payload"]


class EventFilters(Filters):
    site = ByRoot("site")
    kind = filters.CharFilter()
    coupling = filters.UUIDFilter(field_name="lane")
    above = filters.NumberFilter(field_name="no", lookup_expr="gt", label="Only numbers above this one.")

    class Meta:
        model = Event
        fields: list[str] = []


class EventViewSet(ApiView, ListModelMixin, GenericViewSet):
    """Numbers rise in the order of commits, per site; read on with `site` and `above` and nothing is missed."""

    queryset = Event.objects.none()
    serializer_class = EventSerializer
    filterset_class = EventFilters
    filter_backends = [ByName]
    pagination_class = Pages
    ordering = ("site_id", "no")
    parameters = frozenset({"site", "kind", "coupling", "above", "cursor", "limit"})

    def get_queryset(self) -> Any:
        events = Event.objects.select_related("site", "by")
        person = self.person
        return events if person.sees_everything else events.filter(site_id__in=person.whole_site_ids())
