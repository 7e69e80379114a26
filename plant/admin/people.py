"""People, roles and tokens in the administration, for the administrator of the whole installation."""

from typing import Any

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.http import HttpRequest
from django.utils import timezone

from plant.admin.base import ReadOnlyAdmin
from plant.models import Membership, Person, Token
from plant.recording import bump, recording
from plant.services.tokens import revoke_token


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
