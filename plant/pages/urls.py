"""Addresses of the pages that belong to no record."""

from django.urls import path

from plant.pages import calculations, roles

urlpatterns = [
    path("roles/", roles.roles, name="roles"),
    path("calculations/", calculations.index, name="calculations"),
    path("calculations/<slug:name>/", calculations.calculation, name="calculation"),
]
