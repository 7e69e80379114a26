"""Policies: how often a kind of check is wanted, and when the first one after an installation."""

from typing import Any

from rest_framework import serializers

from inspections.models import CheckKind, Policy
from inspections.services import policies
from plant.api.fields import NounSerializer, QuantityField, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.kept import KeptHistory, LoadsStarters
from plant.api.views import ChangeRoots, CreateRoots, RemoveRoots, RootViewSet
from plant.models import Site, Train


class PolicySerializer(NounSerializer):
    fixed = ("site", "check_kind", "criticality")

    id = serializers.UUIDField(source="uuid", read_only=True)
    version = serializers.IntegerField(read_only=True)
    site = SiteField()
    check_kind = serializers.ChoiceField(choices=CheckKind.choices)
    criticality = serializers.ChoiceField(
        choices=Train.Criticality.choices, allow_blank=True, required=False, help_text="Empty: every one."
    )
    every_months = serializers.IntegerField(required=False, allow_null=True, help_text="Null: no regular interval.")
    mode = serializers.ChoiceField(choices=Policy.Mode.choices, required=False)
    window = QuantityField(
        source="window_share", kind="share", required=False, help_text="Of the interval, before and after the due day."
    )
    first_days = serializers.IntegerField(required=False, allow_null=True, help_text="After an installation.")
    first_hours = QuantityField(
        kind="hours", required=False, allow_null=True, help_text="Run hours after an installation."
    )
    every_hours = QuantityField(
        kind="hours", required=False, allow_null=True, help_text="Run hours since it was last done."
    )
    after_other_work = serializers.BooleanField(
        required=False, help_text="The first check also after a re-alignment and after work on foundation or pipes."
    )
    defer_days = serializers.IntegerField(
        required=False, help_text="A check may be deferred at most so many days beyond its due date; 0: not at all."
    )
    by_drift = serializers.BooleanField(
        required=False, help_text="Alignment: also by how fast the coupling drifts, where its surveys say so."
    )
    risk = QuantityField(
        kind="share", required=False, allow_null=True,
        help_text="Chance of being out of tolerance accepted until the check; null: 1, 2 or 5 % by criticality.",
    )  # fmt: skip
    shortest_days = serializers.IntegerField(
        required=False, help_text="A date by drift comes at the earliest so many days after it was left."
    )
    longest_months = serializers.IntegerField(
        required=False, allow_null=True,
        help_text="The interval may grow to this where the coupling's own surveys bear it out; null: it never grows.",
    )  # fmt: skip
    needs_stop = serializers.BooleanField(required=False)
    crew_hours = QuantityField(kind="hours", required=False)
    crew_size = serializers.IntegerField(required=False)
    source = serializers.CharField(max_length=300, allow_blank=True, required=False)  # type: ignore[assignment]
    mark = serializers.CharField(read_only=True, help_text="Whose figures these are.")


class PolicyFilters(Filters):
    site = ByRoot("site")
    check_kind = filters.ChoiceFilter(choices=CheckKind.choices)
    criticality = filters.ChoiceFilter(choices=Train.Criticality.choices)

    class Meta:
        model = Policy
        fields: list[str] = []


class PolicyViewSet(LoadsStarters, KeptHistory, CreateRoots, ChangeRoots, RemoveRoots, RootViewSet):
    """One per kind of check, for every criticality or for one. A change moves all its dates at once."""

    noun_class = Policy
    serializer_class = PolicySerializer
    filterset_class = PolicyFilters
    ordering = ("check_kind", "criticality")

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("site")

    def make(self, **given: Any) -> Policy:
        return policies.add_policy(**given)

    def change(self, root: Policy, expected: int | None, **given: Any) -> Policy:
        return policies.write_policy(
            site=root.site, check_kind=root.check_kind, criticality=root.criticality, expected=expected, **given
        )

    def remove(self, root: Policy) -> None:
        policies.remove_policy(policy=root)

    def load(self, site: Site) -> list[Policy]:
        return policies.load_policies(site=site)
