"""Filters by name that several nouns share."""

from typing import Any

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_standardized_errors.formatter import flatten_errors
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request

from plant.api.problems import BadQuery
from plant.models import ExternalRef


class ByName(filters.DjangoFilterBackend):
    """Filters by name; a value that cannot be meant is refused as a parameter, not as a field of a body."""

    def filter_queryset(self, request: Request, queryset: QuerySet[Any], view: Any) -> QuerySet[Any]:
        try:
            return super().filter_queryset(request, queryset, view)
        except ValidationError as refused:
            errors = {error.attr: error.detail for error in flatten_errors(refused.detail)}
            raise BadQuery({name or "": str(text) for name, text in errors.items()}) from None


class ByRoot(filters.UUIDFilter):
    """Another noun by its UUID: `?area=<uuid>`."""

    def __init__(self, field_name: str, **options: Any) -> None:
        super().__init__(field_name=f"{field_name}__uuid", **options)


class ByExternalRef(filters.CharFilter):
    """The key of another system: `?external_ref=orders:4711`."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("label", "system:key, such as orders:4711")
        super().__init__(**options)

    def filter(self, queryset: QuerySet[Any], value: str) -> QuerySet[Any]:
        if not value:
            return queryset
        system, colon, key = value.partition(":")
        if not colon or not system or not key:
            raise BadQuery({"external_ref": "Write system:key, such as orders:4711."})
        noun = queryset.model._meta.model_name
        refs = ExternalRef.objects.filter(noun=noun, system=system, key=key)
        return queryset.filter(uuid__in=refs.values("subject"))


class Filters(filters.FilterSet):
    """Base of a noun's filters; a value that cannot be meant is refused, not ignored."""
