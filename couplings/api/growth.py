"""What a site takes the materials of its supports to grow by."""

from typing import Any

from rest_framework import serializers

from couplings.models import GrowthCoefficient
from couplings.services import growth, starters
from plant.api.fields import NounSerializer, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.kept import KeptHistory, LoadsStarters
from plant.api.views import ChangeRoots, CreateRoots, RemoveRoots, RootViewSet
from plant.models import Site


class GrowthCoefficientSerializer(NounSerializer):
    fixed = ("id", "site", "material")

    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField()
    material = serializers.ChoiceField(choices=Site.SupportMaterial.choices, help_text="What supports are made of.")
    per_k = serializers.FloatField(help_text="Growth of the material, millionths per kelvin.")
    per_k_u = serializers.FloatField(help_text="Its standard uncertainty, millionths per kelvin.")
    source = serializers.CharField(max_length=300)  # type: ignore[assignment]
    mark = serializers.CharField(read_only=True, help_text="Whose figures these are.")


class GrowthCoefficientFilters(Filters):
    site = ByRoot("site")
    material = filters.CharFilter()

    class Meta:
        model = GrowthCoefficient
        fields: list[str] = []


class GrowthCoefficientViewSet(LoadsStarters, KeptHistory, CreateRoots, ChangeRoots, RemoveRoots, RootViewSet):
    """Thermal expansion of support materials. Surveys are corrected by the row of the site's support material."""

    noun_class = GrowthCoefficient
    serializer_class = GrowthCoefficientSerializer
    filterset_class = GrowthCoefficientFilters
    ordering = ("material",)

    def make(self, **given: Any) -> GrowthCoefficient:
        return growth.write_growth_coefficient(**given)

    def change(self, root: GrowthCoefficient, expected: int | None, **given: Any) -> GrowthCoefficient:
        return growth.change_growth_coefficient(row=root, expected=expected, **given)

    def remove(self, root: GrowthCoefficient) -> None:
        growth.remove_growth_coefficient(row=root)

    def load(self, site: Site) -> list[GrowthCoefficient]:
        return starters.load_growth_coefficients(site=site)
