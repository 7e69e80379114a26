"""What every page knows."""

from typing import Any

from django.http import HttpRequest


def sheet(request: HttpRequest) -> dict[str, Any]:
    """Nothing yet that a page does not fetch itself."""
    return {}
