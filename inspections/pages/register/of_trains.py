"""What inspections add to the register's page of a train: its couplings' histories, small, and the way to the large."""

from typing import Any

from django.urls import reverse
from django.utils import timezone

from inspections.pages.history_lines import small_lines
from inspections.selectors.train_drift import couplings_on, trains_to_read
from plant.models import Train
from plant.pages.register import Part, add_part
from plant.pages.register import lazily as _
from plant.sitetime import today_at


def _histories(request: Any, train: Train) -> dict[str, Any]:
    if not trains_to_read(request.user).filter(pk=train.pk).exists():
        return {"lines": [], "url": ""}
    couplings = couplings_on(request.user, train)
    lines = small_lines(couplings, today_at(train.site, timezone.now()))
    return {"lines": [(one, lines[one.pk]) for one in couplings], "url": reverse("train", args=[train.uuid])}


add_part("trains", Part(_("History"), "inspections/register/of_train.html", _histories))
