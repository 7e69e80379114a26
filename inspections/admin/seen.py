"""Rows that are only looked at here: they come about by what people do, and a signed one never changes."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.db.models import QuerySet
from django.http import HttpRequest


class SeenAdmin(admin.ModelAdmin):
    """Shown to staff who may read the row's site; nothing is added, changed or deleted."""

    actions = None
    under: str = ""  # the path to the root that has a site, where the row itself has none

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        rows = super().get_queryset(request)
        person: Any = request.user
        if person.sees_everything:
            return rows
        return rows.filter(**{f"{self.under}site_id__in": person.whole_site_ids()})

    def has_module_permission(self, request: HttpRequest) -> bool:
        return bool(request.user.is_active and request.user.is_staff)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self.has_module_permission(request)

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class SeenRows(admin.TabularInline):
    """Rows below such a root."""

    extra = 0
    can_delete = False
    joined: tuple[str, ...] = ()

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        rows = super().get_queryset(request)
        return rows.select_related(*self.joined) if self.joined else rows

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return True

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False
