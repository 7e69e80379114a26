"""What is asked about a version of a data sheet and answered in plain shapes: comparison, advice, whom it touches."""

from rest_framework import serializers

from couplings.models import DataSheet, Fit, LimitChange
from plant.api.fields import NounSerializer, QuantityField, RootField


class CopySerializer(NounSerializer):
    fixed = ()

    id = serializers.UUIDField(source="uuid", required=False, help_text="Of the copy, where the sender chooses it.")
    designation = serializers.CharField(max_length=80, help_text="Of the copy.")
    number = serializers.IntegerField(min_value=1, required=False, help_text="The version to copy; else the latest.")


class PublishSerializer(NounSerializer):
    """Needed where the version is held to other numbers than the one before."""

    reason = serializers.CharField(max_length=400, required=False, allow_blank=True)
    change_number = serializers.CharField(max_length=40, required=False, allow_blank=True)
    from_on = serializers.DateField(required=False, help_text="Nothing is held to the new limits before this day.")


class AdoptSerializer(NounSerializer):
    fits = serializers.ListField(
        child=RootField(Fit), max_length=1000, help_text="The fits that are held to this version from now on."
    )


class DifferenceSerializer(serializers.Serializer):
    part = serializers.CharField(help_text="Of the sheet.")
    what = serializers.CharField()
    before = serializers.CharField(help_text="In the reader's units and words.")
    after = serializers.CharField()
    field = serializers.CharField(help_text="The same place for programs.")
    held_to = serializers.BooleanField(help_text="Visits are judged by it: it takes a limit change.")


class ComparisonSerializer(serializers.Serializer):
    before = serializers.IntegerField(help_text="Number of the version compared with.")
    after = serializers.IntegerField()
    differences = DifferenceSerializer(many=True)


class ServedSerializer(serializers.Serializer):
    element = serializers.CharField()
    length = QuantityField(source="length_mm", kind="size")
    driver = serializers.CharField(help_text="Which way round that hub stands.")
    driven = serializers.CharField()
    allowed = serializers.BooleanField(help_text="The sheet lets both hubs stand so.")
    gap = QuantityField(source="gap_mm", kind="size", help_text="Between the faces of the hubs.")
    from_dbse = QuantityField(source="from_mm", kind="size", allow_null=True, help_text="Null: it serves none.")
    to_dbse = QuantityField(source="to_mm", kind="size", allow_null=True)
    nominal = serializers.BooleanField(allow_null=True, help_text="The sheet's own DBSE lies in the range.")


class StatedDbseSerializer(serializers.Serializer):
    element = serializers.CharField(source="name")
    dbse = QuantityField(source="dbse_mm", kind="size")


class HeldSerializer(serializers.Serializer):
    count = serializers.IntegerField()
    torsional = QuantityField(source="held.torsional_nm", kind="torque", allow_null=True, default=None)
    allowed = QuantityField(source="held.torsional_allowed_nm", kind="torque", allow_null=True, default=None)
    design_factor = serializers.FloatField()
    rating = QuantityField(source="torque_nm", kind="torque", allow_null=True)
    share_used = QuantityField(source="share", kind="share", allow_null=True)
    source = serializers.CharField()  # type: ignore[assignment]
    factor_source = serializers.CharField()


class AdviceSerializer(serializers.Serializer):
    served = ServedSerializer(many=True)
    stated_dbse = StatedDbseSerializer(many=True, help_text="What follows from the overhangs the sheet states.")
    holding = HeldSerializer(allow_null=True, help_text="The set screws of one hub against the torque at rating.")
    warnings = serializers.ListField(child=serializers.CharField())
    missing = serializers.ListField(child=serializers.CharField(), help_text="What the sheet would have to state.")


class PreviewSerializer(serializers.Serializer):
    left_on = serializers.DateField()
    verdict_then = serializers.CharField(help_text="As signed; it stays.")
    verdict_by_new = serializers.CharField(help_text="The same figures by the new limits: a preview, no record.")
    tolerance_used_then = serializers.FloatField(allow_null=True)
    tolerance_used_by_new = serializers.FloatField(allow_null=True)


class TouchedFitSerializer(serializers.Serializer):
    fit = serializers.UUIDField(source="fit.uuid")
    coupling = serializers.UUIDField(source="fit.coupling.uuid")
    tag = serializers.CharField(source="fit.coupling.tag")
    number = serializers.IntegerField(help_text="The version it is held to now.")
    differences = DifferenceSerializer(many=True)
    preview = PreviewSerializer(allow_null=True, help_text="Null where nothing was left on record.")


class TouchedSerializer(serializers.Serializer):
    version = serializers.IntegerField()
    not_adoptable = serializers.CharField(help_text="Why nothing may adopt it today; empty: it may be adopted.")
    fits = TouchedFitSerializer(many=True)


class LimitChangeSerializer(NounSerializer):
    fixed = ("id", "site")

    id = serializers.UUIDField(source="uuid", read_only=True)
    version = serializers.IntegerField(read_only=True)
    site = RootField(read_only=True)
    data_sheet = RootField(DataSheet, source="sheet_version.sheet", read_only=True)
    data_sheet_version = serializers.IntegerField(source="sheet_version.number", read_only=True)
    compared_with = serializers.IntegerField(source="before.number", read_only=True)
    reason = serializers.CharField(read_only=True)
    change_number = serializers.CharField(read_only=True)
    from_on = serializers.DateField(read_only=True)
    proposed_by = serializers.CharField(read_only=True)
    proposed_at = serializers.DateTimeField(read_only=True)
    decision = serializers.ChoiceField(choices=LimitChange.Decision.choices, read_only=True)
    decided_by = serializers.SerializerMethodField()
    decided_at = serializers.DateTimeField(read_only=True, allow_null=True)
    decision_reason = serializers.CharField(read_only=True)

    def get_decided_by(self, change: LimitChange) -> str | None:
        return str(change.decided_by) if change.decided_by is not None else None


class DecisionSerializer(NounSerializer):
    reason = serializers.CharField(max_length=400, required=False, allow_blank=True)
