"""Trains with their machines and feet, and the run hours of their meters."""

from typing import Any

from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from plant.api.acting import acting, answered
from plant.api.bulk import CreateMany
from plant.api.fields import ExternalRefField, NounSerializer, QuantityField, RootField, SiteField
from plant.api.filters import ByExternalRef, ByRoot, Filters, filters
from plant.api.service import ServiceOfTrains
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
    id = serializers.UUIDField(
        source="uuid",
        required=False,
        help_text="Where any machine is given with its id, all are known by it, and one without is new; where none is, "
        "they are known by position.",
    )
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
    speed = QuantityField(
        source="rpm",
        kind="speed",
        required=False,
        allow_null=True,
        help_text="The highest; of a gear unit that of its driver-side shaft.",
    )
    lowest_speed = QuantityField(
        source="lowest_rpm", kind="speed", required=False, allow_null=True, help_text="Only where the speed varies."
    )
    power = QuantityField(source="power_kw", kind="power", required=False, allow_null=True)
    driven_speed = QuantityField(
        source="driven_rpm",
        kind="speed",
        required=False,
        allow_null=True,
        help_text="Of a gear unit only: the highest speed of its driven-side shaft.",
    )
    driven_lowest_speed = QuantityField(source="driven_lowest_rpm", kind="speed", required=False, allow_null=True)
    driven_power = QuantityField(
        source="driven_power_kw",
        kind="power",
        required=False,
        allow_null=True,
        help_text="What goes on to the next machine; null: all of it.",
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
    service = serializers.ChoiceField(
        choices=Train.Service.choices,
        required=False,
        help_text="The present state; given in a change it holds from now. See service/ below the train for times.",
    )
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
    offset = QuantityField(
        source="offset_hours",
        kind="hours",
        read_only=True,
        help_text="Carried over from the meters before this one; zero on the first.",
    )
    struck = serializers.SerializerMethodField(
        help_text="Null; on a reading struck as a mistake when, by whom and why. It counts for nothing."
    )
    total = serializers.SerializerMethodField(help_text="Hours since the first meter, replacements taken in.")

    @extend_schema_field(
        {
            "type": ["object", "null"],
            "properties": {
                "at": {"type": "string", "format": "date-time"},
                "by": {"type": ["string", "null"]},
                "reason": {"type": "string"},
            },
        }
    )
    def get_struck(self, reading: MeterReading) -> dict[str, Any] | None:
        if reading.struck_at is None:
            return None
        by = str(reading.struck_by) if reading.struck_by is not None else None
        return {"at": reading.struck_at, "by": by, "reason": reading.struck_reason}

    def get_total(self, reading: MeterReading) -> dict[str, Any] | None:
        field = QuantityField(kind="hours")
        field.bind("total", self)
        return field.to_representation(reading.hours + reading.offset_hours)


class StrikeSerializer(NounSerializer):
    at = serializers.DateTimeField(help_text="The time of the reading that is struck.")
    reason = serializers.CharField(max_length=200)


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


class TrainViewSet(ServiceOfTrains, CreateRoots, ChangeRoots, CreateMany, RootViewSet):
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
        rows = self.paginate_queryset(MeterReading.objects.filter(meter__train=train).select_related("struck_by"))
        context = self.get_serializer_context()
        return self.get_paginated_response(RunHoursSerializer(rows, many=True, context=context).data)

    @extend_schema(responses={201: RunHoursSerializer})
    @run_hours.mapping.post
    def record_run_hours(self, request: Request, id: Any) -> Response:
        """Record what the hour meter shows."""
        with acting(request) as unit:
            reading = register.record_run_hours(train=self.get_object(), **self.given(request))
            return answered(unit, self.get_serializer(reading).data, status=201)

    @extend_schema(responses={200: RunHoursSerializer})
    @action(detail=True, methods=["post"], url_path="run-hours/strike", serializer_class=StrikeSerializer)
    def strike_run_hours(self, request: Request, id: Any) -> Response:
        """Strike a mistyped reading: it is kept and shown struck, and counts for nothing."""
        with acting(request) as unit:
            reading = register.strike_run_hours(train=self.get_object(), **self.given(request))
            return answered(unit, RunHoursSerializer(reading, context=self.get_serializer_context()).data)
