"""What is physically at couplings, and the wearing elements in it."""

from typing import Any

from django.db.models import Prefetch
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from couplings.api.hubs import HubHalfSerializer, SwapSerializer
from couplings.api.naming import named
from couplings.models import Coupling, DataSheet, Element, Fit, HubHalf, RemovalReason, SheetVersion, StockLot
from couplings.selectors import whereabouts
from couplings.services import fits, hubs, moving
from plant.api import etags
from plant.api.acting import acting
from plant.api.bulk import CreateMany
from plant.api.fields import NounSerializer, QuantityField, RootField, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.problems import BadQuery
from plant.api.views import ANYWHERE, ChangeRoots, CreateRoots, RootViewSet
from plant.refusals import Refused

WENT = Element.Went.choices


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
    spacer_serial = serializers.CharField(max_length=60, allow_blank=True, required=False)
    spacer_position = serializers.CharField(
        max_length=40, allow_blank=True, required=False, help_text="Which mounting holes or shims it stands on."
    )
    bolt_set = serializers.CharField(
        max_length=60, allow_blank=True, required=False, help_text="Mark of the numbered or weighed set."
    )
    bolt_batch = serializers.CharField(max_length=60, allow_blank=True, required=False)
    bolts_fitted_on = serializers.DateField(required=False, allow_null=True)
    bolts_reused = serializers.IntegerField(
        required=False, allow_null=True, min_value=0, max_value=1000, help_text="How often used again; 0 is new."
    )
    hubs = HubHalfSerializer(
        source="hubs_in_place", many=True, required=False, help_text="In a change: the sides named are mended."
    )
    fitted_on = serializers.DateField()
    removed_on = serializers.DateField(read_only=True, allow_null=True)
    removal_reason = serializers.CharField(read_only=True)
    went_to = serializers.CharField(read_only=True)
    moved_from = RootField(read_only=True, allow_null=True, help_text="The fit it was until it was moved here.")


class RemovalSerializer(NounSerializer):
    removed_on = serializers.DateField()
    removal_reason = serializers.CharField(max_length=200, required=False, allow_blank=True)
    went_to = serializers.CharField(max_length=120, required=False, allow_blank=True)


class MoveSerializer(NounSerializer):
    to = RootField(Coupling)
    on = serializers.DateField()
    reason = serializers.CharField(max_length=200, required=False, allow_blank=True)
    match_marks = serializers.CharField(max_length=120, required=False, allow_blank=True)
    with_element = serializers.BooleanField(required=False, help_text="False: the element stays out.")


class StaySerializer(serializers.Serializer):
    """One stay of a numbered part."""

    what = serializers.CharField()
    fit = serializers.UUIDField(source="fit.uuid")
    coupling = serializers.UUIDField(source="fit.coupling.uuid")
    coupling_tag = serializers.CharField(source="fit.coupling.tag")
    since = serializers.DateField()
    until = serializers.DateField(allow_null=True)
    reason = serializers.CharField()
    went_to = serializers.CharField()


class StaysSerializer(serializers.Serializer):
    results = StaySerializer(many=True)


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
        joined = queryset.select_related("coupling", "sheet_version__sheet", "moved_from")
        return joined.prefetch_related(Prefetch("hubs", HubHalf.objects.select_related("unit")))

    def make(self, **given: Any) -> Fit:
        given |= {"hubs": given.pop("hubs_in_place", ())}
        with named(_outside):
            return fits.install_fit(**given | {"sheet_version": _version(**given["sheet_version"])})

    def change(self, root: Fit, expected: int | None, **given: Any) -> Fit:
        present = root.sheet_version
        given |= {"hubs": given.pop("hubs_in_place", ())}
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

    @extend_schema(responses={201: FitSerializer})
    @action(detail=True, methods=["post"], serializer_class=MoveSerializer)
    def move(self, request: Request, id: Any) -> Response:
        """Move it to another place: this fit is closed, the answer is the one opened there. If-Match is honoured."""
        with acting(request) as unit:
            fit = self.get_object()
            expected = etags.expected_if_given(request, fit)
            moved = moving.move_fit(fit=fit, expected=expected, **self.given(request))
            return self.answer(unit, moved, 201)

    @action(detail=True, methods=["post"], url_path="swap-hub", serializer_class=SwapSerializer)
    def swap_hub(self, request: Request, id: Any) -> Response:
        """Another hub half on one side, alone or with a machine that brought it. If-Match is honoured."""
        return self.act(request, lambda fit, **given: hubs.swap_hub(fit=fit, **given))

    @extend_schema(
        parameters=[
            OpenApiParameter("site", OpenApiTypes.UUID, required=True),
            OpenApiParameter("serial", str, required=True),
        ],
        filters=False,
        responses={200: StaysSerializer},
    )
    @action(detail=False, filterset_class=None, pagination_class=None)
    def whereabouts(self, request: Request) -> Response:
        """Everywhere one serial number was: of a coupling, a spacer, a hub half or a bolt set, the first stay first."""
        serial = request.query_params.get("serial", "").strip()
        site = next((one for one in self.sites.values() if str(one.uuid) == request.query_params.get("site")), None)
        errors = {} if serial else {"serial": "Say which serial number."}
        if site is None:
            errors["site"] = "Name a site you may read, by its id."
        if site is None or errors:
            raise BadQuery(errors)
        return Response({"results": StaySerializer(whereabouts(site, serial, self.person), many=True).data})

    def known_parameters(self) -> frozenset[str]:
        return ANYWHERE | {"site", "serial"} if self.action == "whereabouts" else super().known_parameters()


class ElementSerializer(NounSerializer):
    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField(read_only=True)
    fit = RootField(Fit)
    lot = RootField(
        StockLot, required=False, allow_null=True, help_text="Taken from this lot of the stores, of which it is one."
    )
    part_number = serializers.CharField(max_length=60, required=False, help_text="Left out where a lot says it.")
    batch = serializers.CharField(max_length=60, allow_blank=True, required=False)
    cured_on = serializers.DateField(required=False, allow_null=True)
    fitted_on = serializers.DateField()
    removed_on = serializers.DateField(read_only=True, allow_null=True)
    removal_code: Any = RootField(read_only=True, allow_null=True)
    removal_reason: Any = serializers.CharField(read_only=True)
    removal_finding: Any = serializers.CharField(read_only=True)
    went: Any = serializers.CharField(read_only=True)
    went_to: Any = serializers.CharField(read_only=True)
    continues = RootField(read_only=True, allow_null=True, help_text="The same part before it was moved here.")


class NewElementSerializer(ElementSerializer):
    """Named `replaced_`: what is said of the element in place before."""

    replaced_because = serializers.CharField(
        source="removal_reason",
        max_length=200,
        required=False,
        write_only=True,
        help_text="Why the element in place was taken out; asked where there is one.",
    )
    replaced_code = RootField(
        RemovalReason, source="removal_code", required=False, write_only=True, help_text="The site's reason for it."
    )
    replaced_finding = serializers.CharField(
        source="removal_finding", max_length=300, required=False, write_only=True, help_text="What was seen on it."
    )
    replaced_went = serializers.ChoiceField(source="went", choices=WENT, required=False, write_only=True)
    replaced_went_to = serializers.CharField(source="went_to", max_length=120, required=False, write_only=True)

    def get_fields(self) -> dict[str, Any]:
        # Errors about the one in place belong beside these, so they come before the columns they speak of.
        found = super().get_fields()
        first = [name for name in found if name.startswith("replaced_")]
        return {name: found[name] for name in [*first, *(name for name in found if name not in first)]}


class ElementChangeSerializer(ElementSerializer):
    fixed = ("id", "fit", "lot", "part_number", "cured_on", "fitted_on")

    removal_code = RootField(RemovalReason, required=False, allow_null=True)
    removal_reason = serializers.CharField(max_length=200, required=False, allow_blank=True)
    removal_finding = serializers.CharField(max_length=300, required=False, allow_blank=True)
    went = serializers.ChoiceField(choices=WENT, required=False, allow_blank=True)
    went_to = serializers.CharField(max_length=120, required=False, allow_blank=True)


class TakenOutSerializer(NounSerializer):
    removed_on = serializers.DateField()
    removal_code = RootField(RemovalReason, required=False, allow_null=True)
    removal_reason = serializers.CharField(max_length=200, required=False, allow_blank=True)
    removal_finding = serializers.CharField(max_length=300, required=False, allow_blank=True)
    went = serializers.ChoiceField(choices=WENT, required=False, allow_blank=True)
    went_to = serializers.CharField(max_length=120, required=False, allow_blank=True)


class ElementFilters(Filters):
    site = ByRoot("site")
    fit = ByRoot("fit")
    coupling = ByRoot("fit__coupling")
    part_number = filters.CharFilter()
    lot = ByRoot("lot")
    open = filters.BooleanFilter(field_name="removed_on", lookup_expr="isnull")

    class Meta:
        model = Element
        fields: list[str] = []


class ElementViewSet(CreateRoots, ChangeRoots, CreateMany, RootViewSet):
    """The wearing part in a fit. A new one closes the one in place, with the reason it was taken out."""

    noun_class = Element
    serializer_class = ElementSerializer
    filterset_class = ElementFilters
    ordering = ("fitted_on",)

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("fit", "removal_code", "lot", "continues")

    def get_serializer_class(self) -> Any:
        forms: dict[str, Any] = {
            "create": NewElementSerializer,
            "bulk": NewElementSerializer,
            "partial_update": ElementChangeSerializer,
        }
        return forms.get(self.action or "") or super().get_serializer_class()

    def make(self, **given: Any) -> Element:
        return fits.fit_element(**given)

    def change(self, root: Element, expected: int | None, **given: Any) -> Element:
        return fits.change_element(element=root, expected=expected, **given)

    @action(detail=True, methods=["post"], url_path="take-out", serializer_class=TakenOutSerializer)
    def take_out(self, request: Request, id: Any) -> Response:
        """Take it out and leave the place empty: why, what was found on it, where it went. If-Match is honoured."""
        return self.act(request, lambda element, **given: fits.remove_element(element=element, **given))


def _outside(field: str) -> str:
    """A version has two names outside, its sheet and its number: errors about it stand beside the number."""
    return "data_sheet_version" if field == "sheet_version" else field


def _version(sheet: DataSheet, number: int) -> SheetVersion:
    version = SheetVersion.objects.select_related("sheet").filter(sheet=sheet, number=number).first()
    if version is None:
        raise Refused({"sheet_version": f"{sheet.designation} has no version {number}."})
    return version
