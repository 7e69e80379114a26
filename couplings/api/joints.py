"""The joints of a data sheet outside: what its torque, order and re-check rule are, and the advice that follows."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from couplings.engineering.fastening import JointAdvice, Preload
from couplings.engineering.tables.nut_factors import ScatterRow
from couplings.models import SheetJoint, SheetVersion
from couplings.selectors.joints import joint_advice
from couplings.selectors.tables import joint_scatter_at
from plant import units
from plant.api.fields import NounSerializer, QuantityField


class PassSerializer(serializers.Serializer):
    number = serializers.IntegerField()
    share = QuantityField(kind="share")
    torque = QuantityField(source="torque_nm", kind="torque", help_text="At the wrench.")
    positions = serializers.ListField(child=serializers.IntegerField(), help_text="In the order of tightening.")


class PreloadSerializer(serializers.Serializer):
    nominal = QuantityField(source="nominal_n", kind="force")
    low_after_losses = QuantityField(source="low_n", kind="force")
    high = QuantityField(source="high_n", kind="force")
    proof_load = QuantityField(source="proof_n", kind="force")
    share_of_proof = QuantityField(source="share", kind="share")
    low_share = QuantityField(kind="share")
    high_share = QuantityField(kind="share")
    strength_source = serializers.CharField()
    scatter = QuantityField(kind="share")
    scatter_source = serializers.CharField()
    loss = QuantityField(kind="share")
    loss_source = serializers.CharField()


class JointAdviceSerializer(serializers.Serializer):
    passes = PassSerializer(many=True)
    passes_source = serializers.CharField()
    preload = PreloadSerializer(allow_null=True, help_text="Null where the sheet does not state enough for one.")
    warnings = serializers.ListField(child=serializers.CharField())
    missing = serializers.ListField(child=serializers.CharField(), help_text="What the sheet would have to state.")


class JointSerializer(NounSerializer):
    name = serializers.CharField(max_length=60)
    thread = serializers.CharField(max_length=30, allow_blank=True, required=False, help_text="M12x1.75, 1/2-13.")
    positions = serializers.IntegerField(min_value=1, max_value=64)
    torque = QuantityField(source="torque_nm", kind="torque")
    strength_standard = serializers.CharField(
        max_length=40, allow_blank=True, required=False, help_text="Such as ISO 898-1 or SAE J429."
    )
    strength_class = serializers.CharField(
        max_length=20, allow_blank=True, required=False, help_text="Property class or grade of that standard."
    )
    nut_factor = serializers.FloatField(
        required=False, allow_null=True, help_text="K of torque = K × diameter × preload, 0.03 to 1."
    )
    nut_factor_source = serializers.CharField(
        max_length=200, allow_blank=True, required=False, help_text="Needed with a nut factor: it is never assumed."
    )
    order = serializers.ChoiceField(choices=SheetJoint.Order.choices, required=False)
    segments = serializers.IntegerField(
        min_value=1, max_value=64, required=False, help_text="Equal segments that the positions lie on."
    )
    pass_shares = serializers.ListField(
        child=QuantityField(kind="share"),
        required=False,
        max_length=6,
        help_text="Of the torque, pass by pass, the last 100 %; an empty list takes the starter's.",
    )
    feature = serializers.ChoiceField(
        choices=SheetJoint.Feature.choices,
        required=False,
        allow_blank=True,
        help_text="What a re-check has to heed. One that forbids it makes `recheck` not-allowed.",
    )
    prevailing_torque = QuantityField(
        source="prevailing_nm",
        kind="torque",
        required=False,
        allow_null=True,
        help_text="The nut's own running torque; it comes on top of the torque at the wrench.",
    )
    recheck = serializers.ChoiceField(choices=SheetVersion.Recheck.choices, required=False)
    recheck_reason = serializers.CharField(max_length=200, allow_blank=True, required=False)
    advice = serializers.SerializerMethodField(help_text="Follows from the fields above; advice, not part of them.")

    @extend_schema_field(JointAdviceSerializer)
    def get_advice(self, joint: SheetJoint) -> dict[str, Any]:
        return shown_advice(joint_advice(joint, self._scatter(joint)), self.context.get("system", units.METRIC))

    def _scatter(self, joint: SheetJoint) -> ScatterRow:
        """Asked once per answer, for all joints of a site."""
        site_id = joint.version.sheet.site_id
        kept: dict[int, ScatterRow] = self._context_of_root().setdefault("joint_scatter", {})
        if site_id not in kept:
            kept[site_id] = joint_scatter_at(site_id)
        return kept[site_id]


def shown_advice(advice: JointAdvice, system: str) -> dict[str, Any]:
    """Advice as the API answers it."""
    return {
        "passes": shown_passes(advice.passes, system),
        "passes_source": advice.passes_source,
        "preload": _preload(advice.preload, system) if advice.preload is not None else None,
        "warnings": list(advice.warnings),
        "missing": list(advice.missing),
    }


def shown_passes(passes: Any, system: str) -> list[dict[str, Any]]:
    return [dict(row) for row in PassSerializer(passes, many=True, context={"system": system}).data]


def _preload(preload: Preload, system: str) -> dict[str, Any]:
    return dict(PreloadSerializer(preload, context={"system": system}).data)
