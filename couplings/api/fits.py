"""What is physically at couplings, and the wearing elements in it."""

from typing import Any

from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from couplings.api.naming import named
from couplings.models import Coupling, DataSheet, Element, Fit, SheetVersion
from couplings.services import fits
from plant.api.bulk import CreateMany
from plant.api.fields import NounSerializer, QuantityField, RootField, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.views import ChangeRoots, CreateRoots, RootViewSet
from plant.refusals import Refused


class FitSerializer(NounSerializer):
    fixed = ("id", "coupling", "fitted_on")

    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField(read_only=True)
    coupling = RootField(Coupling)
    data_sheet = RootField(DataSheet, source="sheet_version.sheet")
    data_sheet_version = serializers.IntegerField(source="sheet_version.number", min_value=1)
    serial = serializers.CharField(max_length=60, allow_blank=True, required=False)
    match_marks = serializers.CharField(max_length=120, allow_blank=True, required=False)
    dbse = QuantityField(
        source="dbse_mm",
        kind="size",
        required=False,
        allow_null=True,
        help_text="Distance between shaft ends as last left; null: the data sheet's.",
    )
    fitted_on = serializers.DateField()
    removed_on = serializers.DateField(read_only=True, allow_null=True)


class RemovalSerializer(NounSerializer):
    removed_on = serializers.DateField()


class FitFilters(Filters):
    site = ByRoot("site")
    coupling = ByRoot("coupling")
    serial = filters.CharFilter()
    open = filters.BooleanFilter(field_name="removed_on", lookup_expr="isnull")

    class Meta:
        model = Fit
        fields: list[str] = []


class FitViewSet(CreateRoots, ChangeRoots, CreateMany, RootViewSet):
    """What was put into a place on a day, until it was removed. Moving it closes one fit and opens another."""

    noun_class = Fit
    serializer_class = FitSerializer
    filterset_class = FitFilters
    ordering = ("fitted_on",)

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("coupling", "sheet_version__sheet")

    def make(self, **given: Any) -> Fit:
        with named(_outside):
            return fits.install_fit(**given | {"sheet_version": _version(**given["sheet_version"])})

    def change(self, root: Fit, expected: int | None, **given: Any) -> Fit:
        present = root.sheet_version
        with named(_outside):
            if said := given.pop("sheet_version", None):
                version = _version(said.get("sheet", present.sheet), said.get("number", present.number))
                # What was read may be sent back; only another version is adopted.
                given |= {"sheet_version": version} if version != present else {}
            return fits.change_fit(fit=root, expected=expected, **given)

    @action(detail=True, methods=["post"], serializer_class=RemovalSerializer)
    def remove(self, request: Request, id: Any) -> Response:
        """Close the fit; the element in it leaves with it. If-Match is honoured."""
        return self.act(request, lambda fit, **given: fits.remove_fit(fit=fit, **given))


class ElementSerializer(NounSerializer):
    # First the two that speak of the element in place before: errors about it belong beside them.
    replaced_because = serializers.CharField(
        source="removal_reason",
        max_length=200,
        required=False,
        write_only=True,
        help_text="Why the element in place was taken out; asked where there is one.",
    )
    replaced_went_to = serializers.CharField(source="went_to", max_length=120, required=False, write_only=True)
    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField(read_only=True)
    fit = RootField(Fit)
    part_number = serializers.CharField(max_length=60)
    batch = serializers.CharField(max_length=60, allow_blank=True, required=False)
    cured_on = serializers.DateField(required=False, allow_null=True)
    fitted_on = serializers.DateField()
    removed_on = serializers.DateField(read_only=True, allow_null=True)
    removal_reason = serializers.CharField(read_only=True)
    went_to = serializers.CharField(read_only=True)


class ElementFilters(Filters):
    site = ByRoot("site")
    fit = ByRoot("fit")
    coupling = ByRoot("fit__coupling")
    part_number = filters.CharFilter()
    open = filters.BooleanFilter(field_name="removed_on", lookup_expr="isnull")

    class Meta:
        model = Element
        fields: list[str] = []


class ElementViewSet(CreateRoots, CreateMany, RootViewSet):
    """The wearing part in a fit. A new one closes the one in place, with the reason it was taken out."""

    noun_class = Element
    serializer_class = ElementSerializer
    filterset_class = ElementFilters
    ordering = ("fitted_on",)

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("fit")

    def make(self, **given: Any) -> Element:
        return fits.fit_element(**given)


def _outside(field: str) -> str:
    """A version has two names outside, its sheet and its number: errors about it stand beside the number."""
    return "data_sheet_version" if field == "sheet_version" else field


def _version(sheet: DataSheet, number: int) -> SheetVersion:
    version = SheetVersion.objects.select_related("sheet").filter(sheet=sheet, number=number).first()
    if version is None:
        raise Refused({"sheet_version": f"{sheet.designation} has no version {number}."})
    return version
