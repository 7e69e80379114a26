"""What to look for on a coupling, the numbers a data sheet sets on it, and storage rules for elements."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from couplings.api.stated import quantity_schema
from couplings.models import StorageRule, WearCode
from couplings.services import starters, storage
from plant import units
from plant.api.fields import NounSerializer, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.kept import KeptHistory, LoadsStarters
from plant.api.paging import Pages
from plant.api.views import ApiView, ChangeRoots, CreateRoots, RemoveRoots, RootViewSet
from plant.models import Site

KINDS = tuple(WearCode.Kind.values)


@extend_schema_field(quantity_schema(KINDS))
class NumberField(serializers.Field):
    """A number with its unit; of which kind it is, the code beside it says."""

    def to_internal_value(self, data: Any) -> Any:
        return data

    def to_representation(self, value: Any) -> Any:
        return value


class WearLimitSerializer(NounSerializer):
    code = serializers.SlugRelatedField(slug_field="code", queryset=WearCode.objects.all())
    limit = NumberField(help_text='{"value", "unit"} of the kind the code has: from here on it is worn out.')

    def to_internal_value(self, data: Any) -> Any:
        given = super().to_internal_value(data)
        code = given["code"]
        if not code.kind:
            message = f"“{code.title}” has grades only: no number can be limited."
            raise serializers.ValidationError({"code": [serializers.ErrorDetail(message, code="no-number")]})
        try:
            given["limit"] = units.parse(given["limit"], code.kind)
        except units.UnitError as error:
            raise serializers.ValidationError(
                {"limit": [serializers.ErrorDetail(str(error), code="quantity")]}
            ) from None
        return given

    def to_representation(self, row: Any) -> dict[str, Any]:
        system = self.context.get("system", units.METRIC)
        return {"code": row.code.code, "limit": units.quantity(row.limit, row.code.kind, system)}


class WearCodeSerializer(serializers.ModelSerializer):
    families: Any = serializers.SlugRelatedField(slug_field="code", many=True, read_only=True)
    grades = serializers.ListField(
        source="words", read_only=True, child=serializers.CharField(allow_null=True), help_text="Words of 0 to 4."
    )

    class Meta:
        model = WearCode
        fields = ["code", "families", "title", "grades", "number", "kind", "fracture", "of_element", "source"]


class WearCodeViewSet(ApiView, GenericViewSet):
    """What to look for on which families, and what each grade means: 3 raises a flag, 4 says do not run."""

    queryset = WearCode.objects.prefetch_related("families")
    serializer_class = WearCodeSerializer
    ordering = ("id",)
    pagination_class = Pages
    parameters = frozenset({"cursor", "limit"})
    lookup_field = "code"
    lookup_value_converter = "slug"

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        rows = self.paginate_queryset(self.get_queryset())
        return self.get_paginated_response(self.get_serializer(rows, many=True).data)

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return Response(self.get_serializer(self.get_object()).data)


class StorageRuleSerializer(NounSerializer):
    fixed = ("id", "site", "polymer", "policy")

    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField()
    polymer = serializers.CharField(max_length=10, help_text="ISO 1629 letters, such as NBR.")
    policy = serializers.SlugField(max_length=40, help_text="Such as iso-2230.")
    group = serializers.CharField(max_length=10, allow_blank=True, required=False)
    initial_years = serializers.FloatField(required=False, allow_null=True, help_text="Null: without limit.")
    extension_years = serializers.FloatField(required=False, help_text="After an inspection.")
    in_use = serializers.BooleanField(required=False, help_text="The one this site goes by for the polymer.")
    source = serializers.CharField(max_length=300)  # type: ignore[assignment]
    mark = serializers.CharField(read_only=True, help_text="Whose figures these are.")


class StorageRuleFilters(Filters):
    site = ByRoot("site")
    polymer = filters.CharFilter()
    in_use = filters.BooleanFilter()

    class Meta:
        model = StorageRule
        fields: list[str] = []


class StorageRuleViewSet(LoadsStarters, KeptHistory, CreateRoots, ChangeRoots, RemoveRoots, RootViewSet):
    """How long parts of a polymer may lie in store. Published policies differ; one per polymer is in use."""

    noun_class = StorageRule
    serializer_class = StorageRuleSerializer
    filterset_class = StorageRuleFilters
    ordering = ("polymer", "policy")

    def make(self, **given: Any) -> StorageRule:
        return storage.write_storage_rule(**given)

    def change(self, root: StorageRule, expected: int | None, **given: Any) -> StorageRule:
        return storage.change_storage_rule(rule=root, expected=expected, **given)

    def remove(self, root: StorageRule) -> None:
        storage.remove_storage_rule(rule=root)

    def load(self, site: Site) -> list[StorageRule]:
        return starters.load_storage_rules(site=site)
