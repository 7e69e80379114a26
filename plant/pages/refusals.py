"""A refusal that a page did not show beside its field still reaches the reader as a sentence, never as a trace."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from plant.refusals import Missing, NotAllowed, Refusal


class RefusalMiddleware:
    """Turn what services refuse into pages: 404 and 403 as everywhere, the rest as a sentence with the way back."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if isinstance(exception, Missing):
            return render(request, "404.html", status=404)
        if isinstance(exception, NotAllowed):
            return render(request, "403.html", {"exception": exception.sentence}, status=403)
        if isinstance(exception, Refusal):
            return render(request, "refused.html", {"refusal": exception}, status=exception.status)
        return None
