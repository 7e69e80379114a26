"""People, roles and tokens in the administration, for the administrator of the whole installation."""

from typing import Any

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.http import HttpRequest
from django.utils import timezone
from simple_history.admin import SimpleHistoryAdmin

from plant.admin.base import ReadOnlyAdmin
from plant.models import AuditEntry, Invitation, Membership, Person, Token
from plant.recording import bump, recording
from plant.services.audit import noted
from plant.services.tokens import close_doors, revoke_token


class MembershipInline(admin.TabularInline):
    model = Membership
    extra = 0


@admin.register(Person)
class PersonAdmin(UserAdmin):
    """Only a superuser: whoever can write here could make himself one."""

    list_display = ["username", "first_name", "last_name", "employer", "kind", "is_active", "until_on"]
    list_filter = ["kind", "is_active", "is_staff"]
    search_fields = ["username", "first_name", "last_name", "email", "employer"]
    actions = None
    inlines = [MembershipInline]
    fieldsets = [
        (None, {"fields": ["username", "password"]}),
        ("Person", {"fields": ["first_name", "last_name", "email", "employer", "language", "kind", "until_on"]}),
        ("Signing in", {"fields": ["is_active", "is_staff", "is_superuser", "last_login", "date_joined"]}),
    ]
    readonly_fields = ["last_login", "date_joined"]

    def has_module_permission(self, request: HttpRequest) -> bool:
        return bool(request.user.is_active and request.user.is_superuser)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return self.has_module_permission(request)

    has_add_permission = has_view_permission
    has_change_permission = has_view_permission

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        # Their name stands in the record; a person who left gets a last day.
        return False

    def get_inlines(self, request: HttpRequest, obj: Any) -> Any:
        return super().get_inlines(request, obj) if obj is not None else []

    def changeform_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        if request.method != "POST":
            return super().changeform_view(request, *args, **kwargs)
        with recording(by=request.user, at=timezone.now()):  # type: ignore[arg-type]
            return super().changeform_view(request, *args, **kwargs)

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        if change:
            standing = Person.objects.get(pk=obj.pk)
            bump(standing)
            obj.version = standing.version
        super().save_model(request, obj, form, change)
        if "is_active" in form.changed_data and not obj.is_active:
            close_doors(obj)
        noted(AuditEntry.Kind.CHANGED, person=obj, note=", ".join(sorted(set(form.changed_data) - {"password"})))

    def user_change_password(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        if request.method != "POST":
            return super().user_change_password(request, *args, **kwargs)
        with recording(by=request.user, at=timezone.now()):  # type: ignore[arg-type]
            person = Person.objects.filter(pk=str(args[0] if args else kwargs.get("id"))).first()
            before = person.password if person is not None else ""
            answer = super().user_change_password(request, *args, **kwargs)
            if person is not None and Person.objects.get(pk=person.pk).password != before:
                noted(AuditEntry.Kind.PASSWORD, person=person, note="in the administration")
            return answer

    def save_formset(self, request: HttpRequest, form: Any, formset: Any, change: bool) -> None:
        super().save_formset(request, form, formset, change)
        kinds = [
            (formset.new_objects, AuditEntry.Kind.ROLE_GIVEN),
            (formset.deleted_objects, AuditEntry.Kind.ROLE_ENDED),
        ]
        for rows, kind in kinds:
            for row in rows:
                noted(kind, person=row.person, site=row.site, note=f"{row.get_role_display()}, in the administration")
        for row, _fields in formset.changed_objects:
            said = f"{row.get_role_display()} until {row.until_on or 'no end'}, in the administration"
            kind = AuditEntry.Kind.ROLE_ENDED if row.until_on else AuditEntry.Kind.ROLE_GIVEN
            noted(kind, person=row.person, site=row.site, note=said)


@admin.register(Membership)
class MembershipAdmin(SimpleHistoryAdmin, ReadOnlyAdmin):
    """Roles with their history; given and ended on the person."""

    list_display = ["person", "role", "site", "from_on", "until_on"]
    list_select_related = ["person", "site"]
    list_filter = ["role", "site"]
    search_fields = ["person__username", "person__first_name", "person__last_name", "person__employer"]
    history_list_display = ["role", "from_on", "until_on"]


@admin.register(AuditEntry)
class AuditEntryAdmin(ReadOnlyAdmin):
    """What happened at the door; written by the program, never changed."""

    list_display = ["at", "kind", "person", "by", "site", "address", "note"]
    list_select_related = ["person", "by", "site"]
    list_filter = ["kind", "site"]
    search_fields = ["person__username", "by__username", "note", "address"]


@admin.register(Invitation)
class InvitationAdmin(ReadOnlyAdmin):
    """Links that were made; what they open stands nowhere."""

    list_display = ["made_at", "kind", "site", "role", "email", "made_by", "expires_at", "used_at", "withdrawn_at"]
    list_select_related = ["site", "made_by", "person"]
    list_filter = ["kind", "site"]
    search_fields = ["email", "person__username"]
    exclude = ["digest"]


@admin.register(Token)
class TokenAdmin(ReadOnlyAdmin):
    """Tokens are made by their owners; here they can be seen and revoked."""

    list_display = ["name", "person", "prefix", "expires_at", "revoked_at", "last_used_at"]
    list_select_related = ["person"]
    search_fields = ["name", "prefix", "person__username"]
    fields = ["name", "person", "prefix", "scopes", "made_at", "expires_at", "revoked_at", "last_used_at"]
    actions = ["revoke"]

    @admin.action(description="Revoke the chosen tokens", permissions=["view"])
    def revoke(self, request: HttpRequest, queryset: Any) -> None:
        with recording(by=request.user, at=timezone.now()):  # type: ignore[arg-type]
            for token in queryset:
                revoke_token(token=token)
