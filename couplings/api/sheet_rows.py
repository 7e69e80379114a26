"""The lists below a data sheet's version outside: hubs, lengths, screws by bore, parts, hold points."""

from rest_framework import serializers

from couplings.models import SheetHub, SheetScrew, SheetVersion
from plant.api.fields import NounSerializer, QuantityField
from plant.models import Membership


class HubSerializer(NounSerializer):
    side = serializers.ChoiceField(
        choices=SheetHub.Side.choices, required=False, help_text="One row for both, or one row for each side."
    )
    bore_length = QuantityField(source="bore_length_mm", kind="size")
    flange = QuantityField(
        source="flange_mm",
        kind="size",
        required=False,
        help_text="The flange plane behind the face on the flange's side; negative: in front of it.",
    )
    overhang = QuantityField(
        source="overhang_mm",
        kind="size",
        required=False,
        allow_null=True,
        help_text="How far its gap face stands past the shaft's end; negative: the shaft stands proud.",
    )
    protrusion = QuantityField(
        source="protrusion_mm",
        kind="size",
        required=False,
        allow_null=True,
        help_text="How far the shaft may stand proud of the face, at most.",
    )
    orientation = serializers.ChoiceField(
        choices=SheetHub.Way.choices, required=False, help_text="Which way round the hub may stand."
    )
    mounting_kind = serializers.ChoiceField(
        choices=SheetVersion.Mounting.choices,
        allow_blank=True,
        required=False,
        help_text="How this hub is held, where it is not as the whole sheet says.",
    )


class SpacerSerializer(NounSerializer):
    name = serializers.CharField(max_length=60, help_text="Such as “inner holes”, or “element”.")
    length = QuantityField(source="length_mm", kind="size", help_text="From flange plane to flange plane.")


class ScrewSerializer(NounSerializer):
    kind = serializers.ChoiceField(choices=SheetScrew.Kind.choices, required=False)
    over_bore = QuantityField(
        source="over_bore_mm", kind="size", required=False, help_text="For bores above this; 0 if not said."
    )
    up_to_bore = QuantityField(source="up_to_bore_mm", kind="size", help_text="Up to and with this bore.")
    size = serializers.CharField(max_length=30, help_text="Thread, such as M10 or 3/8.")
    torque = QuantityField(source="torque_nm", kind="screw-torque")
    source = serializers.CharField(max_length=200)  # type: ignore[assignment]


class PartSerializer(NounSerializer):
    part_number = serializers.CharField(max_length=60)
    description = serializers.CharField(max_length=120, allow_blank=True, required=False)
    material = serializers.CharField(max_length=60, allow_blank=True, required=False)
    standard = serializers.BooleanField(
        required=False, help_text="Fitted unless somebody decides otherwise; `element_part` follows it."
    )


class HoldPointSerializer(NounSerializer):
    step = serializers.SlugField(max_length=40, help_text="Key of a step of the visit, such as placement.")
    what = serializers.CharField(max_length=200, help_text="What is witnessed.")
    role = serializers.ChoiceField(choices=Membership.Role.choices, help_text="Who may witness it.")
