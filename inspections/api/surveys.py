"""Alignment as signed: every survey in force, in the record's one frame."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.mixins import ListModelMixin
from rest_framework.viewsets import GenericViewSet

from inspections.api.results import shown_set, signed_result
from inspections.models import Survey, SurveyResult
from inspections.selectors.surveys import surveys_visible_to
from plant import units
from plant.api.fields import QuantityField
from plant.api.filters import ByName, ByRoot, Filters, filters
from plant.api.paging import Pages
from plant.api.views import ApiView

SIDES = [("driver", "driver side"), ("driven", "driven side")]


class SurveySerializer(serializers.Serializer):
    """Addressed by its visit and number; it belongs to a signed text and never changes."""

    site = serializers.UUIDField(source="site.uuid")
    coupling = serializers.UUIDField(source="visit.coupling.uuid")
    visit = serializers.UUIDField(source="visit.uuid")
    on = serializers.DateField(source="visit.on")
    record = serializers.IntegerField(source="record.number", help_text="Number of the signed text it belongs to.")
    number = serializers.IntegerField()
    as_found = serializers.BooleanField()
    as_left = serializers.BooleanField()
    method = serializers.CharField()
    stationary = serializers.ChoiceField(choices=SIDES)
    viewed_from = serializers.CharField()
    positions = serializers.CharField(
        allow_blank=True,
        help_text="Empty: the clock. compass: N at 0 and E at 90 degrees; vertical figures are those towards north, "
        "horizontal ones towards east.",
    )
    north_is = serializers.CharField(allow_blank=True, help_text="What N stands for, where not the plant's north.")
    taken_at = serializers.DateTimeField(allow_null=True)
    loosened_at = serializers.DateTimeField(allow_null=True)
    driver_support = QuantityField(source="driver_support_degc", kind="temperature", allow_null=True)
    driven_support = QuantityField(source="driven_support_degc", kind="temperature", allow_null=True)
    stopped = QuantityField(source="stopped_hours", kind="hours", allow_null=True)
    read_by = serializers.CharField(help_text="Who took these readings, where it is said; else the observer did.")
    observer = serializers.UUIDField(source="observer.uuid", allow_null=True, default=None)
    sets = serializers.SerializerMethodField(help_text="Readings as typed and in the units of the answer.")
    result = serializers.SerializerMethodField(
        help_text="The driver-side shaft relative to the driven-side shaft, seen from the driver end, whichever "
        "machine was moved."
    )

    def to_representation(self, instance: Survey) -> dict[str, Any]:
        root: Any = self.root
        root._context["system"] = self.context.get("units") or instance.site.units
        return super().to_representation(instance)

    @extend_schema_field(serializers.ListField(child=serializers.DictField()))
    def get_sets(self, survey: Survey) -> list[dict[str, Any]]:
        return [shown_set(row, self.context.get("system", units.METRIC)) for row in survey.sets.all()]

    @extend_schema_field(serializers.DictField())
    def get_result(self, survey: Survey) -> dict[str, Any]:
        return signed_result(survey, self.context.get("system", units.METRIC))


class SurveyFilters(Filters):
    site = ByRoot("site")
    coupling = ByRoot("visit__coupling")
    visit = ByRoot("visit")
    as_found = filters.BooleanFilter()
    as_left = filters.BooleanFilter()
    verdict = filters.ChoiceFilter(field_name="result__verdict", choices=SurveyResult.Verdict.choices)

    class Meta:
        model = Survey
        fields: list[str] = []


class SurveyViewSet(ApiView, ListModelMixin, GenericViewSet):
    """Surveys of the texts in force: amended ones stay readable in the visit's records."""

    queryset = Survey.objects.none()
    serializer_class = SurveySerializer
    filterset_class = SurveyFilters
    filter_backends = [ByName]
    pagination_class = Pages
    ordering = ("-visit__on", "-record__number", "number")
    parameters = frozenset(SurveyFilters.get_filters()) | {"cursor", "limit"}

    def get_queryset(self) -> Any:
        return surveys_visible_to(self.person)

    def get_serializer_context(self) -> dict[str, Any]:
        if getattr(self, "swagger_fake_view", False):
            return {**super().get_serializer_context()}
        return {**super().get_serializer_context(), "units": self.units}
