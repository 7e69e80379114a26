"""The addresses of the site: health, signing in, the administration, the API and the pages."""

from django.contrib import admin
from django.contrib.auth.views import LoginView, LogoutView
from django.urls import include, path

from plant import handlers
from plant.pages import docs, favicon, health, tokens

urlpatterns = [
    path("livez", health.livez, name="livez"),
    path("readyz", health.readyz, name="readyz"),
    path("favicon.ico", favicon.favicon, name="favicon"),
    path("sign-in/", LoginView.as_view(redirect_authenticated_user=True), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("tokens/", tokens.tokens, name="tokens"),
    path("tokens/<uuid:uuid>/revoke/", tokens.revoke, name="token-revoke"),
    path("admin/", admin.site.urls),
    path("api/v1/docs/", docs.api_docs, name="api-docs"),
    path("api/v1/", include("plant.api.urls")),
    path("api/v1/", include("couplings.api.urls")),
    path("api/v1/", include("inspections.api.urls")),
    path("", include("plant.pages.urls")),
    path("", include("inspections.urls")),
]

handler404 = handlers.page_not_found
handler500 = handlers.server_error
