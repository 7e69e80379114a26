"""Work orders: one outing at one train, its crew, and its isolation from permit to removal."""

from typing import Any

from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inspections.api.fields import NothingSerializer, PersonField
from inspections.models import WorkOrder
from inspections.services import orders
from plant.api.bulk import CreateMany
from plant.api.fields import ExternalRefField, NounSerializer, RootField, SiteField
from plant.api.filters import ByExternalRef, ByRoot, Filters, filters
from plant.api.views import ChangeRoots, CreateRoots, RootViewSet
from plant.models import Train


class CrewSerializer(NounSerializer):
    person = PersonField(required=False, allow_null=True, help_text="Null: somebody without an account.")
    name = serializers.CharField(max_length=80, required=False, help_text="As the record shall name them.")
    employer = serializers.CharField(max_length=80, required=False, allow_blank=True)


class WorkOrderSerializer(NounSerializer):
    fixed = ("id", "train")

    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField(read_only=True)
    train = RootField(Train)
    number = serializers.CharField(max_length=40)
    title = serializers.CharField(max_length=120, allow_blank=True, required=False)
    state = serializers.ChoiceField(choices=WorkOrder.State.choices, read_only=True)
    planned_on = serializers.DateField(required=False, allow_null=True)
    crew = CrewSerializer(many=True, required=False, help_text="The whole crew.")
    permit = serializers.CharField(read_only=True)
    no_permit_reason = serializers.CharField(read_only=True)
    isolated_at = serializers.DateTimeField(read_only=True, allow_null=True)
    isolated_by = PersonField(read_only=True, allow_null=True)
    verified_at = serializers.DateTimeField(
        read_only=True, allow_null=True, help_text="Tried and verified dead, stored energy released."
    )
    verified_by = PersonField(read_only=True, allow_null=True)
    removed_at = serializers.DateTimeField(read_only=True, allow_null=True, help_text="Isolation taken off again.")
    removed_by = PersonField(read_only=True, allow_null=True)
    isolation_stands = serializers.BooleanField(read_only=True)
    external_ref = ExternalRefField()


class IsolateSerializer(NounSerializer):
    permit = serializers.CharField(required=False, allow_blank=True, max_length=60, help_text="The permit's number.")
    no_permit_reason = serializers.CharField(
        required=False,
        allow_blank=True,
        max_length=200,
        help_text="Instead of a permit: bench work, plant never energised, test under the site's rules.",
    )


class WorkOrderFilters(Filters):
    site = ByRoot("site")
    train = ByRoot("train")
    state = filters.ChoiceFilter(choices=WorkOrder.State.choices)
    number = filters.CharFilter()
    external_ref = ByExternalRef()

    class Meta:
        model = WorkOrder
        fields: list[str] = []


class WorkOrderViewSet(CreateRoots, ChangeRoots, CreateMany, RootViewSet):
    """One outing at one train. Stopped-work steps of its visits open when its isolation is verified."""

    noun_class = WorkOrder
    serializer_class = WorkOrderSerializer
    filterset_class = WorkOrderFilters
    ordering = ("-id",)

    def related(self, queryset: Any) -> Any:
        joined = queryset.select_related("site", "train", "isolated_by", "verified_by", "removed_by")
        return joined.prefetch_related("crew__person")

    def make(self, **given: Any) -> WorkOrder:
        return orders.open_order(**given)

    def change(self, root: WorkOrder, expected: int | None, **given: Any) -> WorkOrder:
        return orders.change_order(order=root, expected=expected, **given)

    @action(detail=True, methods=["post"], serializer_class=IsolateSerializer)
    def isolate(self, request: Request, id: Any) -> Response:
        """Write down the isolation: the permit's number, or why there is none. If-Match is honoured."""
        return self.act(request, lambda order, **given: orders.isolate(order=order, **given))

    @action(detail=True, methods=["post"], url_path="verify-isolation", serializer_class=NothingSerializer)
    def verify_isolation(self, request: Request, id: Any) -> Response:
        """Confirm that the machine was tried and is dead, stored energy released. If-Match is honoured."""
        return self.act(request, lambda order: orders.verify_isolation(order=order))

    @action(detail=True, methods=["post"], url_path="remove-isolation", serializer_class=NothingSerializer)
    def remove_isolation(self, request: Request, id: Any) -> Response:
        """Confirm that the guard is on and the isolation taken off. If-Match is honoured."""
        return self.act(request, lambda order: orders.remove_isolation(order=order))

    @action(detail=True, methods=["post"], serializer_class=NothingSerializer)
    def close(self, request: Request, id: Any) -> Response:
        """Close the order, once its visits are signed or dropped and its isolation is off. If-Match is honoured."""
        return self.act(request, lambda order: orders.close_order(order=order))
