"""In service, out of it, uncoupled: what a train was and when, below the train's own address."""

from typing import Any
from uuid import UUID

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from plant.api import etags
from plant.api.acting import acting, answered
from plant.api.fields import NounSerializer
from plant.models import ServiceSpell, Train
from plant.refusals import Missing
from plant.selectors.service import spells_of
from plant.services import service

IF_MATCH = OpenApiParameter(
    "If-Match", str, OpenApiParameter.HEADER, required=True, description="The ETag of the train that was read."
)


class SpellSerializer(NounSerializer):
    """One spell as it is answered, and as it is corrected."""

    fixed = ("id",)

    id = serializers.UUIDField(source="uuid", read_only=True)
    state = serializers.ChoiceField(choices=Train.Service.choices)
    from_at = serializers.DateTimeField(allow_null=True, help_text="Null: since before the record began.")
    until_at = serializers.DateTimeField(read_only=True, allow_null=True, help_text="Null: it still lasts.")
    reason = serializers.CharField(max_length=200, allow_blank=True, required=False)
    by = serializers.SerializerMethodField(help_text="Who said so.")

    def get_by(self, spell: ServiceSpell) -> str | None:
        return str(spell.by) if spell.by is not None else None


class SetServiceSerializer(NounSerializer):
    state = serializers.ChoiceField(choices=Train.Service.choices)
    at = serializers.DateTimeField(required=False, help_text="Since when; now, if not said. Not in the future.")
    reason = serializers.CharField(max_length=200, allow_blank=True, required=False)


class ServiceOfTrains:
    """Part of the view of trains."""

    @extend_schema(responses={200: SpellSerializer(many=True)})
    @action(detail=True, url_path="service", serializer_class=SpellSerializer, ordering=("-pk",))
    def service(self: Any, request: Request, id: Any) -> Response:
        """In service, out of it or uncoupled: every spell, the one said last first."""
        rows = self.paginate_queryset(spells_of(self.get_object()))
        return self.get_paginated_response(SpellSerializer(rows, many=True).data)

    @extend_schema(request=SetServiceSerializer, responses={201: SpellSerializer})
    @service.mapping.post
    def set_service(self: Any, request: Request, id: Any) -> Response:
        """Take the train out of service, uncouple it, or bring it back. If-Match is honoured."""
        with acting(request) as unit:
            train = self.get_object()
            form = SetServiceSerializer(data=request.data)
            form.is_valid(raise_exception=True)
            expected = etags.expected_if_given(request, train)
            spell = service.set_service(train=train, expected=expected, **form.validated_data)
            return answered(unit, SpellSerializer(spell).data, status=201, etag=etags.etag(train))

    @extend_schema(responses={200: SpellSerializer}, parameters=[IF_MATCH])
    @action(detail=True, methods=["patch"], url_path="service/<uuid:spell>", serializer_class=SpellSerializer)
    def correct_service(self: Any, request: Request, id: Any, spell: UUID) -> Response:
        """Correct a spell, with If-Match: when it began, its state, its reason. The one before ends where it begins."""
        with acting(request) as unit:
            train = self.get_object()
            found = _spell(train, spell)
            expected = etags.expected(request, train)
            done = service.correct_spell(spell=found, expected=expected, **self.given(request, found))
            return answered(unit, SpellSerializer(done).data, etag=etags.etag(done.train))

    @extend_schema(responses={204: None}, parameters=[IF_MATCH])
    @correct_service.mapping.delete
    def remove_service(self: Any, request: Request, id: Any, spell: UUID) -> Response:
        """Take back a spell that never was, with If-Match: the one before goes on in its place."""
        with acting(request) as unit:
            train = self.get_object()
            service.remove_spell(spell=_spell(train, spell), expected=etags.expected(request, train))
            return answered(unit, None, status=204)


def _spell(train: Train, uuid: UUID) -> ServiceSpell:
    service.require(train)
    found = ServiceSpell.objects.filter(train=train, uuid=uuid).select_related("train__site", "by").first()
    if found is None:
        raise Missing()
    return found
