"""Drift: what couplings did between visits, what is forecast of each, and what groups have in common."""

from datetime import date
from typing import Any

from django.urls import reverse
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inspections.api.fields import NothingSerializer, PersonField
from inspections.models import DriftState, GroupFit, JumpCause, Leg
from inspections.services import drift
from plant.api.fields import NounSerializer, QuantityField, RootField, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.views import RootViewSet


class MoveSerializer(serializers.Serializer):
    """End less start, of the driver-side shaft relative to the driven-side shaft; null where a plane was not read."""

    offset_v = QuantityField(source="move_offset_v_mm", kind="gap", allow_null=True)
    offset_h = QuantityField(source="move_offset_h_mm", kind="gap", allow_null=True)
    slope_v = QuantityField(source="move_slope_v_mrad", kind="slope", allow_null=True)
    slope_h = QuantityField(source="move_slope_h_mrad", kind="slope", allow_null=True)


class LegSerializer(NounSerializer):
    id = serializers.UUIDField(source="uuid", read_only=True)
    version = serializers.IntegerField(read_only=True)
    site = SiteField(read_only=True)
    coupling = RootField(read_only=True)
    from_visit = RootField(read_only=True, allow_null=True)
    to_visit = RootField(read_only=True)
    from_on = serializers.DateField(read_only=True, allow_null=True)
    to_on = serializers.DateField(read_only=True)
    days = serializers.FloatField(read_only=True, allow_null=True)
    run_hours = QuantityField(source="hours", kind="hours", read_only=True, allow_null=True)
    move = serializers.SerializerMethodField()
    resets = serializers.BooleanField(
        source="reset", read_only=True, help_text="It starts from a reading of its own, not from the end of the last."
    )
    from_corrected = serializers.BooleanField(read_only=True, help_text="Brought to the reference temperature.")
    to_corrected = serializers.BooleanField(read_only=True)
    legacy = serializers.BooleanField(read_only=True, help_text="One end is an old figure without its readings.")
    why_not = serializers.CharField(read_only=True, help_text="Why it does not count; empty where it does.")
    jump = serializers.BooleanField(read_only=True, help_text="It moved more than its history explains.")
    probability = serializers.FloatField(read_only=True, allow_null=True, help_text="Of a miss as large or larger.")
    moved_share = QuantityField(kind="share", read_only=True, allow_null=True, help_text="Of the tolerance.")
    cause = serializers.ChoiceField(choices=JumpCause.choices, read_only=True)
    cause_note = serializers.CharField(read_only=True)
    left_out_reason = serializers.CharField(read_only=True)
    left_out_by = PersonField(read_only=True, allow_null=True)
    left_out_at = serializers.DateTimeField(read_only=True, allow_null=True)

    @extend_schema_field(MoveSerializer)
    def get_move(self, leg: Leg) -> dict[str, Any]:
        return dict(MoveSerializer(leg, context=self.context).data)


class LeaveOutSerializer(NounSerializer):
    reason = serializers.CharField(allow_blank=True, max_length=200, help_text="Why it does not count.")


class LegFilters(Filters):
    site = ByRoot("site")
    coupling = ByRoot("coupling")
    jump = filters.BooleanFilter()

    class Meta:
        model = Leg
        fields: list[str] = []


class LegViewSet(RootViewSet):
    """From how a coupling was left to how it was found next. Computed from signed surveys; what does not count says
    why."""

    noun_class = Leg
    serializer_class = LegSerializer
    filterset_class = LegFilters
    ordering = ("to_on",)

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("site", "coupling", "from_visit", "to_visit", "left_out_by")

    @action(detail=True, methods=["post"], url_path="leave-out", serializer_class=LeaveOutSerializer)
    def leave_out(self, request: Request, id: Any) -> Response:
        """Leave it out of forecasts, with the reason; it is kept and shown. If-Match is honoured."""
        return self.act(request, lambda leg, **given: drift.leave_out(leg=leg, **given))

    @action(detail=True, methods=["post"], url_path="count-again", serializer_class=NothingSerializer)
    def count_again(self, request: Request, id: Any) -> Response:
        """Let it count again. If-Match is honoured."""
        return self.act(request, lambda leg, **given: drift.count_again(leg=leg))


class UsedSerializer(serializers.Serializer):
    """Tolerance used, and the shortest interval that holds 90 %; 1 is on a limit."""

    middle = serializers.FloatField()
    low = serializers.FloatField()
    high = serializers.FloatField()


class RiskSerializer(serializers.Serializer):
    days = serializers.FloatField(help_text="Since it was left.")
    chance = serializers.FloatField(help_text="Of having been out of tolerance by then.")


class DriftLinksSerializer(serializers.Serializer):
    coupling = serializers.CharField()
    legs = serializers.CharField()
    group_fit = serializers.CharField(allow_null=True)


class DriftStateSerializer(NounSerializer):
    id = serializers.UUIDField(source="uuid", read_only=True)
    version = serializers.IntegerField(read_only=True)
    site = SiteField(read_only=True)
    coupling = RootField(read_only=True)
    why_not = serializers.ChoiceField(
        choices=DriftState.Why.choices, read_only=True, help_text="Why there is no forecast; empty where there is one."
    )
    group_fit = RootField(source="fit", read_only=True, allow_null=True)
    legs = serializers.IntegerField(read_only=True, help_text="Its own, in use.")
    longest_leg_days = serializers.FloatField(source="longest_days", read_only=True)
    left_on = serializers.DateField(read_only=True, allow_null=True)
    own_share = QuantityField(
        kind="share", read_only=True, allow_null=True,
        help_text="Weight of its own legs in its pace; the rest is the group's.",
    )  # fmt: skip
    pace_per_year = QuantityField(
        source="pace_share", kind="share", read_only=True, allow_null=True, help_text="Of the tolerance."
    )
    run_hours_per_day = serializers.FloatField(
        source="hours_per_day", read_only=True, allow_null=True,
        help_text="Where it is counted by run hours; null: by the calendar.",
    )  # fmt: skip
    used_as_left = serializers.SerializerMethodField()
    used_when_due = serializers.SerializerMethodField()
    risk_curve = serializers.SerializerMethodField()
    accepted_risk = QuantityField(source="risk", kind="share", read_only=True, allow_null=True)
    due_on = serializers.DateField(
        read_only=True, allow_null=True, help_text="Last day within the accepted risk and the site's bounds."
    )
    due_by = serializers.CharField(read_only=True, help_text="risk, shortest or longest: what set that day.")
    straight_line_on = serializers.DateField(
        source="straight_on", read_only=True, allow_null=True,
        help_text="When a straight line through its movements reaches 70 % of the tolerance.",
    )  # fmt: skip
    extrapolated = serializers.BooleanField(read_only=True, help_text="Due lies past twice its longest leg.")
    crosses_on = serializers.DateField(
        read_only=True, allow_null=True, help_text="The next day on which it says something else by itself."
    )
    links = serializers.SerializerMethodField()

    @extend_schema_field(UsedSerializer(allow_null=True))
    def get_used_as_left(self, state: DriftState) -> dict[str, float] | None:
        return used(state.used_left)

    @extend_schema_field(UsedSerializer(allow_null=True))
    def get_used_when_due(self, state: DriftState) -> dict[str, float] | None:
        return used(state.used_due)

    @extend_schema_field(RiskSerializer(many=True))
    def get_risk_curve(self, state: DriftState) -> list[dict[str, float]]:
        return [{"days": days, "chance": chance} for days, chance in state.curve]

    @extend_schema_field(DriftLinksSerializer)
    def get_links(self, state: DriftState) -> dict[str, str | None]:
        fit = state.fit
        return {
            "coupling": reverse("api-coupling-detail", args=[state.coupling.uuid]),
            "legs": f"{reverse('api-leg-list')}?coupling={state.coupling.uuid}",
            "group_fit": reverse("api-group-fit-detail", args=[fit.uuid]) if fit is not None else None,
        }


def used(numbers: list[float]) -> dict[str, float] | None:
    """Middle, low and high by their names."""
    return dict(zip(("middle", "low", "high"), numbers, strict=True)) if numbers else None


class DriftStateFilters(Filters):
    site = ByRoot("site")
    coupling = ByRoot("coupling")
    train = ByRoot("coupling__train")

    class Meta:
        model = DriftState
        fields: list[str] = []


class DriftStateViewSet(RootViewSet):
    """What is forecast of each coupling that was ever surveyed. Advice to a competent person, never a verdict."""

    noun_class = DriftState
    serializer_class = DriftStateSerializer
    filterset_class = DriftStateFilters
    ordering = ("coupling__tag",)

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("site", "coupling", "fit")


class ComponentsSerializer(serializers.Serializer):
    offset_v = serializers.FloatField()
    offset_h = serializers.FloatField()
    slope_v = serializers.FloatField()
    slope_h = serializers.FloatField()


class GroupFitSerializer(NounSerializer):
    """In mm and mrad, per year of the clock, and their squares, whatever units are asked for: it is for computing."""

    id = serializers.UUIDField(source="uuid", read_only=True)
    version = serializers.IntegerField(read_only=True)
    site = SiteField(read_only=True)
    level = serializers.ChoiceField(choices=GroupFit.Level.choices, read_only=True)
    kind = serializers.CharField(source="key", read_only=True)
    clock = serializers.SerializerMethodField(help_text="calendar, or hours: years of 8766 run hours.")
    rate = serializers.SerializerMethodField(help_text="Mean. [mm/year, mrad/year]")
    rate_variance = serializers.SerializerMethodField(help_text="Among couplings.")
    mean_variance = serializers.SerializerMethodField(help_text="Of the mean itself.")
    diffusion = serializers.SerializerMethodField(help_text="[mm²/year, mrad²/year]")
    jump_variance = serializers.SerializerMethodField(help_text="Of one jump.")
    jumps_per_year = serializers.FloatField(read_only=True)
    couplings = serializers.IntegerField(read_only=True)
    legs = serializers.IntegerField(read_only=True)
    flagged = serializers.IntegerField(read_only=True, help_text="Legs set down as jumps.")
    fitted_on = serializers.DateField(read_only=True)
    current = serializers.BooleanField(read_only=True)

    def get_clock(self, fit: GroupFit) -> str:
        return "hours" if fit.by_hours else "calendar"

    @extend_schema_field(ComponentsSerializer)
    def get_rate(self, fit: GroupFit) -> dict[str, float]:
        return components(fit.rate)

    @extend_schema_field(ComponentsSerializer)
    def get_rate_variance(self, fit: GroupFit) -> dict[str, float]:
        return components(fit.rate_variance)

    @extend_schema_field(ComponentsSerializer)
    def get_mean_variance(self, fit: GroupFit) -> dict[str, float]:
        return components(fit.rate_error)

    @extend_schema_field(ComponentsSerializer)
    def get_diffusion(self, fit: GroupFit) -> dict[str, float]:
        return components(fit.diffusion)

    @extend_schema_field(ComponentsSerializer)
    def get_jump_variance(self, fit: GroupFit) -> dict[str, float]:
        return components(fit.jump_variance)


def components(numbers: list[float]) -> dict[str, float]:
    """Four numbers by the names of their components."""
    return dict(zip(("offset_v", "offset_h", "slope_v", "slope_h"), numbers, strict=True))


class GroupFitFilters(Filters):
    site = ByRoot("site")
    current = filters.BooleanFilter()

    class Meta:
        model = GroupFit
        fields: list[str] = []


class GroupFitViewSet(RootViewSet):
    """What the couplings of a group have in common, one row a week and group; the current ones are gone by."""

    noun_class = GroupFit
    serializer_class = GroupFitSerializer
    filterset_class = GroupFitFilters
    ordering = ("fitted_on", "level", "key")

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("site")


class LookedSerializer(serializers.Serializer):
    """What doing a check on another day would mean."""

    on = serializers.DateField()
    chance = serializers.FloatField(allow_null=True, help_text="Of being out of tolerance by then.")
    accepted_risk = serializers.FloatField(source="risk", allow_null=True)
    due_on = serializers.DateField(allow_null=True, help_text="Last day within the accepted risk.")
    straight_line_on = serializers.DateField(source="straight_on", allow_null=True)
    used = serializers.SerializerMethodField()
    extrapolated = serializers.BooleanField(allow_null=True)

    @extend_schema_field(UsedSerializer(allow_null=True))
    def get_used(self, looked: Any) -> dict[str, float]:
        return {"middle": looked.middle, "low": looked.low, "high": looked.high}


def nothing_forecast(on: date) -> dict[str, str | None]:
    """The same where there is no forecast."""
    return dict.fromkeys(LookedSerializer().fields) | {"on": on.isoformat()}


def day_asked(text: str | None) -> date | None:
    """A day in an address; None where it is none."""
    try:
        return date.fromisoformat(text or "")
    except ValueError:
        return None
