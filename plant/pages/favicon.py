"""The mark that browsers ask for by themselves, also on pages that name none, such as the administration."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.templatetags.static import static
from django.views.decorators.http import require_safe


@require_safe
def favicon(request: HttpRequest) -> HttpResponse:
    return redirect(static("plant/favicon.svg"))
