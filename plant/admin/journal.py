"""What the unit of work and the jobs write, to look at."""

from django.contrib import admin

from plant.admin.base import ReadOnlyAdmin
from plant.models import Event, ExternalRef, IdempotencyKey, JobRun, Tombstone


@admin.register(Event)
class EventAdmin(ReadOnlyAdmin):
    list_display = ["no", "site", "kind", "lane", "at", "by"]
    list_select_related = ["site", "by"]
    list_filter = ["kind"]
    search_fields = ["lane"]


@admin.register(Tombstone)
class TombstoneAdmin(ReadOnlyAdmin):
    list_display = ["no", "site", "noun", "uuid", "at"]
    list_select_related = ["site"]
    search_fields = ["uuid"]


@admin.register(ExternalRef)
class ExternalRefAdmin(ReadOnlyAdmin):
    list_display = ["system", "noun", "key", "subject", "site"]
    list_select_related = ["site"]
    search_fields = ["key", "system"]


@admin.register(IdempotencyKey)
class IdempotencyKeyAdmin(ReadOnlyAdmin):
    list_display = ["key", "person", "status", "at"]
    list_select_related = ["person"]
    search_fields = ["key"]


@admin.register(JobRun)
class JobRunAdmin(ReadOnlyAdmin):
    list_display = ["kind", "scope", "for_date", "state", "attempts", "progress", "finished_at"]
    list_filter = ["kind", "state"]
    search_fields = ["scope"]
