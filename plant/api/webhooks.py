"""Webhooks: addresses that are told a site's events, their log, and sending again."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from plant.api import etags
from plant.api.acting import acting, answered
from plant.api.fields import NounSerializer, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.views import ChangeRoots, CreateRoots, RemoveRoots, RootViewSet
from plant.models import Delivery, Webhook
from plant.refusals import Missing
from plant.selectors.webhooks import deliveries_of, webhooks_kept_by, with_counts
from plant.services import webhooks as services


class WebhookSerializer(NounSerializer):
    fixed = ("id", "site")

    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField()
    name = serializers.CharField(max_length=80)
    url = serializers.CharField(max_length=500, help_text="https; nothing inside a network unless the host is allowed.")
    kinds = serializers.ListField(
        child=serializers.CharField(max_length=40), required=False, help_text="Kinds of event; none: all."
    )
    active = serializers.BooleanField(required=False)
    rests_until = serializers.DateTimeField(read_only=True, allow_null=True, help_text="It failed and is left alone.")
    stopped_why = serializers.CharField(read_only=True)
    waiting = serializers.IntegerField(read_only=True, default=0)
    set_aside = serializers.IntegerField(read_only=True, default=0)


class NewWebhookSerializer(WebhookSerializer):
    secret = serializers.CharField(read_only=True, help_text="Shown this once. Signs after Standard Webhooks.")


class SecretSerializer(NounSerializer):
    secret = serializers.CharField(read_only=True)


class NothingSerializer(NounSerializer):
    pass


class TrySerializer(NounSerializer):
    at = serializers.DateTimeField()
    status = serializers.IntegerField(allow_null=True)
    said = serializers.CharField()
    milliseconds = serializers.IntegerField()


class DeliverySerializer(NounSerializer):
    id = serializers.IntegerField(read_only=True, help_text="Its number in the log, to send it again by.")
    event = serializers.SerializerMethodField(help_text="Number of the event; null for a test.")
    kind = serializers.SerializerMethodField()
    lane = serializers.CharField()
    state = serializers.ChoiceField(choices=Delivery.State.choices)
    attempts = serializers.IntegerField()
    next_at = serializers.DateTimeField()
    settled_at = serializers.DateTimeField(allow_null=True)
    tries = TrySerializer(many=True)

    def get_event(self, row: Delivery) -> int | None:
        return row.event.no if row.event is not None else None

    def get_kind(self, row: Delivery) -> str:
        return row.event.kind if row.event is not None else "webhook.test"


class ReplaySerializer(NounSerializer):
    delivery = serializers.IntegerField(required=False, min_value=1, help_text="One row of the log.")
    from_no = serializers.IntegerField(required=False, min_value=0, help_text="Or every event from this number on.")

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if len(given) != 1:
            raise serializers.ValidationError({"delivery": ["Name one delivery, or from_no, and not both."]})
        return given


class ReplayedSerializer(NounSerializer):
    replayed = serializers.IntegerField(read_only=True)


class WebhookFilters(Filters):
    site = ByRoot("site")
    active = filters.BooleanFilter()

    class Meta:
        model = Webhook
        fields: list[str] = []


class WebhookViewSet(CreateRoots, ChangeRoots, RemoveRoots, RootViewSet):
    """Addresses told what happens at a site, kept by its keepers. Secrets stand in the answer that made them only."""

    noun_class = Webhook
    serializer_class = WebhookSerializer
    filterset_class = WebhookFilters
    ordering = ("name",)
    delta = False

    def get_queryset(self) -> Any:
        if getattr(self, "swagger_fake_view", False):
            return Webhook.objects.none()
        return with_counts(webhooks_kept_by(self.person))

    @extend_schema(responses={201: NewWebhookSerializer})
    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Make a webhook. Its secret is in this answer and nowhere else, so no Idempotency-Key is taken."""
        with acting(request, keyed=False):
            hook, secret = services.register_webhook(**self.given(request))
            body = self.shown([self.get_queryset().get(pk=hook.pk)])[0] | {"secret": secret}
        return Response(body, status=201, headers={"Cache-Control": "no-store", "ETag": etags.etag(hook)})

    def change(self, root: Webhook, expected: int | None, **given: Any) -> Webhook:
        return services.change_webhook(webhook=root, expected=expected, **given)

    def remove(self, root: Webhook) -> None:
        services.remove_webhook(webhook=root)

    @extend_schema(request=None, responses={200: SecretSerializer})
    @action(detail=True, methods=["post"], url_path="rotate-secret", serializer_class=NothingSerializer)
    def rotate_secret(self, request: Request, id: Any) -> Response:
        """A new secret; for a day messages carry the signatures of both."""
        with acting(request, keyed=False):
            secret = services.rotate_secret(webhook=self.get_object())
        return Response({"secret": secret}, headers={"Cache-Control": "no-store"})

    @extend_schema(request=None, responses={202: DeliverySerializer})
    @action(detail=True, methods=["post"], serializer_class=NothingSerializer)
    def test(self, request: Request, id: Any) -> Response:
        """Send a message of the kind webhook.test."""
        with acting(request) as unit:
            row = services.send_test(webhook=self.get_object())
            return answered(unit, DeliverySerializer(row).data, status=202)

    @extend_schema(responses={200: DeliverySerializer(many=True)})
    @action(detail=True, serializer_class=DeliverySerializer, ordering=("-id",))
    def deliveries(self, request: Request, id: Any) -> Response:
        """What was sent and what waits, the latest first, with every answer of the address."""
        rows = self.paginate_queryset(deliveries_of(self.get_object()))
        return self.get_paginated_response(DeliverySerializer(rows, many=True).data)

    @extend_schema(responses={200: ReplayedSerializer})
    @action(detail=True, methods=["post"], serializer_class=ReplaySerializer)
    def replay(self, request: Request, id: Any) -> Response:
        """Send again; receivers see the same webhook-id as the first time."""
        with acting(request) as unit:
            hook, given = self.get_object(), self.given(request)
            if "from_no" in given:
                count = services.replay_from(webhook=hook, no=given["from_no"])
            else:
                row = hook.deliveries.filter(pk=given["delivery"]).first()
                if row is None:
                    raise Missing()
                services.replay(delivery=row)
                count = 1
            return answered(unit, {"replayed": count}, status=200)
