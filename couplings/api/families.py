"""Families of couplings: rows for every site, addressed by their code."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from couplings.models import Family
from plant.api.paging import Pages
from plant.api.views import ApiView


class FamilySerializer(serializers.ModelSerializer):
    class Meta:
        model = Family
        fields = ["code", "name", "kind", "element_name", "ages", "lubricated", "note", "source"]


class FamilyViewSet(ApiView, GenericViewSet):
    """Ways of building a coupling: the kind decides which rows of a grade speak of it."""

    queryset = Family.objects.all()
    serializer_class = FamilySerializer
    ordering = ("name",)
    pagination_class = Pages
    parameters = frozenset({"cursor", "limit"})
    lookup_field = "code"
    lookup_value_converter = "slug"

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        rows = self.paginate_queryset(self.get_queryset())
        return self.get_paginated_response(self.get_serializer(rows, many=True).data)

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return Response(self.get_serializer(self.get_object()).data)
