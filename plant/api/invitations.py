"""Invitations to a site, for the keeper: made (the link is shown once), listed, withdrawn."""

from typing import Any

from django.conf import settings
from django.urls import reverse
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.mixins import ListModelMixin
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from plant.api.acting import acting
from plant.api.fields import NounSerializer, RootField
from plant.api.filters import ByName, ByRoot, Filters, filters
from plant.api.paging import Pages
from plant.api.views import ApiView
from plant.models import Invitation, Membership, Site
from plant.selectors.invitations import invitations_kept_by
from plant.services.invitations import invite, withdraw_invitation


class InvitationSerializer(NounSerializer):
    id = serializers.UUIDField(source="uuid", read_only=True)
    site = RootField(Site)
    role = serializers.ChoiceField(choices=Membership.Role.choices)
    email = serializers.EmailField(required=False, allow_blank=True)
    employer = serializers.CharField(max_length=80, required=False, allow_blank=True)
    until_on = serializers.DateField(required=False, allow_null=True, help_text="Last day of the role.")
    language = serializers.ChoiceField(choices=settings.LANGUAGES, required=False)
    made_at = serializers.DateTimeField(read_only=True)
    made_by = serializers.UUIDField(source="made_by.uuid", read_only=True, allow_null=True, default=None)
    expires_at = serializers.DateTimeField(read_only=True)
    used_at = serializers.DateTimeField(read_only=True, allow_null=True)
    withdrawn_at = serializers.DateTimeField(read_only=True, allow_null=True)
    person = serializers.UUIDField(source="person.uuid", read_only=True, allow_null=True, default=None)


class NewInvitationSerializer(InvitationSerializer):
    link = serializers.CharField(read_only=True, help_text="Shown this once; the site sends no mail for the API.")


class InvitationFilters(Filters):
    site = ByRoot("site")
    email = filters.CharFilter(lookup_expr="iexact")

    class Meta:
        model = Invitation
        fields: list[str] = []


class InvitationViewSet(ApiView, ListModelMixin, GenericViewSet):
    """Invitations to the sites whose people you keep. The same address invited again replaces the earlier link."""

    # An answer with a secret is never kept, so a key would promise what cannot be given.
    keyed = False
    queryset = Invitation.objects.none()
    serializer_class = InvitationSerializer
    filterset_class = InvitationFilters
    filter_backends = [ByName]
    pagination_class = Pages
    ordering = ("-made_at",)
    lookup_field = "uuid"
    lookup_url_kwarg = "id"
    lookup_value_converter = "uuid"
    parameters = frozenset({"site", "email", "cursor", "limit"})

    def get_queryset(self) -> Any:
        if getattr(self, "swagger_fake_view", False):
            return Invitation.objects.none()
        return invitations_kept_by(self.person)

    @extend_schema(responses={201: NewInvitationSerializer})
    def create(self, request: Request) -> Response:
        """Invite somebody. The link is in this answer and nowhere else."""
        with acting(request, keyed=False):
            form = self.get_serializer(data=request.data)
            form.is_valid(raise_exception=True)
            row, secret = invite(**form.validated_data)
            link = request.build_absolute_uri(reverse("invitation", args=[secret]))
            body = self.get_serializer(row).data | {"link": link}
        return Response(body, status=201, headers={"Cache-Control": "no-store"})

    def destroy(self, request: Request, id: Any) -> Response:
        """Withdraw it; it stays in the list."""
        with acting(request):
            withdraw_invitation(invitation=self.get_object())
        return Response(status=204)
