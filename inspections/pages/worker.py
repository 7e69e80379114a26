"""The script that keeps visit pages on the phone, and the name of whom a page was for."""

import json

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.utils.html import escape
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from plant.pages.context import SheetRequest

POLICY = "default-src 'none'; style-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"


@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker of visit pages; it holds nothing of anybody, so anybody may read it."""
    words = {
        "files": static(""),
        "sheet": static("plant/sheet.css"),
        "policy": POLICY,
        "title": escape(_("No signal, and this page is not on this phone")),
        "said": escape(
            _(
                "Pages of a visit stay on this phone once they were opened with a signal. What was typed before is "
                "kept here and waits. Go where there is a signal, or back to the steps."
            )
        ),
        "back": escape(_("All steps")),
    }
    # As JSON inside a script of its own address: nothing in it comes from a person.
    context = {"words": json.dumps(words).replace("<", "\\u003c")}
    answer = render(request, "inspections/worker.js", context, content_type="text/javascript")
    answer["Cache-Control"] = "no-cache"
    return answer


def kept_for(request: SheetRequest, answer: HttpResponse) -> HttpResponse:
    """Say whose page this is, so that the phone keeps it for nobody else."""
    answer["X-Asleft-Person"] = str(request.user.uuid)
    return answer
