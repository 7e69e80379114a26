"""What trains cost over twelve months: crew hours, elements and hours down, as far as the records hold them.

Recorded: hours down of breakdowns, and which elements were fitted. Estimated: crew hours, since a visit does not say
how long it took - those that its checks were planned with; and the price of an element, one for the whole site. Visits
that settled no check count no hours.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import F

from couplings.models import Element
from inspections.models import Breakdown, Check, Visit
from plant.models import Site, Train

DAYS = 365
MOST = 10


@dataclass
class TrainCost:
    """One train: what was done, and what that costs by the site's settings. [hour], money in the site's currency."""

    train: Train
    checks: list[Check] = field(default_factory=list)
    elements: list[Element] = field(default_factory=list)
    breakdowns: list[Breakdown] = field(default_factory=list)

    @property
    def crew_hours(self) -> float:
        return sum(check.crew_hours * check.crew_size for check in self.checks)

    @property
    def hours_down(self) -> float:
        return sum(one.hours_down or 0.0 for one in self.breakdowns)

    @property
    def labour(self) -> float:
        return self.crew_hours * (self.train.site.labour_rate or 0.0)

    @property
    def parts(self) -> float:
        return len(self.elements) * (self.train.site.element_cost or 0.0)

    @property
    def down(self) -> float:
        return self.hours_down * (self.train.site.down_cost or 0.0)

    @property
    def total(self) -> float:
        return self.labour + self.parts + self.down

    @property
    def weight(self) -> tuple[float, float, float, int]:
        """What trains are sorted by: money, and where the settings say no money the hours themselves."""
        return self.total, self.hours_down, self.crew_hours, len(self.elements)


def costs_since(site: Site, today: date) -> date:
    """The first day counted."""
    return today - timedelta(days=DAYS - 1)


def costly_trains(site: Site, today: date, most: int | None = MOST) -> list[TrainCost]:
    """The trains that cost most in the twelve months to today; in four queries."""
    return _ranked(site, today, None)[:most]


def cost_of(train: Train, today: date) -> TrainCost:
    """The same of one train, with nothing in it where nothing was done."""
    return next(iter(_ranked(train.site, today, train)), TrainCost(train))


def missing_settings(site: Site) -> list[str]:
    """The settings without which a part of the cost is not told as money."""
    return [name for name in ("labour_rate", "element_cost", "down_cost") if getattr(site, name) is None]


def _ranked(site: Site, today: date, train: Train | None) -> list[TrainCost]:
    since = costs_since(site, today)
    one = {"coupling__train": train} if train is not None else {}
    checks = Check.objects.filter(
        site=site, outcome=Check.Outcome.DONE, settled_on__gte=since, settled_on__lte=today, **one
    ).select_related("coupling", "settled_by")
    elements = Element.objects.filter(
        site=site, fitted_on__gte=since, fitted_on__lte=today, continues__isnull=True,
        **({"fit__coupling__train": train} if train is not None else {}),
    ).select_related("fit__coupling")  # fmt: skip
    broke = Breakdown.objects.filter(
        visit__site=site, visit__state=Visit.State.SIGNED, record=F("visit__record"), visit__on__gte=since,
        visit__on__lte=today, **({"visit__coupling__train": train} if train is not None else {}),
    ).select_related("visit__coupling")  # fmt: skip
    found: dict[int, TrainCost] = {}
    rows = _by_train(
        ((check.coupling.train_id, "checks", check) for check in checks),
        ((one.fit.coupling.train_id, "elements", one) for one in elements),
        ((one.visit.coupling.train_id, "breakdowns", one) for one in broke),
    )
    for each in Train.objects.filter(pk__in=rows).select_related("site", "area"):
        cost = found[each.pk] = TrainCost(each)
        for name, row in rows[each.pk]:
            getattr(cost, name).append(row)
    ranked = sorted(found.values(), key=lambda cost: (*(-one for one in cost.weight), cost.train.tag))
    return ranked


def _by_train(*kinds: Iterable[tuple[int, str, object]]) -> dict[int, list[tuple[str, object]]]:
    rows: dict[int, list[tuple[str, object]]] = defaultdict(list)
    for kind in kinds:
        for train_id, name, row in kind:
            rows[train_id].append((name, row))
    return rows
