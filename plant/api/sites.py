"""Sites and areas."""

from typing import Any

from rest_framework import serializers

from plant.api.fields import ExternalRefField, NounSerializer, QuantityField, RootField, SiteField
from plant.api.filters import ByExternalRef, ByRoot, Filters, filters
from plant.api.views import ChangeRoots, CreateRoots, RemoveRoots, RootViewSet
from plant.models import Area, Site
from plant.services import register


class SiteSerializer(NounSerializer):
    fixed = ("id",)

    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    name = serializers.CharField(max_length=80)
    zone = serializers.CharField(max_length=60, help_text="Time zone, such as Europe/Oslo.", required=False)
    units = serializers.ChoiceField(choices=Site.Units.choices, required=False)
    currency = serializers.RegexField(r"^[A-Z]{3}$", required=False, help_text="Three letters.")
    labour_rate = serializers.FloatField(
        allow_null=True, required=False, help_text="Cost of one crew hour, in the site's currency."
    )
    element_cost = serializers.FloatField(
        allow_null=True, required=False, help_text="Usual price of one element, in the site's currency."
    )
    failure_cost = serializers.FloatField(
        allow_null=True, required=False,
        help_text="Of one failure of an element in service, beside the element and the hours to fit it.",
    )  # fmt: skip
    down_cost = serializers.FloatField(
        allow_null=True, required=False, help_text="Of a train that stands, for an hour."
    )
    crew_hours_week = serializers.FloatField(
        allow_null=True, required=False, help_text="Crew hours there are for checks in a week, all hands together."
    )
    dates_owner = serializers.ChoiceField(choices=Site.DatesOwner.choices, required=False)
    confidence = serializers.FloatField(
        required=False, help_text="Probability asked for before “in tolerance” is said, 0.5 to 0.999."
    )
    closure_limit = QuantityField(source="closure_limit_mm", kind="gap", required=False)
    reading_uncertainty = QuantityField(source="reading_u_mm", kind="gap", required=False)
    engagement = QuantityField(source="engagement_share", kind="share", required=False)
    shim_stock = QuantityField(source="shim_stock_mm", kind="gap", required=False)
    shims_most = serializers.IntegerField(required=False, help_text="Shims under one foot, at most.")
    soft_foot_limit = QuantityField(source="soft_foot_limit_mm", kind="gap", required=False)
    pipe_strain_limit = QuantityField(source="pipe_strain_limit_mm", kind="gap", required=False)
    shaft_run_out_table = serializers.ChoiceField(choices=Site.RunOutTable.choices, required=False)
    hub_run_out_table = serializers.ChoiceField(choices=Site.RunOutTable.choices, required=False)
    reference_temperature = QuantityField(
        source="reference_degc",
        kind="temperature",
        required=False,
        help_text="Of all supports; surveys are corrected to it.",
    )
    support_material = serializers.ChoiceField(
        choices=Site.SupportMaterial.choices, required=False, help_text="Of frames and pedestals."
    )


class SiteViewSet(CreateRoots, ChangeRoots, RootViewSet):
    """Where things stand, in which time zone and units."""

    noun_class = Site
    serializer_class = SiteSerializer
    ordering = ("name",)
    delta = False

    def make(self, **given: Any) -> Site:
        return register.register_site(**given)

    def change(self, root: Site, expected: int | None, **given: Any) -> Site:
        return register.change_site(site=root, expected=expected, **given)


class AreaSerializer(NounSerializer):
    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField()
    name = serializers.CharField(max_length=80)
    parent = RootField(Area, allow_null=True, required=False)  # type: ignore[assignment]
    external_ref = ExternalRefField()


class AreaFilters(Filters):
    site = ByRoot("site")
    parent = ByRoot("parent")
    name = filters.CharFilter()
    external_ref = ByExternalRef()

    class Meta:
        model = Area
        fields: list[str] = []


class AreaViewSet(CreateRoots, ChangeRoots, RemoveRoots, RootViewSet):
    """Parts of a site, one within another."""

    noun_class = Area
    serializer_class = AreaSerializer
    filterset_class = AreaFilters
    ordering = ("name",)

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("parent")

    def make(self, **given: Any) -> Area:
        return register.register_area(**given)

    def change(self, root: Area, expected: int | None, **given: Any) -> Area:
        return register.change_area(area=root, expected=expected, **given)

    def remove(self, root: Area) -> None:
        register.remove_area(area=root)
