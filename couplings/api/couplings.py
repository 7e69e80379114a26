"""Couplings as places in trains, with the cold position wanted and what they are held to."""

from typing import Any

from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from couplings.api.naming import named
from couplings.api.planes import ANGULARITY, OFFSET, AngularityField, OffsetField, both_planes
from couplings.api.stated import quantity_schema
from couplings.models import Coupling, Grade, TargetPart
from couplings.selectors import fit_at, limits_of, target_of
from couplings.selectors.shafts import speed_disagreements
from couplings.services import couplings, moving
from plant import units
from plant.api import etags
from plant.api.acting import acting
from plant.api.bulk import CreateMany
from plant.api.fields import ExternalRefField, NounSerializer, QuantityField, RootField, SiteField
from plant.api.filters import ByExternalRef, ByRoot, Filters, filters
from plant.api.views import ChangeRoots, CreateRoots, RootViewSet
from plant.models import Train
from plant.refusals import Missing, Refused

LENGTHS = frozenset({"offset", "axial"})
FIGURES = {
    "offset_v_mm": "offset.vertical",
    "offset_h_mm": "offset.horizontal",
    "slope_v_mrad": "angularity.vertical",
    "slope_h_mrad": "angularity.horizontal",
}


IF_MATCH = OpenApiParameter(
    "If-Match", str, OpenApiParameter.HEADER, required=True, description="The ETag that was read."
)


TARGET = {"offset": OFFSET, "angularity": ANGULARITY}
PART = {
    "kind": {"type": "string", "enum": list(TargetPart.Kind.values)},
    **TARGET,
    "by": {"type": ["string", "null"]},
    "on": {"type": "string", "format": "date"},
    "note": {"type": "string"},
}
HELD_TO = {
    "type": "object",
    "properties": {
        "fit": {"type": ["string", "null"], "format": "uuid"},
        "rule": {"type": ["string", "null"]},
        "combined": {"type": ["boolean", "null"]},
        "limits": {
            "type": "array",
            "items": {
                "type": "object",
                "properties": {
                    "quantity": {"type": "string"},
                    "value": quantity_schema(("gap", "slope")),
                    "family": {"type": "string", "enum": ["sheet", "grade"]},
                    "source": {"type": "string"},
                },
            },
        },
    },
}


class PositionField(serializers.IntegerField):
    """A machine of the coupling's train by its position; in a change of a coupling the machine that stands there."""

    def to_internal_value(self, data: Any) -> Any:
        position = super().to_internal_value(data)
        coupling = self.parent.instance if self.parent is not None else None
        there = getattr(coupling, str(self.source), None)
        return there if there is not None and there.position == position else position

    def to_representation(self, value: Any) -> int:
        return value.position


class TargetPartSerializer(NounSerializer):
    offset = OffsetField(required=False, help_text="At the coupling's centre.")
    angularity = AngularityField(required=False)
    note = serializers.CharField(max_length=200, allow_blank=True, required=False)


class CouplingSerializer(NounSerializer):
    fixed = ("id", "train", "driver_position", "driven_position")

    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField(read_only=True)
    train = RootField(Train)
    driver_position = PositionField(source="driver_machine", help_text="Of the machine on the driver side.")
    driver_name = serializers.CharField(source="driver_machine.name", read_only=True)
    driven_position = PositionField(source="driven_machine", help_text="The next after it.")
    driven_name = serializers.CharField(source="driven_machine.name", read_only=True)
    tag = serializers.CharField(max_length=40)
    name = serializers.CharField(max_length=120, allow_blank=True, required=False)
    speed = QuantityField(
        source="rpm",
        kind="speed",
        required=False,
        help_text="The highest of its shafts; not given, it is theirs, as are the lowest speed and the power.",
    )
    lowest_speed = QuantityField(
        source="lowest_rpm", kind="speed", required=False, allow_null=True, help_text="Only where the speed varies."
    )
    power = QuantityField(source="power_kw", kind="power", required=False, allow_null=True)
    grade = RootField(Grade, required=False, allow_null=True, help_text="Null: that of the train's criticality.")
    grade_reason = serializers.CharField(max_length=200, allow_blank=True, required=False)
    retired_on = serializers.DateField(read_only=True, allow_null=True)
    successor = RootField(read_only=True, allow_null=True)
    predecessors = RootField(many=True, read_only=True, help_text="Whose record goes on here.")
    disagreement = serializers.SerializerMethodField(
        help_text="Where its speeds and those of the shafts it joins cannot both be true; empty where they can."
    )
    target = serializers.SerializerMethodField(help_text="The cold position wanted, the sum of its parts.")
    external_ref = ExternalRefField()

    def get_disagreement(self, coupling: Coupling) -> str:
        return " ".join(speed_disagreements(coupling).values())

    @extend_schema_field(
        {
            "type": "object",
            "properties": TARGET | {"parts": {"type": "array", "items": {"type": "object", "properties": PART}}},
        }
    )
    def get_target(self, coupling: Coupling) -> dict[str, Any]:
        system = self.context.get("system", units.METRIC)
        parts = [
            {
                "kind": part.kind,
                **both_planes([getattr(part, name) for name in FIGURES], system),
                "by": str(part.by) if part.by is not None else None,
                "on": part.on.isoformat(),
                "note": part.note,
            }
            for part in coupling.target_parts.all()
        ]
        return both_planes(target_of(coupling), system) | {"parts": parts}


class RetireSerializer(NounSerializer):
    on = serializers.DateField()
    successor = RootField(Coupling, required=False, allow_null=True)


class SuccessorSerializer(NounSerializer):
    on = serializers.DateField()
    tag = serializers.CharField(max_length=40)
    name = serializers.CharField(max_length=120, allow_blank=True, required=False)
    speed = QuantityField(source="rpm", kind="speed", required=False, help_text="As before, if left out.")
    lowest_speed = QuantityField(source="lowest_rpm", kind="speed", required=False, allow_null=True)
    power = QuantityField(source="power_kw", kind="power", required=False, allow_null=True)
    with_fit = serializers.BooleanField(required=False, help_text="What is fitted here goes over to the successor.")


class CouplingFilters(Filters):
    site = ByRoot("site")
    train = ByRoot("train")
    tag = filters.CharFilter()
    retired = filters.BooleanFilter(field_name="retired_on", lookup_expr="isnull", exclude=True)
    external_ref = ByExternalRef()

    class Meta:
        model = Coupling
        fields: list[str] = []


class CouplingViewSet(CreateRoots, ChangeRoots, CreateMany, RootViewSet):
    """The place between two neighbouring machines of a train."""

    noun_class = Coupling
    serializer_class = CouplingSerializer
    filterset_class = CouplingFilters
    ordering = ("tag",)

    def related(self, queryset: Any) -> Any:
        joined = queryset.select_related("train", "driver_machine", "driven_machine", "grade", "successor")
        return joined.prefetch_related("target_parts__by", "predecessors")

    def make(self, **given: Any) -> Coupling:
        at = {machine.position: machine for machine in given["train"].machines.all()}
        sides = ("driver_machine", "driven_machine")
        if nobody := [side for side in sides if given[side] not in at]:
            raise Refused(dict.fromkeys(nobody, "This train has no machine at this position."))
        return couplings.register_coupling(**given | {side: at[given[side]] for side in sides})

    def change(self, root: Coupling, expected: int | None, **given: Any) -> Coupling:
        return couplings.change_coupling(coupling=root, expected=expected, **given)

    @action(detail=True, methods=["post"], serializer_class=RetireSerializer)
    def retire(self, request: Request, id: Any) -> Response:
        """Take the coupling out of the register; its record stays. If-Match is honoured."""
        return self.act(request, lambda coupling, **given: couplings.retire_coupling(coupling=coupling, **given))

    @extend_schema(responses={201: CouplingSerializer})
    @action(detail=True, methods=["post"], serializer_class=SuccessorSerializer)
    def succeed(self, request: Request, id: Any) -> Response:
        """Retire it and register its successor at the same place; answers with the successor. If-Match is honoured."""
        with acting(request) as unit:
            coupling = self.get_object()
            expected = etags.expected_if_given(request, coupling)
            successor = moving.succeed_coupling(coupling=coupling, expected=expected, **self.given(request))
            return self.answer(unit, successor, 201)

    @extend_schema(responses={200: CouplingSerializer}, parameters=[IF_MATCH])
    @action(detail=True, methods=["put"], url_path="target/<slug:kind>", serializer_class=TargetPartSerializer)
    def target_part(self, request: Request, id: Any, kind: str) -> Response:
        """Set one part of the target, with If-Match; what is not given is 0. Answers with the coupling."""
        with acting(request) as unit:
            coupling = self.get_object()
            expected = etags.expected(request, coupling)
            given = self.given(request)
            figures, note = _figures(given), given.get("note", "")
            with named(lambda field: FIGURES.get(field, field)):
                couplings.set_target(coupling=coupling, kind=_known_kind(kind), note=note, expected=expected, **figures)
            return self.answer(unit, coupling)

    @extend_schema(responses={200: CouplingSerializer})
    @target_part.mapping.delete
    def remove_target_part(self, request: Request, id: Any, kind: str) -> Response:
        """Take one part out of the target, with If-Match. Answers with the coupling."""
        with acting(request) as unit:
            coupling = self.get_object()
            expected = etags.expected(request, coupling)
            couplings.remove_target(coupling=coupling, kind=_known_kind(kind), expected=expected)
            return self.answer(unit, coupling)

    @extend_schema(responses={200: HELD_TO})
    @action(detail=True)
    def limits(self, request: Request, id: Any) -> Response:
        """What is fitted there is held to these limits: its data sheet's and its speed grade's."""
        coupling = self.get_object()
        fit = fit_at(coupling)
        if fit is None:
            return Response({"fit": None, "rule": None, "combined": None, "limits": []})
        held = limits_of(coupling, fit.sheet_version)
        system = self.units or coupling.site.units
        rows = [
            {
                "quantity": limit.quantity,
                "value": units.quantity(limit.value, "gap" if limit.quantity in LENGTHS else "slope", system),
                "family": limit.family,
                "source": limit.source,
            }
            for limit in held.limits
        ]
        return Response({"fit": str(fit.uuid), "rule": held.rule, "combined": held.combined, "limits": rows})


def _figures(given: dict[str, Any]) -> dict[str, float]:
    read = {}
    for column, place in FIGURES.items():
        figure, plane = place.split(".")
        if plane in given.get(figure, {}):
            read[column] = given[figure][plane]
    return read


def _known_kind(kind: str) -> str:
    if kind not in TargetPart.Kind.values:
        raise Missing(f"A target has these parts: {', '.join(TargetPart.Kind.values)}.")
    return kind
