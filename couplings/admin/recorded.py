"""The base of our administration: seen and changed by the access table, written by services inside the unit of work."""

from __future__ import annotations

from typing import Any

from django.contrib import admin, messages
from django.core.exceptions import PermissionDenied
from django.db.models import Model, QuerySet
from django.forms import ModelForm
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from simple_history.admin import SimpleHistoryAdmin

from plant import access
from plant.recording import recording
from plant.refusals import FieldError, Refusal


class RecordedAdmin(SimpleHistoryAdmin):
    """A root in the administration.

    `writes` is the action of plant/access.py that adds and changes. `add(**fields)` and `change(row, **fields)` call
    one service each; what a service refuses comes back in the form, beside the field where the form has it, with
    everything that was typed. Nothing is deleted here: records end, they do not go.
    """

    writes: str = ""
    rows_of: dict[type[Model], str] = {}  # inlines whose rows go to `change` as one list under this name

    def add(self, **fields: Any) -> Any:
        raise NotImplementedError

    def change(self, row: Any, **fields: Any) -> Any:
        raise NotImplementedError

    # Who may

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        return self.visible(super().get_queryset(request), request.user)

    def visible(self, rows: Any, person: Any) -> QuerySet[Any]:
        return rows.filter(pk__in=self.model._default_manager.visible_to(person).values("pk"))

    def has_module_permission(self, request: HttpRequest) -> bool:
        return bool(request.user.is_active and request.user.is_staff)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self.has_module_permission(request)

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self._may(request, None)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self._may(request, obj)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def _may(self, request: HttpRequest, obj: Any) -> bool:
        person: Any = request.user
        if not self.writes or not self.has_module_permission(request):
            return False
        if obj is not None and obj.pk is not None:
            return access.may(person, self.writes, self.site_of(obj))
        return bool(person.sees_everything or access.sites_where(person, self.writes))

    def site_of(self, row: Any) -> int:
        return row.site_id

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
        if change:
            self.change(obj, **{name: form.cleaned_data[name] for name in form.changed_data})
        else:
            made = self.add(**form.cleaned_data)
            obj.__dict__.update(made.__dict__)

    def save_related(self, request: Any, form: Any, formsets: Any, change: bool) -> None:
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

    # History is read here; going back is a change like any other.

    def history_form_view(self, request: Any, *args: Any, **options: Any) -> HttpResponse:
        if request.method != "GET":
            raise PermissionDenied
        return super().history_form_view(request, *args, **options)

    def revert_disabled(self, request: Any, obj: Any = None) -> bool:
        return True


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
