"""Flags: conditions that somebody must deal with, who does, and why they were cleared."""

from typing import Any

from django.urls import reverse
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inspections.api.fields import NothingSerializer, PersonField
from inspections.models import Flag
from inspections.reasons import flag_sentence
from inspections.services import flags
from plant import units
from plant.api.fields import NounSerializer, RootField, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.views import ChangeRoots, RootViewSet
from plant.refusals import Refused

STATES = [("open", "open"), ("cleared", "cleared")]


class FlagSerializer(NounSerializer):
    id = serializers.UUIDField(source="uuid", read_only=True)
    version = serializers.IntegerField(read_only=True)
    site = SiteField(read_only=True)
    coupling = RootField(read_only=True)
    kind = serializers.ChoiceField(choices=Flag.Kind.choices, read_only=True)
    sentence = serializers.SerializerMethodField(help_text="What somebody must deal with, with its numbers.")
    evidence = serializers.DictField(read_only=True)
    opened_at = serializers.DateTimeField(read_only=True)
    owner = PersonField(required=False, allow_null=True, help_text="Who deals with it; null: nobody yet.")
    acknowledged_at = serializers.DateTimeField(read_only=True, allow_null=True)
    acknowledged_by = PersonField(read_only=True, allow_null=True, help_text="Who saw it first.")
    cleared_at = serializers.DateTimeField(read_only=True, allow_null=True)
    cleared_by = PersonField(read_only=True, allow_null=True)
    cause = serializers.CharField(read_only=True)
    previous = RootField(read_only=True, allow_null=True, help_text="The flag of the same kind before this one.")
    links = serializers.SerializerMethodField()

    def get_sentence(self, flag: Flag) -> str:
        return flag_sentence(flag, self.context.get("system", units.METRIC))

    def get_links(self, flag: Flag) -> dict[str, str]:
        return {
            "coupling": reverse("api-coupling-detail", args=[flag.coupling.uuid]),
            "checks": f"{reverse('api-check-list')}?coupling={flag.coupling.uuid}",
        }


class ClearSerializer(NounSerializer):
    cause = serializers.CharField(allow_blank=True, max_length=200, help_text="What was found, or what was done.")


class FlagFilters(Filters):
    site = ByRoot("site")
    coupling = ByRoot("coupling")
    kind = filters.ChoiceFilter(choices=Flag.Kind.choices)
    owner = ByRoot("owner")
    state = filters.ChoiceFilter(choices=STATES, method="in_state")

    class Meta:
        model = Flag
        fields: list[str] = []

    def in_state(self, queryset: Any, name: str, value: str) -> Any:
        return queryset.filter(cleared_at__isnull=value == "open")


class FlagViewSet(ChangeRoots, RootViewSet):
    """Nobody opens a flag by hand: its condition does. The oldest come first."""

    noun_class = Flag
    serializer_class = FlagSerializer
    filterset_class = FlagFilters
    ordering = ("opened_at",)

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("site", "coupling", "owner", "acknowledged_by", "cleared_by", "previous")

    def change(self, root: Flag, expected: int | None, **given: Any) -> Flag:
        if "owner" not in given:
            raise Refused({"owner": "Say who deals with it, or null where nobody does."})
        return flags.own_flag(flag=root, owner=given["owner"], expected=expected)

    @action(detail=True, methods=["post"], serializer_class=NothingSerializer)
    def acknowledge(self, request: Request, id: Any) -> Response:
        """Say that one has seen it. If-Match is honoured."""
        return self.act(request, lambda flag, **given: flags.acknowledge_flag(flag=flag))

    @action(detail=True, methods=["post"], serializer_class=ClearSerializer)
    def clear(self, request: Request, id: Any) -> Response:
        """Clear it with its cause. An overdue flag clears itself. If-Match is honoured."""
        return self.act(request, lambda flag, **given: flags.clear_flag(flag=flag, **given))
