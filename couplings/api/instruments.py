"""Instruments and until when their calibration holds."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from couplings.models import Calibration, Instrument
from couplings.selectors import calibration_ends_on, calibration_verdict, operations_left
from couplings.services import instruments
from plant.api.bulk import CreateMany
from plant.api.fields import NounSerializer, QuantityField, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.views import ChangeRoots, CreateRoots, RootViewSet
from plant.sitetime import today_at


class InstrumentSerializer(NounSerializer):
    fixed = ("id", "site", "kind")

    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField()
    kind = serializers.ChoiceField(choices=Instrument.Kind.choices)
    name = serializers.CharField(max_length=80)
    serial = serializers.CharField(max_length=60)
    standard_uncertainty = QuantityField(
        source="standard_u_mm", kind="gap", required=False, allow_null=True, help_text="Of one reading of a length."
    )
    standard_uncertainty_share = QuantityField(
        source="standard_u_share", kind="share", required=False, allow_null=True, help_text="Of a torque tool."
    )
    calibrated_on = serializers.DateField(required=False, allow_null=True)
    calibration_days = serializers.IntegerField(required=False, allow_null=True, min_value=1, max_value=36500)
    calibration_ends_on = serializers.SerializerMethodField(help_text="Last day of its calibration.")
    operations = serializers.IntegerField(
        required=False, allow_null=True, min_value=0, max_value=2**31 - 1, help_text="Of a torque tool, from new."
    )
    operations_limit = serializers.IntegerField(
        required=False, allow_null=True, min_value=1, max_value=2**31 - 1, help_text="How many a calibration holds."
    )
    operations_left = serializers.SerializerMethodField(help_text="Null where they are not counted.")
    calibration = serializers.SerializerMethodField(help_text="Today: in calibration, out of calibration, not known.")
    retired_on = serializers.DateField(required=False, allow_null=True)

    def get_operations_left(self, instrument: Instrument) -> int | None:
        return operations_left(instrument)

    def get_calibration(self, instrument: Instrument) -> str:
        return calibration_verdict(instrument, today_at(instrument.site, timezone.now()))

    def get_calibration_ends_on(self, instrument: Instrument) -> str | None:
        ends_on = calibration_ends_on(instrument)
        return ends_on.isoformat() if ends_on is not None else None


class CalibrationSerializer(NounSerializer):
    on = serializers.DateField()
    laboratory = serializers.CharField(max_length=120)
    certificate = serializers.CharField(max_length=60)
    result = serializers.ChoiceField(choices=Calibration.Result.choices)
    standard_uncertainty = QuantityField(source="standard_u_mm", kind="gap", required=False, allow_null=True)
    standard_uncertainty_share = QuantityField(source="standard_u_share", kind="share", required=False, allow_null=True)
    due_on = serializers.DateField(required=False, allow_null=True, help_text="Last day it holds.")
    operations = serializers.IntegerField(
        required=False, allow_null=True, min_value=0, max_value=2**31 - 1, help_text="Of a torque tool, from new."
    )
    note = serializers.CharField(max_length=200, allow_blank=True, required=False)


class InstrumentFilters(Filters):
    site = ByRoot("site")
    kind = filters.ChoiceFilter(choices=Instrument.Kind.choices)
    serial = filters.CharFilter()
    retired = filters.BooleanFilter(field_name="retired_on", lookup_expr="isnull", exclude=True)

    class Meta:
        model = Instrument
        fields: list[str] = []


class InstrumentViewSet(CreateRoots, ChangeRoots, CreateMany, RootViewSet):
    """What measured, and how well."""

    noun_class = Instrument
    serializer_class = InstrumentSerializer
    filterset_class = InstrumentFilters
    ordering = ("kind", "name")

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("site").prefetch_related("calibrations")

    def make(self, **given: Any) -> Instrument:
        return instruments.register_instrument(**given)

    def change(self, root: Instrument, expected: int | None, **given: Any) -> Instrument:
        return instruments.change_instrument(instrument=root, expected=expected, **given)

    @extend_schema(responses={200: CalibrationSerializer(many=True)})
    @action(detail=True, serializer_class=CalibrationSerializer, ordering=("-on",))
    def calibrations(self, request: Request, id: Any) -> Response:
        """Every certificate of it, the latest first."""
        instrument = self.get_object()
        rows = self.paginate_queryset(Calibration.objects.filter(instrument=instrument))
        context = self.get_serializer_context() | {"system": self.units or instrument.site.units}
        return self.get_paginated_response(CalibrationSerializer(rows, many=True, context=context).data)

    @action(detail=True, methods=["post"], serializer_class=CalibrationSerializer)
    def calibrate(self, request: Request, id: Any) -> Response:
        """Enter a certificate; the latest sets date, interval and uncertainty. If-Match is honoured."""
        return self.act(request, lambda one, **given: instruments.calibrate_instrument(instrument=one, **given))
