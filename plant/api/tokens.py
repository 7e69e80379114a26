"""A person's own tokens: made (the secret is shown once), listed, revoked."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.mixins import ListModelMixin
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from plant.access import ACTIONS
from plant.api.acting import acting
from plant.api.fields import NounSerializer, RootField
from plant.api.paging import Pages
from plant.api.views import ApiView
from plant.models import Site, Token
from plant.selectors.people import tokens_of
from plant.services.tokens import make_token, revoke_token


class TokenSerializer(NounSerializer):
    id = serializers.UUIDField(source="uuid", read_only=True)
    name = serializers.CharField(max_length=80)
    prefix = serializers.CharField(read_only=True)
    scopes = serializers.MultipleChoiceField(choices=[(name, words) for name, (words, _) in ACTIONS.items()])
    sites = RootField(Site, many=True, required=False, help_text="None: all of yours.")
    expires_at = serializers.DateTimeField()
    made_at = serializers.DateTimeField(read_only=True)
    revoked_at = serializers.DateTimeField(read_only=True, allow_null=True)
    last_used_at = serializers.DateTimeField(read_only=True, allow_null=True)


class NewTokenSerializer(TokenSerializer):
    secret = serializers.CharField(read_only=True, help_text="Shown this once.")


class TokenViewSet(ApiView, ListModelMixin, GenericViewSet):
    """Your own tokens. A token cannot make tokens."""

    # An answer with a secret is never kept, so a key would promise what cannot be given.
    keyed = False
    queryset = Token.objects.none()
    serializer_class = TokenSerializer
    pagination_class = Pages
    ordering = ("-made_at",)
    lookup_field = "uuid"
    lookup_url_kwarg = "id"
    lookup_value_converter = "uuid"

    def known_parameters(self) -> frozenset[str]:
        return super().known_parameters() | {"cursor", "limit"}

    def get_queryset(self) -> Any:
        return tokens_of(self.person)

    @extend_schema(responses={201: NewTokenSerializer})
    def create(self, request: Request) -> Response:
        """Make a token. Its secret is in this answer and nowhere else, so a repeated request makes another token."""
        with acting(request, keyed=False):
            form = self.get_serializer(data=request.data)
            form.is_valid(raise_exception=True)
            given = {"sites": [], **form.validated_data}
            given["scopes"] = sorted(given["scopes"])
            token, secret = make_token(person=self.person, **given)
            body = self.get_serializer(token).data | {"secret": secret}
        return Response(body, status=201, headers={"Cache-Control": "no-store"})

    def destroy(self, request: Request, id: Any) -> Response:
        """Revoke it; it stays in the list."""
        with acting(request):
            revoke_token(token=self.get_object())
        return Response(status=204)
