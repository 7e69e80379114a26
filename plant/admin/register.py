"""Sites, areas and trains in the administration."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from plant.admin.base import ReadOnlyAdmin, RecordedAdmin
from plant.models import Area, FootPlane, Machine, Meter, MeterReading, Site, Train


@admin.register(Site)
class SiteAdmin(RecordedAdmin):
    list_display = ["name", "zone", "units"]
    search_fields = ["name"]
    exclude = ["changed_no"]
    readonly_fields = ("uuid", "version", "epoch")

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self.has_view_permission(request) and bool(request.user.is_superuser)


@admin.register(Area)
class AreaAdmin(RecordedAdmin):
    removes = True
    readonly_fields = ("uuid", "version")
    list_display = ["name", "site", "parent"]
    list_select_related = ["site", "parent"]
    list_filter = [("site", admin.RelatedOnlyFieldListFilter)]
    search_fields = ["name"]
    exclude = ["changed_no"]


@admin.register(Train)
class TrainAdmin(RecordedAdmin):
    """The machines of a train are changed as one list, by position; see the machines below it for their feet."""

    removes = True
    readonly_fields = ("uuid", "version")
    list_display = ["tag", "name", "area", "criticality", "service", "site"]
    list_select_related = ["area", "site"]
    list_filter = [("site", admin.RelatedOnlyFieldListFilter), "criticality", "service"]
    search_fields = ["tag", "name"]
    exclude = ["changed_no"]


class FootPlaneInline(admin.TabularInline):
    model = FootPlane
    extra = 0
    max_num = 4

    def get_queryset(self, request: HttpRequest) -> Any:
        return super().get_queryset(request).select_related("machine__train")

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return True

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return admin.site._registry[Machine].has_change_permission(request, obj)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return admin.site._registry[Machine].has_change_permission(request, obj)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return admin.site._registry[Machine].has_change_permission(request, obj)


@admin.register(Machine)
class MachineAdmin(RecordedAdmin):
    """A machine with its feet. Its train's version rises with it."""

    removes = True
    list_display = ["train", "position", "name", "role", "movable"]
    list_select_related = ["train"]
    search_fields = ["name", "train__tag"]
    readonly_fields = ()
    inlines = [FootPlaneInline]

    def get_queryset(self, request: HttpRequest) -> Any:
        person: Any = request.user
        return Machine.objects.filter(train__in=Train.objects.all().visible_to(person)).select_related("train")

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        return () if obj is None else ("train", "position")

    def root_of(self, obj: Machine) -> Train:
        return obj.train


class MeterReadingInline(admin.TabularInline):
    model = MeterReading
    extra = 0
    can_delete = False

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return True

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(Meter)
class MeterAdmin(ReadOnlyAdmin):
    """Looked at here; hours are recorded where the rules are, over the API and on the visit."""

    list_display = ["train", "site"]
    list_select_related = ["train", "site"]
    search_fields = ["train__tag"]
    inlines = [MeterReadingInline]
