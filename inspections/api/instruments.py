"""Which visits an instrument measured in, for whoever has to look at them again."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.mixins import ListModelMixin
from rest_framework.viewsets import GenericViewSet

from couplings.models import Calibration, Instrument
from couplings.selectors import IN_CALIBRATION, NOT_KNOWN, OUT_OF_CALIBRATION
from inspections.models import Visit
from inspections.selectors.instruments import Use, instrument_uses, instrument_visits
from plant.api.paging import Pages
from plant.api.views import ApiView
from plant.refusals import Missing


class NextCertificateSerializer(serializers.Serializer):
    on = serializers.DateField()
    certificate = serializers.CharField()
    result = serializers.ChoiceField(choices=Calibration.Result.choices)


class InstrumentUseSerializer(serializers.Serializer):
    """One signed visit that names the instrument."""

    visit = serializers.UUIDField(source="visit.uuid")
    coupling = serializers.UUIDField(source="visit.coupling.uuid")
    on = serializers.DateField(source="visit.on")
    measured = serializers.ListField(child=serializers.CharField(), help_text="What was measured with it.")
    calibration = serializers.ChoiceField(
        choices=[IN_CALIBRATION, OUT_OF_CALIBRATION, NOT_KNOWN], help_text="On that day, by its certificates."
    )
    next_certificate = serializers.SerializerMethodField(help_text="The one that followed; null: none yet.")
    in_doubt = serializers.BooleanField(help_text="The next certificate found it outside its limits.")

    @extend_schema_field(NextCertificateSerializer(allow_null=True))
    def get_next_certificate(self, use: Use) -> dict[str, Any] | None:
        return NextCertificateSerializer(use.next_one).data if use.next_one is not None else None


class InstrumentUseViewSet(ApiView, ListModelMixin, GenericViewSet):
    """Signed visits that an instrument measured in, the latest first, and what its certificates say of those days."""

    queryset = Visit.objects.none()
    serializer_class = InstrumentUseSerializer
    pagination_class = Pages
    ordering = ("-on",)
    parameters = frozenset({"cursor", "limit"})

    def list(self, request: Any, id: Any) -> Any:
        """Visits whose texts in force name the instrument, in pages."""
        instrument = Instrument.objects.visible_to(self.person).filter(uuid=id).first()
        if instrument is None:
            raise Missing()
        visits = self.paginate_queryset(instrument_visits(instrument, self.person))
        rows = InstrumentUseSerializer(instrument_uses(instrument, visits or []), many=True)
        return self.get_paginated_response(rows.data)
