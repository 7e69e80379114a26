"""Instruments and until when their calibration holds."""

from typing import Any

from rest_framework import serializers

from couplings.models import Instrument
from couplings.selectors import calibration_ends_on
from couplings.services import instruments
from plant.api.bulk import CreateMany
from plant.api.fields import NounSerializer, QuantityField, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.views import ChangeRoots, CreateRoots, RootViewSet


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
    retired_on = serializers.DateField(required=False, allow_null=True)

    def get_calibration_ends_on(self, instrument: Instrument) -> str | None:
        ends_on = calibration_ends_on(instrument)
        return ends_on.isoformat() if ends_on is not None else None


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

    def make(self, **given: Any) -> Instrument:
        return instruments.register_instrument(**given)

    def change(self, root: Instrument, expected: int | None, **given: Any) -> Instrument:
        return instruments.change_instrument(instrument=root, expected=expected, **given)
