"""Addresses of the pages that belong to no record."""

from django.urls import include, path

from plant.pages import calculations, roles, webhooks

urlpatterns = [
    path("roles/", roles.roles, name="roles"),
    path("webhooks/", webhooks.webhooks, name="webhooks"),
    path("webhooks/hosts/", webhooks.allow, name="webhook-host-allow"),
    path("webhooks/hosts/forbid/", webhooks.forbid, name="webhook-host-forbid"),
    path("webhooks/<uuid:uuid>/", webhooks.webhook, name="webhook"),
    path("calculations/", calculations.index, name="calculations"),
    path("calculations/<slug:name>/", calculations.calculation, name="calculation"),
    path("", include("plant.pages.register.urls")),
]
