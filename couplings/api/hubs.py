"""The hub halves of a fit, and another one coming to one side."""

from rest_framework import serializers

from couplings.models import HubHalf, SheetVersion
from plant.api.fields import NounSerializer, QuantityField, RootField


class HubFacts(NounSerializer):
    serial = serializers.CharField(max_length=60, allow_blank=True, required=False)
    came_with = serializers.CharField(
        max_length=60, allow_blank=True, required=False, help_text="Serial number of the machine that brought it."
    )
    orientation = serializers.ChoiceField(choices=HubHalf.Orientation.choices, allow_blank=True, required=False)
    bore = QuantityField(source="bore_mm", kind="size", required=False, allow_null=True, help_text="As measured.")
    key_width = QuantityField(source="key_width_mm", kind="size", required=False, allow_null=True)
    key_height = QuantityField(source="key_height_mm", kind="size", required=False, allow_null=True)
    key_length = QuantityField(source="key_length_mm", kind="size", required=False, allow_null=True)
    key_convention = serializers.ChoiceField(
        choices=HubHalf.Convention.choices,
        allow_blank=True,
        required=False,
        help_text="ISO 21940-32: half or full key.",
    )
    mounting_kind = serializers.ChoiceField(choices=SheetVersion.Mounting.choices, allow_blank=True, required=False)
    advance = QuantityField(
        source="advance_mm", kind="size", required=False, allow_null=True, help_text="On its taper, from hand-tight."
    )
    pressure = QuantityField(
        source="pressure_mpa", kind="pressure", required=False, allow_null=True, help_text="Oil that widened the hub."
    )


class HubHalfSerializer(HubFacts):
    side = serializers.ChoiceField(choices=HubHalf.Side.choices)
    unit = RootField(
        read_only=True, allow_null=True, help_text="The machine on whose shaft it sits here, where its number is known."
    )
    went_with_unit = serializers.BooleanField(
        read_only=True, help_text="It stayed on that machine's shaft when the machine left."
    )
    fitted_on = serializers.DateField(read_only=True)
    removed_on = serializers.DateField(read_only=True, allow_null=True)
    removal_reason = serializers.CharField(read_only=True)
    went_to = serializers.CharField(read_only=True)


class SwapSerializer(HubFacts):
    side = serializers.ChoiceField(choices=HubHalf.Side.choices)
    on = serializers.DateField()
    removal_reason = serializers.CharField(
        max_length=200, required=False, allow_blank=True, help_text="Why the half in place came off."
    )
    went_to = serializers.CharField(max_length=120, required=False, allow_blank=True)
