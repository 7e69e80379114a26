"""Addresses that do not exist and errors nobody foresaw: a page for people, problem details below /api/."""

from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.views import defaults

from plant.api import problems

_API = "/api/"


def page_not_found(request: HttpRequest, exception: Exception) -> HttpResponseBase:
    if request.path.startswith(_API):
        return problems.page_not_found(request)
    return defaults.page_not_found(request, exception)


def server_error(request: HttpRequest, *args: Any) -> HttpResponseBase:
    if request.path.startswith(_API):
        return problems.server_error(request)
    return defaults.server_error(request)
