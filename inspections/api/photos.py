"""Photos of visits over the API: sent as a form with a file, listed with their digests, fetched as JPEG."""

from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from inspections.models import Photo
from inspections.selectors.photos import content_of
from inspections.selectors.visits import visit_for
from inspections.services.photos import add_photo, remove_photo
from plant import access
from plant.api.acting import acting, answered
from plant.api.fields import NounSerializer, RootField, SiteField
from plant.api.filters import ByRoot, Filters
from plant.api.views import RemoveRoots, RootViewSet
from plant.sending import as_jpeg


class PhotoSerializer(NounSerializer):
    """A photo as it is kept: written anew as JPEG, without anything but its pixels."""

    fixed = ("id", "visit", "step", "caption", "file")

    id = serializers.UUIDField(source="uuid", read_only=True)
    version = serializers.IntegerField(read_only=True)
    site = SiteField(read_only=True)
    visit = RootField(read_only=True)
    step = serializers.CharField(read_only=True, help_text="The step it belongs to; empty: the whole visit.")
    caption = serializers.CharField(read_only=True)
    digest = serializers.CharField(read_only=True, help_text="SHA-256 of the JPEG; the signed text repeats it.")
    width = serializers.IntegerField(read_only=True)
    height = serializers.IntegerField(read_only=True)
    weight = serializers.IntegerField(read_only=True, help_text="Bytes.")
    by = RootField(read_only=True)
    at = serializers.DateTimeField(read_only=True)


class PhotoUploadSerializer(NounSerializer):
    file = serializers.FileField(help_text="JPEG, PNG or WebP by its content, at most 20 MB and 60 million pixels.")
    step = serializers.CharField(max_length=20, required=False, allow_blank=True)
    caption = serializers.CharField(max_length=200, required=False, allow_blank=True)


class PhotoFilters(Filters):
    site = ByRoot("site")
    visit = ByRoot("visit")
    coupling = ByRoot("visit__coupling")

    class Meta:
        model = Photo
        fields: list[str] = []


class PhotoViewSet(RemoveRoots, RootViewSet):
    """Photos of visits. They come in below their visit, as a form with a file."""

    noun_class = Photo
    serializer_class = PhotoSerializer
    filterset_class = PhotoFilters
    ordering = ("-id",)

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("site", "visit__work_order", "by")

    def remove(self, photo: Photo) -> None:
        remove_photo(photo=photo)

    @extend_schema(responses={(200, "image/jpeg"): OpenApiTypes.BINARY}, filters=False)
    @action(detail=True, pagination_class=None)
    def content(self, request: Request, id: Any) -> Any:
        """The JPEG itself."""
        photo = self.get_object()
        return as_jpeg(content_of(photo), photo.digest)


class VisitPhotos:
    """Mix into the viewset of visits."""

    @extend_schema(request={"multipart/form-data": PhotoUploadSerializer}, responses={201: PhotoSerializer})
    @action(
        detail=True,
        methods=["post"],
        url_path="photos",
        serializer_class=PhotoUploadSerializer,
        parser_classes=[MultiPartParser],
    )
    def add_photo(self: Any, request: Request, id: Any) -> Response:
        """Keep a photo of a visit that is being written: turned upright, written anew, without place and time."""
        with acting(request) as unit:
            visit = visit_for(self.person, id)
            access.require(self.person, "visit.fill", visit.site_id)  # before a body is read at all
            photo = add_photo(visit=visit, **self.given(request))
            shown = PhotoSerializer(photo, context=self.get_serializer_context()).data
            return answered(unit, shown, status=201, etag=f'"{photo.version}"')
