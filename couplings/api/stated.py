"""A limit in the way its sheet states it: a length, a slope, degrees, or a gap difference over a diameter."""

from collections.abc import Iterable
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from couplings.models import SheetLimit
from couplings.selectors.sheet_words import STATED_KINDS as KIND_OF
from plant import units
from plant.api.fields import NounSerializer, QuantityField

# What an angle may be sent in follows from how it is stated: a slope sent in degrees would no longer be as printed.
SORT_OF = {"slope": "slope", "degrees": "angle"}
ANGLES = frozenset({"angularity", "flex-angle"})


def quantity_schema(kinds: Iterable[str], nullable: bool = False) -> dict[str, Any]:
    """A quantity of any of these kinds, for the documentation."""
    names = sorted({name for kind in kinds for name in units.units_for(kind)})
    return {
        "type": ["object", "null"] if nullable else "object",
        "required": ["value", "unit"],
        "additionalProperties": False,
        "properties": {"value": {"type": "number"}, "unit": {"type": "string", "enum": names}},
    }


@extend_schema_field(quantity_schema(KIND_OF.values()))
class StatedField(serializers.Field):
    """The stated value with its unit; which kind it is of is said by `stated_as` beside it."""

    def to_internal_value(self, data: Any) -> Any:
        return data

    def to_representation(self, value: Any) -> Any:
        return value


class LimitSerializer(NounSerializer):
    quantity = serializers.ChoiceField(choices=SheetLimit.Quantity.choices)
    stated_as = serializers.ChoiceField(choices=SheetLimit.Stated.choices)
    stated = StatedField(
        source="stated_value",
        help_text='{"value", "unit"}: a length, a slope (mm/m, thou/inch, mrad) or degrees, as `stated_as` says.',
    )
    over_diameter = QuantityField(
        source="over_diameter_mm",
        kind="size",
        required=False,
        allow_null=True,
        help_text="Of the points gapped; with a gap difference only.",
    )
    judged_by = serializers.SerializerMethodField(help_text="The same as a length, or as a slope.")

    def to_internal_value(self, data: Any) -> Any:
        given = super().to_internal_value(data)
        given["stated_value"] = _stated(given["stated_value"], given["stated_as"])
        return given

    def to_representation(self, limit: SheetLimit) -> dict[str, Any]:
        shown = super().to_representation(limit)
        shown["stated"] = units.quantity(limit.stated_value, KIND_OF[limit.stated_as], self.system)
        return shown

    @extend_schema_field(quantity_schema(("gap", "slope")))
    def get_judged_by(self, limit: SheetLimit) -> dict[str, Any] | None:
        return units.quantity(limit.value, "slope" if limit.quantity in ANGLES else "gap", self.system)

    @property
    def system(self) -> str:
        return self.context.get("system", units.METRIC)


def _stated(given: Any, stated_as: str) -> float:
    kind = KIND_OF[stated_as]
    try:
        value = units.parse(given, kind)
    except units.UnitError as error:
        raise serializers.ValidationError({"stated": [serializers.ErrorDetail(str(error), code="quantity")]}) from None
    unit = units.UNITS[units.as_given(given, kind, units.METRIC)["unit"]]
    if unit.what != SORT_OF.get(stated_as, unit.what):
        said = "a slope such as mm/m" if stated_as == "slope" else "an angle in deg"
        message = f"{unit.name} does not go with “{stated_as}”: expected {said}, or say how the sheet states it."
        raise serializers.ValidationError({"stated": [serializers.ErrorDetail(message, code="quantity")]})
    return value
