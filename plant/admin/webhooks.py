"""Webhooks and their log, to look at; they are kept on their own page, where secrets are shown once."""

from django.contrib import admin

from plant.admin.base import KeptAdmin, ReadOnlyAdmin
from plant.models import AllowedHost, Delivery, Webhook


@admin.register(Webhook)
class WebhookAdmin(ReadOnlyAdmin, KeptAdmin):
    list_display = ["name", "site", "url", "active", "failures", "rests_until"]
    list_select_related = ["site"]
    search_fields = ["name", "url"]
    exclude = ["secret", "old_secret", "old_secret_until"]


@admin.register(AllowedHost)
class AllowedHostAdmin(ReadOnlyAdmin, KeptAdmin):
    list_display = ["host", "site", "reason"]
    list_select_related = ["site"]
    search_fields = ["host"]


@admin.register(Delivery)
class DeliveryAdmin(ReadOnlyAdmin):
    list_display = ["id", "webhook", "event", "state", "attempts", "next_at", "settled_at"]
    list_select_related = ["webhook", "event"]
    list_filter = ["state"]
    search_fields = ["lane"]
