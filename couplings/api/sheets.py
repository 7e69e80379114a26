"""Data sheets with their versions. Everything about a version rides on the sheet's ETag."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_view
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from couplings.api.joints import JointSerializer
from couplings.api.naming import named
from couplings.api.sheet_acts import (
    AdoptSerializer,
    AdviceSerializer,
    ComparisonSerializer,
    CopySerializer,
    PublishSerializer,
    TouchedSerializer,
)
from couplings.api.sheet_rows import (
    HoldPointSerializer,
    HubSerializer,
    PartSerializer,
    ScrewSerializer,
    SpacerSerializer,
)
from couplings.api.stated import LimitSerializer
from couplings.api.wear import WearLimitSerializer
from couplings.models import DataSheet, Family, SheetVersion
from couplings.selectors.adoption import touched_by
from couplings.selectors.limit_changes import not_adoptable
from couplings.selectors.sheet_advice import told_while_writing
from couplings.selectors.sheet_comparison import compare_versions
from couplings.selectors.sheet_lists import ROW_LISTS
from couplings.selectors.sheets import VERSION_FIELDS, versions_of
from couplings.services import adoption, sheets
from plant.api import etags
from plant.api.acting import acting
from plant.api.fields import NounSerializer, QuantityField, SiteField, outside
from plant.api.filters import ByRoot, Filters, filters
from plant.api.problems import BadQuery
from plant.api.views import ChangeRoots, CreateRoots, RootViewSet
from plant.refusals import Missing
from plant.sitetime import today_at

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
    hubs = HubSerializer(many=True, required=False, help_text="The whole list.")
    spacers = SpacerSerializer(many=True, required=False, help_text="The whole list.")
    screws = ScrewSerializer(many=True, required=False, help_text="The whole list: set or clamp screw by bore.")
    element_parts = PartSerializer(many=True, required=False, help_text="The whole list; one of them is standard.")
    hold_points = HoldPointSerializer(many=True, required=False, help_text="The whole list.")


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

    @extend_schema(responses={200: DataSheetSerializer})
    @action(
        detail=True,
        methods=["post"],
        url_path="versions/<int:number>/publish",
        serializer_class=PublishSerializer,
    )
    def publish(self, request: Request, id: Any, number: int) -> Response:
        """Put a version into force; answers with the sheet. If-Match is honoured.

        Where visits are held to other numbers than by the version before, its limit change is proposed with it.
        """
        return self.act(
            request, lambda sheet, **given: sheets.publish_version(version=self._version(sheet, number), **given)
        )

    @extend_schema(responses={201: DataSheetSerializer})
    @action(detail=True, methods=["post"], serializer_class=CopySerializer)
    def copy(self, request: Request, id: Any) -> Response:
        """Write a new data sheet that says all that a version of this one says, unpublished; answers with the copy."""
        with acting(request) as unit:
            return self.answer(unit, sheets.copy_sheet(sheet=self.get_object(), **self.given(request)), status=201)

    @extend_schema(
        responses={200: ComparisonSerializer},
        parameters=[
            OpenApiParameter("with", int, description="Number of the version compared with; else the one before.")
        ],
    )
    @action(detail=True, url_path="versions/<int:number>/comparison", serializer_class=ComparisonSerializer)
    def comparison(self, request: Request, id: Any, number: int) -> Response:
        """Every difference from another version of the same sheet, once, in the reader's units and words."""
        sheet = self.get_object()
        given = request.query_params.get("with", str(max(number - 1, 1)))
        if not (given.isascii() and given.isdigit() and int(given[:9]) >= 1):
            raise BadQuery({"with": "Write the number of a version of this data sheet."})
        before, after = self._version(sheet, int(given[:9])), self._version(sheet, number)
        found = compare_versions(before, after, self._system_of(sheet))
        return self._shown({"before": before.number, "after": after.number, "differences": found}, sheet)

    @extend_schema(responses={200: AdviceSerializer})
    @action(detail=True, url_path="versions/<int:number>/advice", serializer_class=AdviceSerializer)
    def advice(self, request: Request, id: Any, number: int) -> Response:
        """The DBSE that each orientation and length serves, and the set screws against the torque at rating. Advice."""
        sheet = self.get_object()
        told = told_while_writing(self._version(sheet, number), self._system_of(sheet))
        stated = [{"name": name, "dbse_mm": dbse} for name, dbse in told.stated_dbse_mm]
        return self._shown(
            {
                "served": told.served,
                "stated_dbse": stated,
                "holding": told.holding,
                "warnings": told.warnings,
                "missing": told.missing,
            },
            sheet,
        )

    @extend_schema(responses={200: TouchedSerializer})
    @action(detail=True, url_path="versions/<int:number>/touched", serializer_class=TouchedSerializer)
    def touched(self, request: Request, id: Any, number: int) -> Response:
        """The fits still on older versions: what adopting this one changes for each, and how it was left last."""
        sheet = self.get_object()
        if not self.person.reads_whole(sheet.site_id):
            # These fits stand in trains all over the site, which a contractor does not read.
            raise Missing()
        version = self._version(sheet, number)
        found = {
            "version": number,
            "not_adoptable": not_adoptable(version, today_at(sheet.site, timezone.now())),
            "fits": touched_by(version, self._system_of(sheet), self.person),
        }
        return self._shown(found, sheet)

    @extend_schema(responses={200: DataSheetSerializer})
    @action(detail=True, methods=["post"], url_path="versions/<int:number>/adopt", serializer_class=AdoptSerializer)
    def adopt(self, request: Request, id: Any, number: int) -> Response:
        """Hold fits to this version from now on; answers with the sheet. If-Match is honoured."""
        return self.act(
            request, lambda sheet, **given: adoption.adopt_version(version=self._version(sheet, number), **given)
        )

    def known_parameters(self) -> frozenset[str]:
        if self.action in ("comparison", "advice", "touched", "one_version"):
            return frozenset({"units"}) | ({"with"} if self.action == "comparison" else frozenset())
        return super().known_parameters()

    def _system_of(self, sheet: DataSheet) -> str:
        return self.units or sheet.site.units

    def _shown(self, found: dict[str, Any], sheet: DataSheet) -> Response:
        context = self.get_serializer_context() | {"system": self._system_of(sheet)}
        return Response(self.get_serializer_class()(found, context=context).data, headers={"ETag": etags.etag(sheet)})

    def _version(self, sheet: DataSheet, number: int) -> SheetVersion:
        version = next((version for version in sheet.versions.all() if version.number == number), None)
        if version is None:
            raise Missing()
        return version


def _below_first(path: str) -> str:
    """A service's path into the version, where the sender wrote it: below first_version."""
    if path.split(".")[0] not in (*VERSION_FIELDS, *ROW_LISTS) or path == "note":
        return path
    return f"{FIRST}.{outside(path, ContentSerializer())}"
