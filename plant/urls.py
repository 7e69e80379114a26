"""The addresses of the site: health, signing in, the pages, the administration and the API."""

from importlib.util import find_spec

from django.contrib import admin
from django.contrib.auth.views import LoginView, LogoutView
from django.urls import include, path

from plant import handlers
from plant.pages import docs, health, tokens


def present(*rooms: str) -> list[str]:
    """Rooms that are furnished already. One that is there and cannot be imported stops the start."""
    return [room for room in rooms if find_spec(room.rpartition(".")[0]) and find_spec(room)]


urlpatterns = [
    path("livez", health.livez, name="livez"),
    path("readyz", health.readyz, name="readyz"),
    path("sign-in/", LoginView.as_view(redirect_authenticated_user=True), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("tokens/", tokens.tokens, name="tokens"),
    path("tokens/<uuid:uuid>/revoke/", tokens.revoke, name="token-revoke"),
    path("api/v1/docs/", docs.api_docs, name="api-docs"),
    path("admin/", admin.site.urls),
    *[
        path("api/v1/", include(room))
        for room in present("plant.api.urls", "couplings.api.urls", "inspections.api.urls")
    ],
    *[path("", include(room)) for room in present("plant.pages.urls", "couplings.pages.urls", "inspections.urls")],
]

handler404 = handlers.page_not_found
handler500 = handlers.server_error
