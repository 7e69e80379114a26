"""Limit changes: read by everybody of the site, decided by somebody who did not propose them."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from couplings.api.sheet_acts import DecisionSerializer, LimitChangeSerializer
from couplings.models import LimitChange
from couplings.selectors.limit_changes import limit_changes
from couplings.services.limit_changes import approve_limit_change, turn_down_limit_change
from plant.api.filters import ByRoot, Filters, filters
from plant.api.views import RootViewSet


class LimitChangeFilters(Filters):
    site = ByRoot("site")
    data_sheet = ByRoot("sheet_version__sheet")
    decision = filters.ChoiceFilter(choices=LimitChange.Decision.choices)
    change_number = filters.CharFilter()

    class Meta:
        model = LimitChange
        fields: list[str] = []


class LimitChangeViewSet(RootViewSet):
    """Versions whose limits are not those before: why, from when, and who approved that. Proposed by publishing."""

    noun_class = LimitChange
    serializer_class = LimitChangeSerializer
    filterset_class = LimitChangeFilters
    ordering = ("proposed_at",)

    def related(self, queryset: Any) -> Any:
        return limit_changes(queryset)

    @extend_schema(responses={200: LimitChangeSerializer})
    @action(detail=True, methods=["post"], serializer_class=DecisionSerializer)
    def approve(self, request: Request, id: Any) -> Response:
        """Approve it; not by whoever proposed it. If-Match is honoured."""
        return self.act(request, lambda change, **given: approve_limit_change(change=change, **given))

    @extend_schema(responses={200: LimitChangeSerializer})
    @action(detail=True, methods=["post"], url_path="turn-down", serializer_class=DecisionSerializer)
    def turn_down(self, request: Request, id: Any) -> Response:
        """Turn it down with the reason; not by whoever proposed it. If-Match is honoured."""
        return self.act(request, lambda change, **given: turn_down_limit_change(change=change, **given))
