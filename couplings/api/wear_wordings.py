"""Wear codes in the words of one site, with the numbers it goes by where a data sheet gives none."""

from typing import Any

from rest_framework import serializers

from couplings.api.tables import OfSite, SaysSource, TableSerializer, TableViewSet
from couplings.api.wear import NumberField
from couplings.models import WearCode, WearWording
from couplings.selectors.wear import with_kind
from plant import units
from plant.api.filters import filters

WORDS = "Left out of a new row: as the program words it."


class WearWordingSerializer(SaysSource, TableSerializer):
    fixed = ("id", "site", "code")

    code = serializers.SlugField(max_length=40, help_text="A wear code that the program looks for.")
    title = serializers.CharField(max_length=80, required=False, help_text=WORDS)
    grade_0 = serializers.CharField(max_length=120, required=False, help_text=WORDS)
    grade_1 = serializers.CharField(max_length=120, required=False, allow_blank=True, help_text=WORDS)
    grade_2 = serializers.CharField(max_length=120, required=False, allow_blank=True, help_text=WORDS)
    grade_3 = serializers.CharField(
        max_length=120, required=False, allow_blank=True, help_text="Raises a flag. " + WORDS
    )
    grade_4 = serializers.CharField(
        max_length=120, required=False, allow_blank=True, help_text="Says do not run. " + WORDS
    )
    limit = NumberField(
        required=False,
        allow_null=True,
        help_text='{"value", "unit"} of the kind the code has: from here on it is worn out, where no sheet says so.',
    )

    def to_internal_value(self, data: Any) -> Any:
        given = super().to_internal_value(data)
        if given.get("limit") is None:
            return given
        code = WearCode.objects.filter(code=self.instance.code if self.instance else given["code"]).first()
        if code is None or not code.kind:
            said = "It has grades only: no number can be limited."
            raise serializers.ValidationError({"limit": [serializers.ErrorDetail(said, code="no-number")]})
        try:
            given["limit"] = units.parse(given["limit"], code.kind)
        except units.UnitError as error:
            raise serializers.ValidationError(
                {"limit": [serializers.ErrorDetail(str(error), code="quantity")]}
            ) from None
        return given

    def to_representation(self, row: Any) -> dict[str, Any]:
        shown = super().to_representation(row)
        if row.limit is not None:
            shown["limit"] = units.quantity(row.limit, row.kind, self.context.get("system", units.METRIC))
        return shown


class WearWordingFilters(OfSite):
    code = filters.CharFilter()

    class Meta:
        model = WearWording
        fields: list[str] = []


class WearWordingViewSet(TableViewSet):
    """Wear codes as one site words them. What was signed keeps its words; removed, the program's words hold again."""

    noun_class = WearWording
    serializer_class = WearWordingSerializer
    filterset_class = WearWordingFilters
    ordering = ("code",)

    def related(self, queryset: Any) -> Any:
        return with_kind(queryset)
