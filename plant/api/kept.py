"""What a noun was before, and starters loaded as an act, for nouns that a site keeps as tables."""

from collections.abc import Iterable
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from plant.api.acting import acting, answered
from plant.api.fields import NounSerializer, SiteField
from plant.selectors.history import history_of


class ChangeSerializer(serializers.Serializer):
    """One field that changed; figures as they are kept, in the base unit of the column."""

    field = serializers.CharField()
    before = serializers.JSONField(allow_null=True)
    after = serializers.JSONField(allow_null=True)


class KeptSerializer(serializers.Serializer):
    at = serializers.DateTimeField()
    by = serializers.CharField(allow_null=True, help_text="Who acted; null is the program itself.")
    done = serializers.ChoiceField(choices=["made", "changed", "removed"])
    version = serializers.IntegerField()
    changes = ChangeSerializer(many=True)


class HistorySerializer(serializers.Serializer):
    results = KeptSerializer(many=True)


class KeptHistory:
    """GET on `history/`: who changed what, the latest first."""

    @extend_schema(request=None, responses={200: HistorySerializer})
    @action(detail=True, methods=["get"], url_path="history")
    def history(self: Any, request: Request, **kwargs: Any) -> Response:
        """Who changed what and when, the latest first; figures as they are kept."""
        return Response(HistorySerializer({"results": history_of(self.get_object())}).data)


class OfSiteSerializer(NounSerializer):
    site = SiteField()


class LoadedSerializer(serializers.Serializer):
    loaded = serializers.IntegerField(help_text="How many rows the site did not have.")


class LoadsStarters:
    """POST on `load-starters/`: rows that a site does not have yet. `load(site)` is the service."""

    def load(self, site: Any) -> Iterable[Any]:
        raise NotImplementedError

    @extend_schema(request=OfSiteSerializer, responses={200: LoadedSerializer})
    @action(detail=False, methods=["post"], url_path="load-starters", serializer_class=OfSiteSerializer)
    def load_starters(self: Any, request: Request) -> Response:
        """Load the starter rows that this site does not have; what it has keeps its wording."""
        with acting(request) as unit:
            return answered(unit, {"loaded": len(list(self.load(**self.given(request))))})
