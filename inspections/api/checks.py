"""Checks: what is due by when and why. Signing and policies make them; here they are read, and planners act on them."""

from datetime import date
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django_filters import rest_framework as django_filters
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inspections.api.drift import LookedSerializer, day_asked, nothing_forecast
from inspections.api.fields import NothingSerializer, PersonField
from inspections.models import Check, CheckKind
from inspections.reasons import check_sentence
from inspections.selectors.checks import CHECK_STATES, checks_due, state_at
from inspections.selectors.drift import look_at
from inspections.services import deferral
from plant import units
from plant.api.fields import NounSerializer, QuantityField, RootField, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.problems import BadQuery
from plant.api.views import RootViewSet
from plant.sitetime import today_at

STATES = [("open", "open"), ("settled", "settled")]
ONLY = [("true", "only these")]


class CheckLinksSerializer(serializers.Serializer):
    coupling = serializers.CharField()
    settled_by = serializers.CharField(allow_null=True)
    flags = serializers.CharField()


class CheckSerializer(NounSerializer):
    id = serializers.UUIDField(source="uuid", read_only=True)
    version = serializers.IntegerField(read_only=True)
    site = SiteField(read_only=True)
    coupling = RootField(read_only=True)
    kind = serializers.ChoiceField(choices=CheckKind.choices, read_only=True)
    opens_on = serializers.DateField(read_only=True)
    due_on = serializers.DateField(read_only=True)
    closes_on = serializers.DateField(read_only=True, help_text="Overdue after this day, by the site's own calendar.")
    reason = serializers.SerializerMethodField(help_text="Why this day, in one sentence with its numbers.")
    winner = serializers.CharField(read_only=True, help_text="The trigger that set the date, as a code.")
    runner_up = serializers.CharField(read_only=True, help_text="What would else have set it, as a code.")
    runner_up_on = serializers.DateField(read_only=True, allow_null=True)
    numbers = serializers.DictField(read_only=True, help_text="What the sentence was made from.")
    needs_stop = serializers.BooleanField(read_only=True)
    crew_hours = QuantityField(kind="hours", read_only=True)
    crew_size = serializers.IntegerField(read_only=True)
    settled_on = serializers.DateField(read_only=True, allow_null=True)
    settled_by = RootField(read_only=True, allow_null=True, help_text="The visit that did it.")
    outcome = serializers.CharField(read_only=True)
    cause = serializers.CharField(read_only=True, help_text="Why it was cancelled.")
    state = serializers.SerializerMethodField(help_text="By the site's own calendar; never stored.")
    deferred_until = serializers.DateField(read_only=True, allow_null=True)
    deferred_reason = serializers.CharField(read_only=True)
    deferred_by = PersonField(read_only=True, allow_null=True)
    deferred_at = serializers.DateTimeField(read_only=True, allow_null=True)
    deferred_risk = serializers.FloatField(
        read_only=True, allow_null=True, help_text="Chance of being out of tolerance by then; null: no forecast."
    )
    pinned_on = serializers.DateField(read_only=True, allow_null=True, help_text="Somebody planned it for this day.")
    ordered_on = serializers.DateField(
        read_only=True, allow_null=True, help_text="The date the work-order system gave, where it owns the dates."
    )
    owner = PersonField(read_only=True, allow_null=True, help_text="Who sees to it.")
    links = serializers.SerializerMethodField()

    def get_reason(self, check: Check) -> str:
        return check_sentence(check, self.context.get("system", units.METRIC))

    @extend_schema_field(serializers.ChoiceField(choices=CHECK_STATES))
    def get_state(self, check: Check) -> str:
        return state_at(check, today_at(check.site, timezone.now()))

    @extend_schema_field(CheckLinksSerializer)
    def get_links(self, check: Check) -> dict[str, str | None]:
        visit = check.settled_by
        return {
            "coupling": reverse("api-coupling-detail", args=[check.coupling.uuid]),
            "settled_by": reverse("api-visit-detail", args=[visit.uuid]) if visit is not None else None,
            "flags": f"{reverse('api-flag-list')}?coupling={check.coupling.uuid}",
        }


class DeferSerializer(NounSerializer):
    until = serializers.DateField(help_text="The day it is then due.")
    reason = serializers.CharField(allow_blank=True, help_text="Why it can wait.")


class PinSerializer(NounSerializer):
    on = serializers.DateField(allow_null=True, help_text="The day it is planned for; null takes the pin out.")


class CancelSerializer(NounSerializer):
    reason = serializers.CharField(allow_blank=True, help_text="Why this one date is left out.")


class OwnSerializer(NounSerializer):
    owner = PersonField(allow_null=True, help_text="Who sees to it; null: nobody yet.")


class DateSerializer(NounSerializer):
    on = serializers.DateField(allow_null=True, help_text="The date the work-order system gave; null: none.")


class CheckFilters(Filters):
    site = ByRoot("site")
    area = ByRoot("coupling__train__area")
    train = ByRoot("coupling__train")
    coupling = ByRoot("coupling")
    kind = filters.ChoiceFilter(choices=CheckKind.choices)
    state = filters.ChoiceFilter(choices=STATES, method="in_state")
    due_before = filters.DateFilter(
        method="as_it_is", label="Due on this day or earlier; leaves out what does not come due, as the due list does."
    )
    overdue = django_filters.ChoiceFilter(
        choices=ONLY, method="as_it_is", label="Past their last day, by each site's own calendar."
    )

    class Meta:
        model = Check
        fields: list[str] = []

    def filter_queryset(self, queryset: Any) -> Any:
        asked = self.form.cleaned_data
        if asked["due_before"] or asked["overdue"]:
            # The due list's own question, so that a program and a page never differ in what is due.
            due = checks_due(self.request.user, asked["due_before"] or date.max, overdue_only=bool(asked["overdue"]))
            queryset = due.select_related("site", "coupling__train", "settled_by", "deferred_by", "owner")
        return super().filter_queryset(queryset)

    def in_state(self, queryset: Any, name: str, value: str) -> Any:
        return queryset.filter(settled_on__isnull=value == "open")

    def as_it_is(self, queryset: Any, name: str, value: Any) -> Any:
        return queryset


class CheckViewSet(RootViewSet):
    """One thing to do at one coupling by one day, the next due first."""

    noun_class = Check
    serializer_class = CheckSerializer
    filterset_class = CheckFilters
    ordering = ("due_on",)

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("site", "coupling__train", "settled_by", "deferred_by", "owner")

    @action(detail=True, methods=["post"], serializer_class=DeferSerializer)
    def defer(self, request: Request, id: Any) -> Response:
        """Put it off to a later day, with the reason; the policy says for how long at most. If-Match is honoured."""
        return self.act(request, lambda check, **given: deferral.defer_check(check=check, **given))

    def known_parameters(self) -> frozenset[str]:
        known = super().known_parameters()
        return known | {"on"} if self.action == "look" else known

    @extend_schema(responses=LookedSerializer, parameters=[OpenApiParameter("on", date, required=True)], filters=False)
    @action(detail=True, methods=["get"], pagination_class=None)
    def look(self, request: Request, id: Any) -> Response:
        """What an alignment check on another day would mean: the chance of being out of tolerance by then, beside the
        straight line. Everything but the day is null where nothing is forecast, as for other kinds of check."""
        check, on = self.get_object(), day_asked(request.query_params.get("on"))
        if on is None:
            raise BadQuery({"on": "Write the day as 2026-10-12."})
        looked = look_at(check, on)
        return Response(LookedSerializer(looked).data if looked is not None else nothing_forecast(on))

    @action(detail=True, methods=["post"], serializer_class=NothingSerializer)
    def withdraw(self, request: Request, id: Any) -> Response:
        """Take a deferral back. If-Match is honoured."""
        return self.act(request, lambda check, **given: deferral.withdraw_deferral(check=check))

    @action(detail=True, methods=["post"], serializer_class=PinSerializer)
    def pin(self, request: Request, id: Any) -> Response:
        """Plan it for one day, which levelling leaves alone. If-Match is honoured."""
        return self.act(request, lambda check, **given: deferral.pin_check(check=check, **given))

    @action(detail=True, methods=["post"], serializer_class=CancelSerializer)
    def cancel(self, request: Request, id: Any) -> Response:
        """Leave this one date out; the next comes when the policy says. If-Match is honoured."""
        return self.act(request, lambda check, **given: deferral.cancel_check(check=check, **given))

    @action(detail=True, methods=["post"], serializer_class=OwnSerializer)
    def own(self, request: Request, id: Any) -> Response:
        """Say who sees to it. If-Match is honoured."""
        return self.act(request, lambda check, **given: deferral.own_check(check=check, **given))

    @action(detail=True, methods=["post"], serializer_class=DateSerializer)
    def date(self, request: Request, id: Any) -> Response:
        """Give the work-order system's own date, at a site whose dates it owns. If-Match is honoured."""
        return self.act(request, lambda check, **given: deferral.take_date(check=check, **given))
