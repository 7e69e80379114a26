"""Addresses of the pages that belong to no record."""

from django.urls import include, path

from plant.pages import calculations, jobs, roles, site_settings, webhooks
from plant.pages.people import account, audit, door, links, register

urlpatterns = [
    path("people/", register.people, name="people"),
    path("people/invite/", links.make, name="invite"),
    path("people/audit/", audit.audit, name="audit"),
    path("people/<uuid:uuid>/", register.person, name="person"),
    path("people/<uuid:uuid>/roles/", register.give, name="person-role"),
    path("people/<uuid:uuid>/roles/end/", register.end, name="person-role-end"),
    path("people/<uuid:uuid>/leave/<uuid:site>/", register.leave, name="person-leave"),
    path("people/<uuid:uuid>/stop/", register.stop, name="person-stop"),
    path("people/<uuid:uuid>/link/", register.link, name="person-link"),
    path("invitations/<uuid:uuid>/withdraw/", links.withdraw, name="invitation-withdraw"),
    path("invitation/<str:secret>/", door.invitation, name="invitation"),
    path("new-password/<str:secret>/", door.password, name="password-link"),
    path("forgotten-password/", door.forgotten, name="password-forgotten"),
    path("account/", account.account, name="account"),
    path("account/password/", account.password, name="account-password"),
    path("sites/<uuid:uuid>/settings/", site_settings.site_settings, name="site-settings"),
    path("roles/", roles.roles, name="roles"),
    path("jobs/", jobs.jobs, name="jobs"),
    path("webhooks/", webhooks.webhooks, name="webhooks"),
    path("webhooks/hosts/", webhooks.allow, name="webhook-host-allow"),
    path("webhooks/hosts/forbid/", webhooks.forbid, name="webhook-host-forbid"),
    path("webhooks/<uuid:uuid>/", webhooks.webhook, name="webhook"),
    path("calculations/", calculations.index, name="calculations"),
    path("calculations/<slug:name>/", calculations.calculation, name="calculation"),
    path("", include("plant.pages.register.urls")),
]
