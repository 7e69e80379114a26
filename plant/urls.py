"""The addresses of the site."""

from django.contrib import admin
from django.urls import path

from plant.pages import health

urlpatterns = [
    path("livez", health.livez, name="livez"),
    path("readyz", health.readyz, name="readyz"),
    path("admin/", admin.site.urls),
]
