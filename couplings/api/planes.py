"""One figure in both planes: `{"vertical": {…}, "horizontal": {…}}`, up and right positive."""

from collections.abc import Sequence
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from couplings.api.stated import quantity_schema
from plant import units


def _schema(kind: str) -> dict[str, Any]:
    figure = quantity_schema((kind,))
    return {
        "type": "object",
        "additionalProperties": False,
        "properties": {"vertical": figure, "horizontal": figure},
    }


OFFSET, ANGULARITY = _schema("gap"), _schema("slope")


class PlanesField(serializers.Field):
    """What is not given stays out: its reader decides what that means."""

    kind: str

    def to_internal_value(self, data: Any) -> dict[str, float]:
        if not isinstance(data, dict) or set(data) - {"vertical", "horizontal"}:
            raise serializers.ValidationError('Write {"vertical": …, "horizontal": …}.')
        read, errors = {}, {}
        for plane, given in data.items():
            try:
                read[plane] = units.parse(given, self.kind)
            except units.UnitError as error:
                errors[plane] = [serializers.ErrorDetail(str(error), code="quantity")]
        if errors:
            raise serializers.ValidationError(errors)
        return read


@extend_schema_field(OFFSET)
class OffsetField(PlanesField):
    kind = "gap"


@extend_schema_field(ANGULARITY)
class AngularityField(PlanesField):
    kind = "slope"


def both_planes(figures: Sequence[float], system: str) -> dict[str, Any]:
    """Offset V and H in mm, slope V and H in mrad, as the API answers them."""
    offset_v, offset_h, slope_v, slope_h = figures
    return {
        "offset": {
            "vertical": units.quantity(offset_v, OffsetField.kind, system),
            "horizontal": units.quantity(offset_h, OffsetField.kind, system),
        },
        "angularity": {
            "vertical": units.quantity(slope_v, AngularityField.kind, system),
            "horizontal": units.quantity(slope_h, AngularityField.kind, system),
        },
    }
