"""The one table of who may do what, as it is asked everywhere."""

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from plant.access import ACTIONS
from plant.models import Membership
from plant.pages.context import SheetRequest


@require_safe
@login_required
def roles(request: SheetRequest) -> HttpResponse:
    columns = list(Membership.Role.choices)
    rows = [(words, [(label, role in allowed) for role, label in columns]) for words, allowed in ACTIONS.values()]
    mine = request.user.memberships.select_related("site")
    return render(request, "plant/roles.html", {"columns": columns, "rows": rows, "mine": mine})
