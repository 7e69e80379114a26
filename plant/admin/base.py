"""The one base of the administration: seen and changed by the access table, written inside the unit of work."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import admin, messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import models
from django.db.models import Model, QuerySet
from django.forms import ModelForm
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from simple_history.admin import SimpleHistoryAdmin

from plant import access
from plant.models import Root, Site, SiteNumber
from plant.recording import bump, changed, recording, removed
from plant.refusals import FieldError, Refusal


class OneSiteForm(forms.ModelForm):
    """Everything a row names is at the row's own site."""

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean() or {}
        site = cleaned.get("site") or getattr(self.instance, "site", None)
        for name, value in list(cleaned.items()):
            if isinstance(value, Root) and site is not None and value.site_id != site.pk:
                self.add_error(name, ValidationError("This is at another site."))
        return cleaned


class KeptAdmin(SimpleHistoryAdmin):
    """A model that keeps its history."""

    # History is read here; going back is a change like any other.

    def history_form_view(self, request: Any, *args: Any, **options: Any) -> HttpResponse:
        if request.method != "GET":
            raise PermissionDenied
        return super().history_form_view(request, *args, **options)

    def revert_disabled(self, request: Any, obj: Any = None) -> bool:
        return True


class RecordedAdmin(KeptAdmin):
    """A root of the record.

    `writes` is the action of plant/access.py that adds and changes. `add(**fields)`, `change(row, **fields)` and
    `remove(row)` call one service each; what a service refuses comes back in the form, beside the field where the form
    has it, with everything that was typed. Where no service is named, the row is saved as it was typed, with its
    version and number as everywhere. `removes` says whether rows may go: most records end and stay.
    """

    writes: str = "register.write"
    removes = False
    rows_of: dict[type[Model], str] = {}  # inlines whose rows go to `change` as one list under this name
    form = OneSiteForm
    actions: Any = None

    def add(self, **fields: Any) -> Any:
        raise NotImplementedError

    def change(self, row: Any, **fields: Any) -> Any:
        raise NotImplementedError

    def remove(self, row: Any) -> None:
        root = self.root_of(row)
        if root is row:
            removed(row)
        else:
            bump(root)
        row.delete()

    def root_of(self, row: Any) -> Any:
        """The row whose version rises: the row itself, or the one it rides on."""
        return row

    # Who may

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        return self.visible(super().get_queryset(request), request.user)

    def visible(self, rows: Any, person: Any) -> QuerySet[Any]:
        return rows.filter(pk__in=self.model._default_manager.all().visible_to(person).values("pk"))

    def has_module_permission(self, request: HttpRequest) -> bool:
        return bool(request.user.is_active and request.user.is_staff)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        if not self.has_module_permission(request):
            return False
        person: Any = request.user
        return obj is None or obj.pk is None or access.may(person, "read", self.site_of(obj))

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self._may(request, None)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self._may(request, obj)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self.removes and self._may(request, obj)

    def _may(self, request: HttpRequest, obj: Any) -> bool:
        person: Any = request.user
        if not self.writes or not self.has_module_permission(request):
            return False
        if obj is not None and obj.pk is not None:
            return access.may(person, self.writes, self.site_of(obj))
        return bool(person.sees_everything or access.sites_where(person, self.writes))

    def site_of(self, row: Any) -> int:
        root = self.root_of(row)
        return root.pk if isinstance(root, Site) else root.site_id

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        # A row never moves to another site: its delta readers would not be told.
        fixed = ("site",) if obj is not None and hasattr(self.model, "site") else ()
        return (*super().get_readonly_fields(request, obj), *fixed)

    def formfield_for_foreignkey(self, db_field: Any, request: Any, **kwargs: Any) -> Any:
        manager: Any = db_field.related_model._default_manager
        if hasattr(manager.all(), "visible_to"):
            rows = manager.all().visible_to(request.user)
            if db_field.related_model is Site and not request.user.is_superuser:
                rows = rows.filter(pk__in=access.sites_where(request.user, self.writes))
            kwargs["queryset"] = rows
        return super().formfield_for_foreignkey(db_field, request, **kwargs)

    # Writing

    def changeform_view(self, request: Any, *args: Any, **options: Any) -> HttpResponse:
        if request.method != "POST":
            return super().changeform_view(request, *args, **options)
        try:
            with recording(by=request.user, at=timezone.now()):
                return super().changeform_view(request, *args, **options)
        except Refusal as refusal:
            # Everything of the unit is undone; the form is shown again and carries the refusal as its errors.
            request.refusal = refusal
        return super().changeform_view(request, *args, **options)

    def get_form(self, request: Any, obj: Any = None, change: bool = False, **options: Any) -> Any:
        form = super().get_form(request, obj, change=change, **options)
        refusal = getattr(request, "refusal", None)
        return form if refusal is None else _refused(form, refusal)

    def save_model(self, request: Any, obj: Any, form: ModelForm[Any], change: bool) -> None:
        if not _served(self, "change" if change else "add"):
            self._save_as_typed(obj)
        elif change:
            self.change(obj, **{name: form.cleaned_data[name] for name in form.changed_data})
        else:
            made = self.add(**form.cleaned_data)
            obj.__dict__.update(made.__dict__)

    def _save_as_typed(self, row: Any) -> None:
        root = self.root_of(row)
        if root.pk is not None:
            # A fresh copy is bumped, for bump() reads the row again and would drop what was typed.
            standing = type(root)._base_manager.get(pk=root.pk)
            bump(standing)
            root.version = standing.version
        row.save()
        changed(root)
        if isinstance(row, Site):
            SiteNumber.objects.get_or_create(site=row)

    def save_related(self, request: Any, form: Any, formsets: Any, change: bool) -> None:
        if not _served(self, "change"):
            super().save_related(request, form, formsets, change)
            return
        for formset in formsets:
            if formset.model in self.rows_of and formset.has_changed():
                own = {formset.fk.name, formset._pk_field.name, "DELETE"}
                rows = [
                    {name: value for name, value in row.cleaned_data.items() if name not in own}
                    for row in formset.forms
                    if row.cleaned_data and not row.cleaned_data.get("DELETE")
                ]
                self.change(form.instance, **{self.rows_of[formset.model]: rows})
            # The administration's own log speaks of the root alone; history has the rest.
            formset.new_objects, formset.changed_objects, formset.deleted_objects = [], [], []

    def delete_view(self, request: Any, *args: Any, **options: Any) -> Any:
        if request.method != "POST":
            return super().delete_view(request, *args, **options)
        with recording(by=request.user, at=timezone.now()):
            return super().delete_view(request, *args, **options)

    def delete_model(self, request: Any, obj: Any) -> None:
        self.remove(obj)

    def acted(self, request: Any, rows: Any, service: Any, done: str) -> None:
        """An action of a list: one service per row, each told by itself."""
        for row in rows:
            try:
                with recording(by=request.user, at=timezone.now()):
                    service(row)
            except Refusal as refusal:
                self.message_user(request, f"{row}: {refusal.sentence}", messages.ERROR)
            else:
                self.message_user(request, f"{row}: {done}")


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


class Rows(admin.TabularInline):
    """Rows below a root; `joined` is what their names print."""

    extra = 0
    joined: tuple[str, ...] = ()

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        rows = super().get_queryset(request)
        return rows.select_related(*self.joined) if self.joined else rows


class ShownRows(Rows):
    """Rows below a root that are only shown."""

    can_delete = False

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return True

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class WrittenRows(Rows):
    """Rows below a root that its service replaces as one list."""

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return True

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self._open(request, obj)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self._open(request, obj)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self._open(request, obj)

    def _open(self, request: Any, obj: Any) -> bool:
        above: Any = self.admin_site._registry[self.parent_model]
        return above.has_change_permission(request, obj)


def _served(one: RecordedAdmin, act: str) -> bool:
    """Whether an administration names a service for this act."""
    return getattr(type(one), act) is not getattr(RecordedAdmin, act)


def _refused(form: Any, refusal: Refusal) -> Any:
    """The same form, which knows beforehand why it will not be taken."""

    class Refused(form):
        def _post_clean(self) -> None:
            super()._post_clean()
            for error in refusal.errors or [FieldError("", refusal.title)]:
                if error.field in self.fields:
                    self.add_error(error.field, error.message)
                else:
                    self.add_error(None, f"{_place(error.field)}{error.message}")

    return Refused


def _place(path: str) -> str:
    """A path into rows as words: "limits.0.stated_value" becomes "limits, row 1, stated value: "."""
    if not path:
        return ""
    parts = [f"row {int(part) + 1}" if part.isdigit() else part.replace("_", " ") for part in path.split(".")]
    return ", ".join(parts) + ": "
