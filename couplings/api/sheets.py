"""Data sheets with their versions. Everything about a version rides on the sheet's ETag."""

from typing import Any

from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from couplings.api.joints import JointSerializer
from couplings.api.naming import named
from couplings.api.stated import LimitSerializer
from couplings.api.wear import WearLimitSerializer
from couplings.models import DataSheet, Family, SheetVersion
from couplings.selectors.sheets import VERSION_FIELDS, versions_of
from couplings.services import sheets
from plant.api import etags
from plant.api.acting import acting
from plant.api.fields import NounSerializer, QuantityField, SiteField, outside
from plant.api.filters import ByRoot, Filters, filters
from plant.api.views import ChangeRoots, CreateRoots, RootViewSet
from plant.refusals import Missing

FIRST = "first_version"


def quantity(source: str, kind: str, **options: Any) -> QuantityField:
    return QuantityField(source=source, kind=kind, required=False, allow_null=True, **options)


class ContentSerializer(NounSerializer):
    """What a version says: sizes, limits as the sheet states them, joints."""

    rule = serializers.ChoiceField(choices=SheetVersion.Rule.choices, required=False)
    combined = serializers.BooleanField(required=False, help_text="Sum of value over limit at most 1, too.")
    dbse = quantity("dbse_mm", "size", help_text="Distance between shaft ends, nominal.")
    dbse_tolerance = quantity("dbse_tolerance_mm", "gap")
    flex_distance = quantity("flex_distance_mm", "size", help_text="Between the flex planes.")
    hub_length = quantity("hub_length_mm", "size", help_text="Bore length of one hub.")
    hub_diameter = quantity("hub_diameter_mm", "size")
    max_speed = quantity("max_rpm", "speed")
    torque_rating = quantity("torque_rating_nm", "torque")
    set_screw_count = serializers.IntegerField(min_value=0, max_value=100, required=False, help_text="Per hub.")
    set_screw_size = serializers.CharField(max_length=20, allow_blank=True, required=False)
    set_screw_torque = quantity("set_screw_torque_nm", "screw-torque")
    set_screw_angle = quantity("set_screw_angle_deg", "angle", help_text="Between the two screws of a row.")
    set_screw_holding = quantity("set_screw_holding_n", "force", help_text="Axial, of one screw; with its source.")
    set_screw_holding_source = serializers.CharField(max_length=200, allow_blank=True, required=False)
    bore = quantity("bore_mm", "size", help_text="Of the hubs; the smaller where they differ.")
    fit_hole = serializers.CharField(
        max_length=4, allow_blank=True, required=False, help_text="Class of the bore, such as H7; with the shaft's."
    )
    fit_shaft = serializers.CharField(
        max_length=4, allow_blank=True, required=False, help_text="Class of the shaft, such as m6."
    )
    key_standard = serializers.ChoiceField(choices=SheetVersion.KeyStandard.choices, allow_blank=True, required=False)
    mounting_kind = serializers.ChoiceField(
        choices=SheetVersion.Mounting.choices, allow_blank=True, required=False, help_text="How the hubs are held."
    )
    element_part = serializers.CharField(max_length=60, allow_blank=True, required=False)
    element_shelf_years = serializers.FloatField(
        required=False, allow_null=True, help_text="Years from the cure date, 0.1 to 100."
    )
    element_polymer = serializers.CharField(
        max_length=10, allow_blank=True, required=False, help_text="ISO 1629 letters; its storage rule follows."
    )
    hardness_scale = serializers.ChoiceField(choices=SheetVersion.Shore.choices, allow_blank=True, required=False)
    hardness_change = serializers.FloatField(
        required=False, allow_null=True, help_text="Points of the scale from the element's own first reading, at most."
    )
    lubricant = serializers.CharField(max_length=80, allow_blank=True, required=False, help_text="By its name.")
    lubricant_quantity = quantity("lubricant_g", "mass", help_text="Of one fill.")
    lubricant_months = serializers.IntegerField(
        min_value=1, max_value=600, required=False, allow_null=True, help_text="Between fills."
    )
    note = serializers.CharField(max_length=4000, allow_blank=True, required=False)
    limits = LimitSerializer(many=True, required=False, help_text="The whole list; one limit per quantity.")
    joints = JointSerializer(many=True, required=False, help_text="The whole list.")
    wear_limits = WearLimitSerializer(many=True, required=False, help_text="The whole list; one limit per code.")


class VersionSerializer(ContentSerializer):
    number = serializers.IntegerField(read_only=True)
    published_at = serializers.DateTimeField(read_only=True, allow_null=True)
    published_by = serializers.SerializerMethodField(help_text="Who put it into force.")
    digest = serializers.CharField(read_only=True, help_text="SHA-256 of its canonical text; empty until published.")

    def get_published_by(self, version: SheetVersion) -> str | None:
        return str(version.published_by) if version.published_by is not None else None


class DataSheetSerializer(NounSerializer):
    fixed = ("id", "site", "versions")

    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    site = SiteField()
    family = serializers.SlugRelatedField(slug_field="code", queryset=Family.objects.all())
    designation = serializers.CharField(max_length=80)
    note = serializers.CharField(max_length=4000, allow_blank=True, required=False)
    versions = VersionSerializer(many=True, read_only=True)


class NewSheetSerializer(DataSheetSerializer):
    first_version = ContentSerializer(required=False, write_only=True)


class NothingSerializer(NounSerializer):
    """An act that needs no more than its address."""


class DataSheetFilters(Filters):
    site = ByRoot("site")
    family = filters.CharFilter(field_name="family__code")
    designation = filters.CharFilter()

    class Meta:
        model = DataSheet
        fields: list[str] = []


@extend_schema_view(create=extend_schema(responses={201: DataSheetSerializer}))
class DataSheetViewSet(CreateRoots, ChangeRoots, RootViewSet):
    """Limits and sizes of one coupling design as the site entered them; a published version never changes."""

    noun_class = DataSheet
    serializer_class = DataSheetSerializer
    filterset_class = DataSheetFilters
    ordering = ("designation",)

    def get_serializer_class(self) -> Any:
        return NewSheetSerializer if self.action == "create" else self.serializer_class

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("family").prefetch_related(versions_of())

    def make(self, *, first_version: dict[str, Any] | None = None, note: str = "", **given: Any) -> DataSheet:
        with named(_below_first):
            return sheets.write_sheet(sheet_note=note, **given, **(first_version or {}))

    def change(self, root: DataSheet, expected: int | None, **given: Any) -> DataSheet:
        return sheets.change_sheet(sheet=root, expected=expected, **given)

    @extend_schema(responses={201: DataSheetSerializer})
    @action(detail=True, methods=["post"], url_path="versions", serializer_class=NothingSerializer)
    def begin_version(self, request: Request, id: Any) -> Response:
        """Begin the next version as a copy of the latest; answers with the sheet. If-Match is honoured."""
        return self.act(request, lambda sheet: sheets.begin_version(sheet=sheet), status=201)

    @extend_schema(responses={200: VersionSerializer})
    @action(detail=True, url_path="versions/<int:number>", serializer_class=VersionSerializer)
    def one_version(self, request: Request, id: Any, number: int) -> Response:
        """One version."""
        version = self._version(self.get_object(), number)
        context = self.get_serializer_context() | {"system": self.units or version.sheet.site.units}
        return Response(VersionSerializer(version, context=context).data, headers={"ETag": etags.etag(version.sheet)})

    @extend_schema(responses={200: DataSheetSerializer})
    @one_version.mapping.patch
    def change_version(self, request: Request, id: Any, number: int) -> Response:
        """Change an unpublished version, from the sheet's ETag in If-Match; answers with the sheet."""
        with acting(request) as unit:
            sheet = self.get_object()
            version = self._version(sheet, number)
            expected = etags.expected(request, sheet)
            sheets.change_version(version=version, expected=expected, **self.given(request, version))
            return self.answer(unit, sheet)

    @action(
        detail=True,
        methods=["post"],
        url_path="versions/<int:number>/publish",
        serializer_class=NothingSerializer,
    )
    def publish(self, request: Request, id: Any, number: int) -> Response:
        """Put a version into force; answers with the sheet. If-Match is honoured."""
        return self.act(request, lambda sheet: sheets.publish_version(version=self._version(sheet, number)))

    def _version(self, sheet: DataSheet, number: int) -> SheetVersion:
        version = next((version for version in sheet.versions.all() if version.number == number), None)
        if version is None:
            raise Missing()
        return version


def _below_first(path: str) -> str:
    """A service's path into the version, where the sender wrote it: below first_version."""
    if path.split(".")[0] not in (*VERSION_FIELDS, "limits", "joints", "wear_limits") or path == "note":
        return path
    return f"{FIRST}.{outside(path, ContentSerializer())}"
