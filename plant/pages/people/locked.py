"""Too many wrong passwords: what happened, for how long, and what to do."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def locked(request: HttpRequest, original: HttpResponse | None, credentials: dict[str, Any] | None) -> HttpResponse:
    """In place of the sign-in page's answer while the name is locked at this address (AXES_LOCKOUT_CALLABLE)."""
    seconds = int(settings.AXES_COOLOFF_TIME.total_seconds())
    answer = render(request, "registration/locked.html", {"minutes": seconds // 60}, status=429)
    answer["Retry-After"] = str(seconds)
    return answer
