"""Speed grades with their rows."""

from typing import Any

from rest_framework import serializers

from couplings.models import Family, Grade, GradeRow, SheetVersion
from couplings.services import grades, starters
from plant.api.fields import NounSerializer, QuantityField, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.kept import KeptHistory, LoadsStarters
from plant.api.views import ChangeRoots, CreateRoots, RemoveRoots, RootViewSet
from plant.models import Site


class GradeRowSerializer(NounSerializer):
    kind = serializers.ChoiceField(choices=Family.Kind.choices, default=Family.Kind.SHORT)
    over = QuantityField(source="over_rpm", kind="speed", required=False, help_text="Above this speed; 0 if not said.")
    up_to = QuantityField(source="up_to_rpm", kind="speed", help_text="Up to and with this speed.")
    offset = QuantityField(source="offset_mm", kind="gap", required=False, allow_null=True)
    angularity = QuantityField(source="angularity_mrad", kind="slope", required=False, allow_null=True)
    flex_angle = QuantityField(source="flex_angle_mrad", kind="slope", required=False, allow_null=True)
    rule = serializers.ChoiceField(choices=SheetVersion.Rule.choices, required=False)
    source = serializers.CharField(max_length=300)  # type: ignore[assignment]
    mark = serializers.ChoiceField(choices=GradeRow.Mark.choices, required=False)


class GradeSerializer(NounSerializer):
    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField()
    name = serializers.CharField(max_length=60)
    criticalities = serializers.CharField(
        max_length=3, allow_blank=True, required=False, help_text="Trains it is for where nothing else is chosen: AB."
    )
    note = serializers.CharField(max_length=4000, allow_blank=True, required=False)
    rows = GradeRowSerializer(many=True, required=False, help_text="The whole list.")


class GradeFilters(Filters):
    site = ByRoot("site")
    name = filters.CharFilter()

    class Meta:
        model = Grade
        fields: list[str] = []


class GradeViewSet(LoadsStarters, KeptHistory, CreateRoots, ChangeRoots, RemoveRoots, RootViewSet):
    """What the site allows at which speed. A list of rows in a change replaces the whole list."""

    noun_class = Grade
    serializer_class = GradeSerializer
    filterset_class = GradeFilters
    ordering = ("name",)

    def related(self, queryset: Any) -> Any:
        return queryset.prefetch_related("rows")

    def make(self, **given: Any) -> Grade:
        return grades.write_grade(**given)

    def change(self, root: Grade, expected: int | None, **given: Any) -> Grade:
        return grades.change_grade(grade=root, expected=expected, **given)

    def remove(self, root: Grade) -> None:
        grades.remove_grade(grade=root)

    def load(self, site: Site) -> list[Grade]:
        return starters.load_grades(site=site)
