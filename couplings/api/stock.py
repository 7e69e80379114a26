"""Elements in store by part, batch and cure date, and the reasons for which elements are taken out."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from couplings.engineering.pairs import OUT
from couplings.models import RemovalReason, StockLot, StockMovement
from couplings.selectors import storage_ages
from couplings.selectors.stock import lots_by_verdict
from couplings.services import starters, stock
from plant.api.bulk import CreateMany
from plant.api.fields import NounSerializer, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.kept import KeptHistory, LoadsStarters
from plant.api.views import ChangeRoots, CreateRoots, RootViewSet
from plant.models import Site
from plant.sitetime import today_at

AGE = {
    "type": ["object", "null"],
    "properties": {
        "verdict": {"type": "string"},
        "reason": {"type": "string"},
        "policy": {"type": "string"},
        "age_years": {"type": "number"},
        "initial_until": {"type": ["string", "null"], "format": "date"},
        "extended_until": {"type": ["string", "null"], "format": "date"},
        "conflicts": {"type": "array", "items": {"type": "string"}},
    },
}


class StockLotSerializer(NounSerializer):
    fixed = ("id", "site", "part_number", "batch", "cured_on")

    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField()
    part_number = serializers.CharField(max_length=60)
    batch = serializers.CharField(max_length=60, allow_blank=True, required=False)
    cured_on = serializers.DateField(required=False, allow_null=True)
    polymer = serializers.CharField(
        max_length=10, allow_blank=True, required=False, help_text="ISO 1629 letters; empty: as the data sheets say."
    )
    place = serializers.CharField(max_length=80, allow_blank=True, required=False)
    count = serializers.IntegerField(read_only=True, help_text="What the movements add up to.")
    storage = serializers.SerializerMethodField(help_text="Its age today by the site's rule; null: not known.")

    @extend_schema_field(AGE)
    def get_storage(self, lot: Any) -> dict[str, Any] | None:
        age = getattr(lot, "age", None)
        if age is None:
            return None
        return {
            "verdict": age.verdict,
            "reason": age.reason,
            "policy": age.policy,
            "age_years": round(age.age_years, 2),
            "initial_until": age.initial_until.isoformat() if age.initial_until else None,
            "extended_until": age.extended_until.isoformat() if age.extended_until else None,
            "conflicts": list(age.conflicts),
        }


class ReceiptSerializer(StockLotSerializer):
    number = serializers.IntegerField(min_value=1, max_value=100_000, write_only=True, help_text="How many came.")
    on = serializers.DateField(required=False, write_only=True, help_text="Today, if left out.")
    note = serializers.CharField(max_length=200, allow_blank=True, required=False, write_only=True)


class MovementSerializer(NounSerializer):
    kind = serializers.ChoiceField(choices=StockMovement.Kind.choices)
    number = serializers.IntegerField(
        min_value=0, max_value=100_000, help_text="How many moved; of a correction, how many were counted."
    )
    on = serializers.DateField(required=False)
    note = serializers.CharField(max_length=200, allow_blank=True, required=False)


class MovedSerializer(serializers.Serializer):
    """One movement as it stands in the record."""

    kind = serializers.CharField()
    change = serializers.IntegerField()
    count_after = serializers.IntegerField()
    on = serializers.DateField()
    at = serializers.DateTimeField()
    by = serializers.SerializerMethodField()
    element = serializers.UUIDField(source="element.uuid", allow_null=True, default=None)
    note = serializers.CharField()

    def get_by(self, movement: StockMovement) -> str | None:
        return str(movement.by) if movement.by is not None else None


class StockFilters(Filters):
    site = ByRoot("site")
    part_number = filters.CharFilter()
    batch = filters.CharFilter()
    in_store = filters.BooleanFilter(method="with_some")
    over_age = filters.BooleanFilter(method="past_their_age")

    class Meta:
        model = StockLot
        fields: list[str] = []

    def with_some(self, queryset: Any, name: str, value: bool) -> Any:
        return queryset.filter(count__gt=0) if value else queryset.filter(count=0)

    def past_their_age(self, queryset: Any, name: str, value: bool) -> Any:
        over = lots_by_verdict(list(queryset.select_related("site")), timezone.now(), OUT)
        pks = [lot.pk for lot in over]
        return queryset.filter(pk__in=pks) if value else queryset.exclude(pk__in=pks)


class StockLotViewSet(CreateRoots, ChangeRoots, CreateMany, RootViewSet):
    """Counts of elements in store. A POST receives some: into the lot of that part, batch and cure date."""

    noun_class = StockLot
    serializer_class = StockLotSerializer
    filterset_class = StockFilters
    ordering = ("part_number", "batch")

    def get_serializer_class(self) -> Any:
        return ReceiptSerializer if self.action in ("create", "bulk") else super().get_serializer_class()

    def shown(self, roots: list[Any]) -> list[Any]:
        by_site: dict[int, list[Any]] = {}
        for lot in roots:
            by_site.setdefault(lot.site_id, []).append(lot)
        for site_id, lots in by_site.items():
            for lot, age in zip(lots, storage_ages(lots, today_at(self.sites[site_id], timezone.now())), strict=True):
                lot.age = age
        return super().shown(roots)

    def make(self, **given: Any) -> StockLot:
        return stock.receive_stock(**given)

    def change(self, root: StockLot, expected: int | None, **given: Any) -> StockLot:
        return stock.change_lot(lot=root, expected=expected, **given)

    @extend_schema(responses={200: MovedSerializer(many=True)})
    @action(detail=True, serializer_class=MovedSerializer, ordering=("pk",))
    def movements(self, request: Request, id: Any) -> Response:
        """Every movement of the lot, the first one first, in pages."""
        lot = self.get_object()
        rows = self.paginate_queryset(StockMovement.objects.filter(lot=lot).select_related("by", "element"))
        return self.get_paginated_response(MovedSerializer(rows, many=True).data)

    @action(detail=True, methods=["post"], serializer_class=MovementSerializer)
    def move(self, request: Request, id: Any) -> Response:
        """Receive, issue or scrap a number of it, or correct it to what was counted. If-Match is honoured."""
        return self.act(request, lambda lot, **given: stock.move_stock(lot=lot, **given))


class RemovalReasonSerializer(NounSerializer):
    fixed = ("id", "site", "code")

    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField()
    code = serializers.SlugField(max_length=30)
    title = serializers.CharField(max_length=80)
    failure = serializers.BooleanField(
        required=False, help_text="True: its life ended by itself. False: it might have run on."
    )
    in_use = serializers.BooleanField(required=False)
    source = serializers.CharField(max_length=200, allow_blank=True, required=False)  # type: ignore[assignment]


class RemovalReasonFilters(Filters):
    site = ByRoot("site")
    in_use = filters.BooleanFilter()

    class Meta:
        model = RemovalReason
        fields: list[str] = []


class RemovalReasonViewSet(LoadsStarters, KeptHistory, CreateRoots, ChangeRoots, RootViewSet):
    """Why elements are taken out, in the site's own words. Lives are learned from those that are failures."""

    noun_class = RemovalReason
    serializer_class = RemovalReasonSerializer
    filterset_class = RemovalReasonFilters
    ordering = ("code",)

    def make(self, **given: Any) -> RemovalReason:
        return stock.write_removal_reason(**given)

    def change(self, root: RemovalReason, expected: int | None, **given: Any) -> RemovalReason:
        return stock.change_removal_reason(reason=root, expected=expected, **given)

    def load(self, site: Site) -> list[RemovalReason]:
        return starters.load_removal_reasons(site=site)
