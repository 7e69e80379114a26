"""Trains with their machines and feet, and the run hours of their meters."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from plant.api.acting import acting, answered
from plant.api.bulk import CreateMany
from plant.api.fields import ExternalRefField, NounSerializer, QuantityField, RootField, SiteField
from plant.api.filters import ByExternalRef, ByRoot, Filters, filters
from plant.api.views import ChangeRoots, CreateRoots, RootViewSet
from plant.models import Area, Machine, MeterReading, Site, Train
from plant.services import register


class FootSerializer(NounSerializer):
    name = serializers.CharField(max_length=40)
    distance = QuantityField(
        source="distance_mm", kind="size", help_text="From the machine's driver-side shaft end, along the shaft."
    )
    support_height = QuantityField(
        source="support_height_mm",
        kind="size",
        required=False,
        allow_null=True,
        help_text="From the base to the shaft's centreline.",
    )


class MachineSerializer(NounSerializer):
    position = serializers.IntegerField(min_value=1, max_value=6, help_text="1 is the driver end.")
    name = serializers.CharField(max_length=60)
    role = serializers.ChoiceField(choices=Machine.Role.choices, default=Machine.Role.DRIVEN)
    mounting = serializers.ChoiceField(choices=Machine.Mounting.choices, default=Machine.Mounting.FEET)
    movable = serializers.BooleanField(default=False)
    shaft_length = QuantityField(
        source="shaft_length_mm",
        kind="size",
        required=False,
        allow_null=True,
        help_text="From the driver-side shaft end to the driven-side shaft end.",
    )
    support_material = serializers.ChoiceField(
        choices=Site.SupportMaterial.choices,
        allow_blank=True,
        default="",
        help_text="Of its frame and pedestals, for the correction of surveys; left blank: the site's.",
    )
    feet = FootSerializer(source="foot_planes", many=True, required=False, help_text="Two to four planes.")

    def to_internal_value(self, data: Any) -> Any:
        given = super().to_internal_value(data)
        if "foot_planes" in given:
            given["feet"] = given.pop("foot_planes")
        return given


class TrainSerializer(NounSerializer):
    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField()
    area = RootField(Area)
    tag = serializers.CharField(max_length=40)
    name = serializers.CharField(max_length=120, allow_blank=True, required=False)
    criticality = serializers.ChoiceField(choices=Train.Criticality.choices, required=False)
    service = serializers.ChoiceField(choices=Train.Service.choices, required=False)
    cautions = serializers.CharField(
        allow_blank=True, required=False, max_length=4000, help_text="What can hurt somebody here."
    )
    machines = MachineSerializer(many=True, required=False, help_text="The whole list, from the driver end.")
    external_ref = ExternalRefField()


class RunHoursSerializer(NounSerializer):
    at = serializers.DateTimeField()
    hours = QuantityField(kind="hours", help_text="As shown on the meter.")
    replaced = serializers.BooleanField(
        default=False, write_only=True, help_text="A new meter was put in, and stood at these hours."
    )
    total = serializers.SerializerMethodField(help_text="Hours since the first meter, replacements taken in.")

    def get_total(self, reading: MeterReading) -> dict[str, Any] | None:
        field = QuantityField(kind="hours")
        field.bind("total", self)
        return field.to_representation(reading.hours + reading.offset_hours)


class TrainFilters(Filters):
    site = ByRoot("site")
    area = ByRoot("area")
    tag = filters.CharFilter()
    criticality = filters.ChoiceFilter(choices=Train.Criticality.choices)
    service = filters.ChoiceFilter(choices=Train.Service.choices)
    external_ref = ByExternalRef()

    class Meta:
        model = Train
        fields: list[str] = []


class TrainViewSet(CreateRoots, ChangeRoots, CreateMany, RootViewSet):
    """Machines on one axis, from the driver end. A list of machines in a change replaces the whole list."""

    noun_class = Train
    serializer_class = TrainSerializer
    filterset_class = TrainFilters
    ordering = ("tag",)

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("area").prefetch_related("machines__foot_planes")

    def make(self, **given: Any) -> Train:
        return register.register_train(**given)

    def change(self, root: Train, expected: int | None, **given: Any) -> Train:
        return register.change_train(train=root, expected=expected, **given)

    @extend_schema(responses={200: RunHoursSerializer(many=True)})
    @action(detail=True, url_path="run-hours", serializer_class=RunHoursSerializer, ordering=("-at",))
    def run_hours(self, request: Request, id: Any) -> Response:
        """Readings of the hour meter, the latest first."""
        train = self.get_object()
        rows = self.paginate_queryset(MeterReading.objects.filter(meter__train=train))
        context = self.get_serializer_context()
        return self.get_paginated_response(RunHoursSerializer(rows, many=True, context=context).data)

    @extend_schema(responses={201: RunHoursSerializer})
    @run_hours.mapping.post
    def record_run_hours(self, request: Request, id: Any) -> Response:
        """Record what the hour meter shows."""
        with acting(request) as unit:
            reading = register.record_run_hours(train=self.get_object(), **self.given(request))
            return answered(unit, self.get_serializer(reading).data, status=201)
