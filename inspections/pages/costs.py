"""What one train cost over twelve months: the rows behind each number of the fleet page."""

from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from inspections.selectors.costs import TrainCost, cost_of, costly_trains, costs_since, missing_settings
from plant.models import Site, Train
from plant.pages.context import SheetRequest, render_sheet
from plant.refusals import Missing
from plant.sitetime import today_at

SETTINGS = {
    "labour_rate": gettext_lazy("cost of one crew hour"),
    "element_cost": gettext_lazy("cost of one element"),
    "down_cost": gettext_lazy("cost of one hour down"),
}


@require_safe
@login_required
def train_cost(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Checks done, elements fitted and breakdowns, each with what it counts for."""
    train = Train.objects.visible_to(request.user).filter(uuid=uuid).select_related("site", "area").first()
    if train is None or not request.user.reads_whole(train.site_id):
        raise Missing()
    today = today_at(train.site, timezone.now())
    cost = cost_of(train, today)
    context = {
        "cost": cost,
        "since": costs_since(train.site, today),
        "missing": missing_words(train.site),
        "checks": sorted(cost.checks, key=lambda one: (one.settled_on or today, one.pk), reverse=True),
        "figures": figures(cost),
    }
    return render_sheet(request, "inspections/train_cost.html", context, site=train.site)


def fleet_costs(site: Site | None, today: Any) -> dict[str, Any]:
    """What the fleet page says of costs: of one site, since each has a currency of its own."""
    if site is None:
        return {"costly": None}
    rows = costly_trains(site, today)
    return {"costly": [(row, figures(row)) for row in rows], "cost_missing": missing_words(site)}


def missing_words(site: Site) -> list[Any]:
    """Which settings are not said, in words."""
    return [SETTINGS[name] for name in missing_settings(site)]


def figures(cost: TrainCost) -> dict[str, str]:
    """Money without its cents, hours with what is left of them."""
    return {
        "total": _money(cost.total), "labour": _money(cost.labour), "parts": _money(cost.parts),
        "down": _money(cost.down), "crew_hours": f"{cost.crew_hours:g}", "hours_down": f"{cost.hours_down:g}",
    }  # fmt: skip


def _money(value: float) -> str:
    return f"{value:,.0f}".replace(",", "\u202f")
