"""Tables a site keeps for itself: read by everybody there, written by who sets its policies."""

from typing import Any

from rest_framework import serializers

from couplings.models import (
    FailureCode,
    FitClass,
    NutFactor,
    SecondScrewFactor,
    TableRow,
    TighteningScatter,
)
from couplings.services import tables
from plant.api.fields import NounSerializer, QuantityField, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.kept import KeptHistory, LoadsStarters
from plant.api.views import ChangeRoots, CreateRoots, RemoveRoots, RootViewSet
from plant.models import Site


class TableSerializer(NounSerializer):
    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField()


class SaysSource(NounSerializer):
    source = serializers.CharField(max_length=300)  # type: ignore[assignment]
    mark = serializers.CharField(read_only=True, help_text="Whose figures these are.")


class NutFactorSerializer(SaysSource, TableSerializer):
    fixed = ("id", "site", "set", "condition")

    set = serializers.SlugField(source="of_set", max_length=40, help_text="Which set of figures, such as shigley.")
    condition = serializers.CharField(max_length=60, help_text="Of thread and seat, such as zinc plated.")
    nut_factor = serializers.FloatField(help_text="K of torque = K × diameter × preload.")
    low = serializers.FloatField(required=False, allow_null=True, help_text="Where the source prints a range.")
    high = serializers.FloatField(required=False, allow_null=True, help_text="Where the source prints a range.")


class ScatterSerializer(SaysSource, TableSerializer):
    fixed = ("id", "site", "set", "method")

    set = serializers.SlugField(source="of_set", max_length=40, help_text="Which set of figures, such as mil-hdbk-60.")
    method = serializers.CharField(max_length=60, help_text="Way to tighten, such as torque, lubricated.")
    scatter = QuantityField(kind="share", help_text="Of the preload, either way.")
    note = serializers.CharField(max_length=200, required=False, allow_blank=True)


class SecondScrewSerializer(SaysSource, TableSerializer):
    fixed = ("id", "site", "from")

    to = QuantityField(source="to_deg", kind="angle", help_text="The same where the row is for one angle.")
    factor = serializers.FloatField(help_text="What two hold over what one holds.")

    def get_fields(self) -> dict[str, Any]:
        # A word of the language cannot be the name of an attribute.
        begins = QuantityField(source="from_deg", kind="angle", help_text="0: both in one axial line.")
        return super().get_fields() | {"from": begins}


class FitClassSerializer(SaysSource, TableSerializer):
    fixed = ("id", "site", "name", "over")

    name = serializers.CharField(max_length=40, help_text="The class as the site's copy names it.")
    over = QuantityField(source="over_mm", kind="size", help_text="Above this diameter.")
    up_to = QuantityField(source="up_to_mm", kind="size", help_text="Up to and with this diameter.")
    bore_lower = QuantityField(source="bore_lower_mm", kind="gap", help_text="From the nominal size.")
    bore_upper = QuantityField(source="bore_upper_mm", kind="gap")
    shaft_lower = QuantityField(source="shaft_lower_mm", kind="gap")
    shaft_upper = QuantityField(source="shaft_upper_mm", kind="gap")


class FailureCodeSerializer(SaysSource, TableSerializer):
    fixed = ("id", "site", "kind", "code")

    kind = serializers.ChoiceField(choices=FailureCode.Kind.choices)
    code = serializers.CharField(max_length=12)
    name = serializers.CharField(max_length=80)


class OfSite(Filters):
    site = ByRoot("site")


class NutFactorFilters(OfSite):
    set = filters.CharFilter(field_name="of_set")

    class Meta:
        model = NutFactor
        fields: list[str] = []


class ScatterFilters(OfSite):
    set = filters.CharFilter(field_name="of_set")

    class Meta:
        model = TighteningScatter
        fields: list[str] = []


class SecondScrewFilters(OfSite):
    class Meta:
        model = SecondScrewFactor
        fields: list[str] = []


class FitClassFilters(OfSite):
    name = filters.CharFilter()

    class Meta:
        model = FitClass
        fields: list[str] = []


class FailureCodeFilters(OfSite):
    kind = filters.ChoiceFilter(choices=FailureCode.Kind.choices)
    code = filters.CharFilter()

    class Meta:
        model = FailureCode
        fields: list[str] = []


class TableViewSet(LoadsStarters, KeptHistory, CreateRoots, ChangeRoots, RemoveRoots, RootViewSet):
    """A table of one site."""

    def make(self, **given: Any) -> TableRow:
        return tables.write_table_row(model=self.noun_class, **given)

    def change(self, root: TableRow, expected: int | None, **given: Any) -> TableRow:
        return tables.change_table_row(row=root, expected=expected, **given)

    def remove(self, root: TableRow) -> None:
        tables.remove_table_row(row=root)

    def load(self, site: Site) -> list[TableRow]:
        return tables.load_table(model=self.noun_class, site=site)


class NutFactorViewSet(TableViewSet):
    """K of torque = K × diameter × preload, by set and condition. Published sets do not agree."""

    noun_class = NutFactor
    serializer_class = NutFactorSerializer
    filterset_class = NutFactorFilters
    ordering = ("of_set", "condition")


class ScatterViewSet(TableViewSet):
    """How far preloads scatter by the way of tightening, by set. Published sets do not agree."""

    noun_class = TighteningScatter
    serializer_class = ScatterSerializer
    filterset_class = ScatterFilters
    ordering = ("of_set", "method")


class SecondScrewViewSet(TableViewSet):
    """What two set screws hold over what one holds, by the angle between them about the shaft."""

    noun_class = SecondScrewFactor
    serializer_class = SecondScrewSerializer
    filterset_class = SecondScrewFilters
    ordering = ("from_deg",)


class FitClassViewSet(TableViewSet):
    """Fits by class from the site's own copy of a standard. There are no starters: no public set exists."""

    noun_class = FitClass
    serializer_class = FitClassSerializer
    filterset_class = FitClassFilters
    ordering = ("name", "over_mm")


class FailureCodeViewSet(TableViewSet):
    """Codes by which a breakdown is told: mode, mechanism and cause."""

    noun_class = FailureCode
    serializer_class = FailureCodeSerializer
    filterset_class = FailureCodeFilters
    ordering = ("kind", "code")
