"""The addresses of the site: health, signing in, the pages, the administration and the API."""

from importlib import import_module

from django.contrib import admin
from django.contrib.auth.views import LoginView, LogoutView
from django.urls import include, path

from plant.pages import health


def present(*rooms: str) -> list[str]:
    """Rooms that are furnished already."""
    found = []
    for room in rooms:
        try:
            import_module(room)
        except ImportError:
            continue
        found.append(room)
    return found


urlpatterns = [
    path("livez", health.livez, name="livez"),
    path("readyz", health.readyz, name="readyz"),
    path("sign-in/", LoginView.as_view(redirect_authenticated_user=True), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("admin/", admin.site.urls),
    *[
        path("api/v1/", include(room))
        for room in present("plant.api.urls", "couplings.api.urls", "inspections.api.urls")
    ],
    *[path("", include(room)) for room in present("plant.pages.urls", "couplings.pages.urls", "inspections.urls")],
]
