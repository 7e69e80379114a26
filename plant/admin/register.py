"""Sites, areas and trains in the administration."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest
from simple_history.admin import SimpleHistoryAdmin

from plant.admin.base import OneSiteForm, ReadOnlyAdmin, RecordedAdmin, ShownRows
from plant.models import Area, FootPlane, Machine, Meter, MeterReading, ServiceSpell, Site, Stop, Train
from plant.scope import out_of_scope
from plant.services import stops
from plant.services.machines import FIELDS
from plant.services.service import open_first_spell
from plant.services.shafts import shaft_errors


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


@admin.register(Stop)
class StopAdmin(RecordedAdmin):
    writes = stops.ACTION
    removes = True
    readonly_fields = ("uuid", "version")
    list_display = ["name", "begins_on", "ends_on", "area", "train", "site"]
    list_select_related = ["area", "train", "site"]
    list_filter = [("site", admin.RelatedOnlyFieldListFilter)]
    search_fields = ["name"]
    date_hierarchy = "begins_on"
    exclude = ["changed_no"]

    def add(self, **fields: Any) -> Stop:
        return stops.plan_stop(**fields)

    def change(self, row: Stop, **fields: Any) -> Stop:
        return stops.change_stop(stop=row, expected=row.version, **fields)

    def remove(self, row: Stop) -> None:
        stops.remove_stop(stop=row)


class ServiceSpellInline(ShownRows):
    model = ServiceSpell
    fields = readonly_fields = ("state", "from_at", "until_at", "reason", "by")


@admin.register(Train)
class TrainAdmin(RecordedAdmin):
    """The machines of a train are changed as one list, by position; see the machines below it for their feet.

    Service is looked at here: it changes with a time and a reason, over the API and on the page of the train.
    """

    removes = True
    readonly_fields = ("uuid", "version")
    list_display = ["tag", "name", "area", "criticality", "service", "site"]
    list_select_related = ["area", "site"]
    list_filter = [("site", admin.RelatedOnlyFieldListFilter), "criticality", "service"]
    search_fields = ["tag", "name"]
    exclude = ["changed_no"]
    inlines = [ServiceSpellInline]

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        fixed = super().get_readonly_fields(request, obj)
        return (*fixed, "service") if obj is not None else fixed

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        super().save_model(request, obj, form, change)
        if not change:
            open_first_spell(obj)


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


class MachineForm(OneSiteForm):
    """Speeds that cannot be are refused here as everywhere."""

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean() or {}
        named = {name: value for name, value in cleaned.items() if name in FIELDS}
        for name, message in (shaft_errors(Machine(**named)) if not self.errors else {}).items():
            self.add_error(name, message)
        if words := out_of_scope(cleaned.get("name") or ""):
            self.add_error("name", words)
        return cleaned


@admin.register(Machine)
class MachineAdmin(RecordedAdmin):
    """A machine with its feet. Its train's version rises with it."""

    removes = True
    form = MachineForm

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


@admin.register(ServiceSpell)
class ServiceSpellAdmin(ReadOnlyAdmin, SimpleHistoryAdmin):
    list_display = ["train", "state", "from_at", "until_at", "reason", "by"]
    list_select_related = ["train", "by"]
    list_filter = [("site", admin.RelatedOnlyFieldListFilter), "state"]
    search_fields = ["train__tag", "reason"]


class MeterReadingInline(ShownRows):
    model = MeterReading


@admin.register(Meter)
class MeterAdmin(ReadOnlyAdmin):
    """Looked at here; hours are recorded where the rules are, over the API and on the visit."""

    list_display = ["train", "site"]
    list_select_related = ["train", "site"]
    search_fields = ["train__tag"]
    inlines = [MeterReadingInline]
