"""How the administration writes: inside `recording()`, as the access table allows, only at sites one sees."""

from typing import Any

from django import forms
from django.contrib import admin
from django.core.exceptions import ValidationError
from django.db import models
from django.http import HttpRequest, HttpResponseBase
from django.utils import timezone
from simple_history.admin import SimpleHistoryAdmin

from plant import access
from plant.models import Root, Site, SiteNumber
from plant.recording import bump, changed, recording, removed


class OneSiteForm(forms.ModelForm):
    """Everything a row names is at the row's own site."""

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean() or {}
        site = cleaned.get("site") or getattr(self.instance, "site", None)
        for name, value in list(cleaned.items()):
            if isinstance(value, Root) and site is not None and value.site_id != site.pk:
                self.add_error(name, ValidationError("This is at another site."))
        return cleaned


class RecordedAdmin(SimpleHistoryAdmin):
    """A root of the record. Every POST is one unit of work, with the row's version and number as everywhere."""

    action = "register.write"
    form = OneSiteForm
    actions = None
    readonly_fields: Any = ("uuid", "version")

    # Who may: the access table, not Django's own permissions.

    def has_module_permission(self, request: HttpRequest) -> bool:
        return self.has_view_permission(request)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        person: Any = request.user
        if not (person.is_active and person.is_staff):
            return False
        return access.may(person, "read", _site_id(obj)) if obj is not None else self._somewhere(person, "read")

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self.has_view_permission(request) and self._somewhere(request.user, self.action)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        if obj is None:
            return self.has_add_permission(request)
        return self.has_view_permission(request, obj) and access.may(request.user, self.action, _site_id(obj))  # type: ignore[arg-type]

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self.has_change_permission(request, obj)

    def get_queryset(self, request: HttpRequest) -> Any:
        return self.model._default_manager.all().visible_to(request.user)

    def formfield_for_foreignkey(self, db_field: Any, request: HttpRequest, **kwargs: Any) -> Any:
        manager: Any = db_field.related_model._default_manager
        if hasattr(manager.all(), "visible_to"):
            rows = manager.all().visible_to(request.user)
            if db_field.related_model is Site and not request.user.is_superuser:
                rows = rows.filter(pk__in=access.sites_where(request.user, self.action))  # type: ignore[arg-type]
            kwargs["queryset"] = rows
        return super().formfield_for_foreignkey(db_field, request, **kwargs)

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        # A row never moves to another site: its delta readers would not be told.
        fixed = ("site",) if obj is not None and hasattr(self.model, "site") else ()
        return (*super().get_readonly_fields(request, obj), *fixed)

    # How it is written

    def changeform_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        return _in_one_unit(request, lambda: super(RecordedAdmin, self).changeform_view(request, *args, **kwargs))

    def delete_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        return _in_one_unit(request, lambda: super(RecordedAdmin, self).delete_view(request, *args, **kwargs))

    def root_of(self, obj: Any) -> Any:
        """The row whose version rises: the row itself, or the one it rides on."""
        return obj

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        root = self.root_of(obj)
        if root.pk is not None:
            # A fresh copy is bumped, for bump() reads the row again and would drop what was typed.
            standing = type(root)._base_manager.get(pk=root.pk)
            bump(standing)
            root.version = standing.version
        super().save_model(request, obj, form, change)
        changed(root)
        if isinstance(obj, Site):
            SiteNumber.objects.get_or_create(site=obj)

    def delete_model(self, request: HttpRequest, obj: Any) -> None:
        root = self.root_of(obj)
        if root is obj:
            removed(obj)
        else:
            bump(root)
        super().delete_model(request, obj)

    def _somewhere(self, person: Any, action: str) -> bool:
        return bool(person.sees_everything or access.sites_where(person, action))


class ReadOnlyAdmin(admin.ModelAdmin):
    """What the program writes itself: looked at here, never changed."""

    actions: Any = None

    def has_module_permission(self, request: HttpRequest) -> bool:
        return bool(request.user.is_active and request.user.is_superuser)

    def has_view_permission(self, request: HttpRequest, obj: models.Model | None = None) -> bool:
        return self.has_module_permission(request)

    def has_add_permission(self, request: HttpRequest, obj: models.Model | None = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: models.Model | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: models.Model | None = None) -> bool:
        return False


def _site_id(obj: Any) -> int:
    return obj.site_id if hasattr(obj, "site_id") else obj.train.site_id


def _in_one_unit(request: HttpRequest, view: Any) -> HttpResponseBase:
    if request.method != "POST":
        return view()
    with recording(by=request.user, at=timezone.now()):  # type: ignore[arg-type]
        return view()
