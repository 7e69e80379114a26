"""Units by serial number, and the machine positions they stood in."""

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from plant.api import etags
from plant.api.acting import acting, answered
from plant.api.bulk import CreateMany
from plant.api.fields import ExternalRefField, NounSerializer, RootField, SiteField
from plant.api.filters import ByExternalRef, ByRoot, Filters, filters
from plant.api.service import IF_MATCH
from plant.api.views import ChangeRoots, CreateRoots, RootViewSet
from plant.models import Machine, MachineUnit, Train, UnitStay
from plant.refusals import Missing, Refused
from plant.selectors.units import stays_of
from plant.services import units

HUB = "With its hub half on. Null: not known."


class UnitSerializer(NounSerializer):
    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField()
    kind = serializers.CharField(max_length=60, help_text="What it is: motor, pump, gear unit.")
    serial = serializers.CharField(max_length=60)
    plate = serializers.CharField(
        max_length=2000, allow_blank=True, required=False, help_text="What else its plate says, as free text."
    )
    note = serializers.CharField(max_length=2000, allow_blank=True, required=False)
    external_ref = ExternalRefField()


class UnitStaySerializer(NounSerializer):
    """One stay as it is answered, and as it is corrected."""

    fixed = ("id", "unit", "train", "position")

    id = serializers.UUIDField(source="uuid", read_only=True)
    unit = RootField(read_only=True)
    train = RootField(source="machine.train", read_only=True)
    position = serializers.IntegerField(source="machine.position", read_only=True)
    from_at = serializers.DateTimeField(allow_null=True, help_text="Null: since before the record began.")
    until_at = serializers.DateTimeField(allow_null=True, required=False, help_text="Null: it stands there.")
    came_with_hub = serializers.BooleanField(allow_null=True, required=False, help_text=HUB)
    left_with_hub = serializers.BooleanField(allow_null=True, required=False, help_text=HUB)
    reason = serializers.CharField(max_length=200, allow_blank=True, required=False, help_text="Why it was taken out.")
    went_to = serializers.CharField(max_length=120, allow_blank=True, required=False)


class PlaceSerializer(NounSerializer):
    train = RootField(Train)
    position = serializers.IntegerField(min_value=1, max_value=6, help_text="1 is the driver end.")

    def machine(self) -> Machine:
        """The machine position named."""
        given = self.validated_data
        found = given["train"].machines.filter(position=given["position"]).first()
        if found is None:
            raise Refused({"position": "This train has no machine at this position."})
        found.train = given["train"]
        return found


class InstallSerializer(PlaceSerializer):
    at = serializers.DateTimeField(allow_null=True, help_text="Null: it stood there before the record began.")
    came_with_hub = serializers.BooleanField(allow_null=True, default=None, help_text=HUB)


class TakeOutSerializer(NounSerializer):
    at = serializers.DateTimeField()
    reason = serializers.CharField(max_length=200)
    went_to = serializers.CharField(max_length=120, allow_blank=True, default="", help_text="Workshop, store, scrap.")
    left_with_hub = serializers.BooleanField(allow_null=True, default=None, help_text=HUB)


class UnitSwapSerializer(PlaceSerializer, TakeOutSerializer):
    came_with_hub = serializers.BooleanField(allow_null=True, default=None, help_text=HUB)


class UnitFilters(Filters):
    site = ByRoot("site")
    kind = filters.CharFilter()
    serial = filters.CharFilter()
    external_ref = ByExternalRef()
    train = filters.UUIDFilter(method="now_in", label="Units that stand in this train now.")

    class Meta:
        model = MachineUnit
        fields: list[str] = []

    def now_in(self, rows: Any, name: str, value: UUID) -> Any:
        standing = UnitStay.objects.filter(machine__train__uuid=value, until_at__isnull=True)
        return rows.filter(pk__in=standing.values("unit_id"))


class MachineUnitViewSet(CreateRoots, ChangeRoots, CreateMany, RootViewSet):
    """A motor, pump or gear unit by its serial number, wherever it stands; its stays are its history."""

    noun_class = MachineUnit
    serializer_class = UnitSerializer
    filterset_class = UnitFilters
    ordering = ("kind", "serial")

    def make(self, **given: Any) -> MachineUnit:
        return units.register_unit(**given)

    def change(self, root: MachineUnit, expected: int | None, **given: Any) -> MachineUnit:
        return units.change_unit(unit=root, expected=expected, **given)

    @extend_schema(responses={200: UnitStaySerializer(many=True)})
    @action(detail=True, serializer_class=UnitStaySerializer, ordering=("-pk",))
    def stays(self, request: Request, id: Any) -> Response:
        """Everywhere this unit stood, what was entered last first."""
        rows = self.paginate_queryset(stays_of(self.get_object()))
        return self.get_paginated_response(UnitStaySerializer(rows, many=True).data)

    @extend_schema(responses={201: UnitStaySerializer})
    @action(detail=True, methods=["post"], serializer_class=InstallSerializer)
    def install(self, request: Request, id: Any) -> Response:
        """Put the unit into an empty machine position. If-Match is honoured."""
        return self._moved(request, units.install_unit)

    @extend_schema(responses={201: UnitStaySerializer})
    @action(detail=True, methods=["post"], url_path="swap-in", serializer_class=UnitSwapSerializer)
    def swap_in(self, request: Request, id: Any) -> Response:
        """Exchange what stands in a position for this unit at one moment. If-Match is honoured.

        Reason, where it went and `left_with_hub` speak of the old unit.
        """
        return self._moved(request, lambda **given: units.swap_unit(**given)[1])

    @extend_schema(responses={201: UnitStaySerializer})
    @action(detail=True, methods=["post"], url_path="take-out", serializer_class=TakeOutSerializer)
    def take_out(self, request: Request, id: Any) -> Response:
        """Take the unit out of its position. If-Match is honoured."""
        return self._moved(request, units.take_out_unit)

    @extend_schema(responses={200: UnitStaySerializer}, parameters=[IF_MATCH])
    @action(detail=True, methods=["patch"], url_path="stays/<uuid:stay>", serializer_class=UnitStaySerializer)
    def correct_stay(self, request: Request, id: Any, stay: UUID) -> Response:
        """Correct the times and facts of a stay, with If-Match."""
        with acting(request) as unit:
            root = self.get_object()
            found = _stay(root, stay)
            expected = etags.expected(request, root)
            done = units.correct_stay(stay=found, expected=expected, **self.given(request, found))
            return answered(unit, UnitStaySerializer(done).data, etag=etags.etag(done.unit))

    @extend_schema(responses={204: None}, parameters=[IF_MATCH])
    @correct_stay.mapping.delete
    def remove_stay(self, request: Request, id: Any, stay: UUID) -> Response:
        """Take back a stay that never was, with If-Match."""
        with acting(request) as unit:
            root = self.get_object()
            units.remove_stay(stay=_stay(root, stay), expected=etags.expected(request, root))
            return answered(unit, None, status=204)

    def _moved(self, request: Request, service: Any) -> Response:
        with acting(request) as unit:
            root = self.get_object()
            form = self.get_serializer(data=request.data)
            form.is_valid(raise_exception=True)
            given = dict(form.validated_data)
            if isinstance(form, PlaceSerializer):
                del given["train"], given["position"]
                given["machine"] = form.machine()
            stay = service(unit=root, expected=etags.expected_if_given(request, root), **given)
            return answered(unit, UnitStaySerializer(stay).data, status=201, etag=etags.etag(root))


def _stay(root: MachineUnit, uuid: UUID) -> UnitStay:
    units.require(root)
    found = stays_of(root).filter(uuid=uuid).first()
    if found is None:
        raise Missing()
    return found
