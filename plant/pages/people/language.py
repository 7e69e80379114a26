"""Pages in the language of whoever is signed in."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils import translation


class PersonsLanguage:
    """The person's own choice goes before what the browser asks for."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if len(settings.LANGUAGES) < 2 or not request.user.is_authenticated:
            return self.get_response(request)
        with translation.override(request.user.language):
            return self.get_response(request)
