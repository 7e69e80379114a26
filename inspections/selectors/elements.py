"""How long elements live at a site and which will be needed, for the pages Elements and Parts."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from couplings.engineering.ageing import ElementAge
from couplings.models import StockLot
from couplings.selectors.stock import lots_to_fit, storage_ages
from inspections.forecasting.legs import ForecastError
from inspections.forecasting.life import BOUND, COUNTS, FEW, Estimate, by_itself, counted, estimates
from inspections.forecasting.needs import Law, Need, needed
from inspections.forecasting.replacement import Replacement, replacement
from inspections.forecasting.running import Running, rate
from inspections.models import CheckKind, Policy
from inspections.selectors.legs import running_of_trains
from inspections.selectors.lives import FOUND, REMOVED, ElementLife, as_lives, by_type, counts_by_hours, element_lives
from plant.models import Site
from plant.sitetime import zone_of

BY_PART, BY_FAMILY, BY_AREA = "part", "family", "area"
GROUPINGS = (BY_PART, BY_FAMILY, BY_AREA)
HORIZONS = (91, 182, 365)


@dataclass(frozen=True)
class Costs:
    """What replacing one element costs as planned, and what a failure costs, in the site's currency. None: not set.

    Planned: the element and the hours of its check. A failure: the same and what it costs besides.
    """

    planned: float | None
    unplanned: float | None
    hours: float
    missing: tuple[str, ...]


@dataclass(frozen=True)
class Group:
    """Elements of one part number, family or area. `longest` is the longest life, in the unit of the estimate."""

    name: str
    family: str
    estimate: Estimate
    by_hours: bool
    lives: tuple[ElementLife, ...]
    longest: float
    removals: tuple[tuple[str, int], ...]
    best: Replacement | None

    @property
    def running(self) -> int:
        return sum(one.running for one in self.lives)


@dataclass(frozen=True)
class Part:
    """One part number: how many run, how many are needed within each horizon, and what lies in store."""

    part: str
    family: str
    running: int
    worn: int
    needs: tuple[Need, ...]
    by_law: bool
    lots: tuple[tuple[StockLot, ElementAge | None], ...]

    @property
    def in_store(self) -> int:
        return sum(lot.count for lot, _age in self.lots)

    @property
    def fit_to_use(self) -> int:
        """In store and not over its age; what no rule judges counts as fit."""
        return sum(lot.count for lot, age in self.lots if age is None or age.verdict != "out of tolerance")

    @property
    def short(self) -> bool:
        """Whether what is expected within the longest horizon, to the nearest whole one, is more than is fit to use."""
        return bool(self.needs) and round(self.needs[-1].expected) > self.fit_to_use


def costs_of(site: Site) -> Costs:
    """From the settings of the site and its policy for replacing elements."""
    policy = Policy.objects.filter(site=site, check_kind=CheckKind.ELEMENT).order_by("criticality").first()
    hours = policy.crew_hours * policy.crew_size if policy is not None else 0.0
    asked = {"element_cost": site.element_cost, "failure_cost": site.failure_cost, "labour_rate": site.labour_rate}
    missing = tuple(name for name, value in asked.items() if value is None)
    if site.element_cost is None or site.failure_cost is None or site.labour_rate is None:
        return Costs(None, None, hours, missing)
    planned = site.element_cost + hours * site.labour_rate
    return Costs(planned or None, planned + site.failure_cost, hours, missing)


def groups_of(site: Site, today: date, by: str = BY_PART) -> list[Group]:
    """Lives of a site in groups, the most failures first; one law goes by one clock."""
    found, costs = element_lives(site, today), costs_of(site)
    groups: list[Group] = []
    if by == BY_PART:
        for family, types in by_type(found).items():
            by_hours = counts_by_hours([one for group in types.values() for one in group])
            laws = estimates({part: as_lives(group, by_hours) for part, group in types.items()})
            groups += [_group(part, family, laws[part], by_hours, types[part], costs) for part in types]
    else:
        sorted_: dict[str, list[ElementLife]] = {}
        for one in found:
            name = one.coupling.train.area.name if by == BY_AREA else one.family
            sorted_.setdefault(name, []).append(one)
        for name, some in sorted_.items():
            by_hours = counts_by_hours(some)
            groups.append(_group(name, name if by == BY_FAMILY else "", _alone(some, by_hours), by_hours, some, costs))
    return sorted(groups, key=lambda one: (-one.estimate.failures, -one.estimate.elements, one.name))


def _alone(some: Sequence[ElementLife], by_hours: bool) -> Estimate:
    """A family or an area as if it were one type: a mixture, whose law says less than that of its parts."""
    given = as_lives(some, by_hours)
    if given.failures < FEW:
        return counted(given, given.failures)
    try:
        return by_itself(given)
    except ForecastError:
        return counted(given, given.failures, left_open=True)


def _group(
    name: str, family: str, estimate: Estimate, by_hours: bool, some: Sequence[ElementLife], costs: Costs
) -> Group:
    reasons = Counter(one.reason or "" for one in some if not one.running)
    given = as_lives(some, by_hours)
    best = None
    if estimate.covariance is not None and estimate.eta and estimate.beta and costs.planned and costs.unplanned:
        low = estimate.beta_limits[0] if estimate.beta_limits else None
        best = replacement(estimate.eta, estimate.beta, costs.planned, costs.unplanned, estimate.covariance, low)
    longest = float(given.seen_at.max(initial=0.0))
    return Group(name, family, estimate, by_hours, tuple(some), longest, tuple(reasons.most_common()), best)


def parts_of(site: Site, today: date) -> list[Part]:
    """Every part number that runs at a site or lies in its store, what is short first."""
    found = element_lives(site, today)
    zone = zone_of(site)
    meters = running_of_trains({one.coupling.train_id: zone for one in found if one.running})
    lots = lots_to_fit(site)
    stock: dict[str, list[tuple[StockLot, ElementAge | None]]] = {}
    for lot, age in zip(lots, storage_ages(lots, today), strict=True):
        stock.setdefault(lot.part_number, []).append((lot, age))
    parts: list[Part] = []
    for family, types in by_type(found).items():
        by_hours = counts_by_hours([one for group in types.values() for one in group])
        laws = estimates({part: as_lives(group, by_hours) for part, group in types.items()})
        for part, group in types.items():
            parts.append(_part(part, family, group, laws[part], by_hours, meters, stock.pop(part, [])))
    parts += [Part(part, "", 0, 0, (), False, tuple(rows)) for part, rows in stock.items()]
    return sorted(parts, key=lambda one: (not one.short, -(one.needs[-1].expected if one.needs else 0), one.part))


def _part(
    part: str,
    family: str,
    group: Sequence[ElementLife],
    estimate: Estimate,
    by_hours: bool,
    meters: dict[int, Running],
    lots: Sequence[tuple[StockLot, ElementAge | None]],
) -> Part:
    running = [one for one in group if one.running]
    worn = [one for one in running if one.how == FOUND]
    sound = [one for one in running if one.how != FOUND]
    law = None
    if estimate.basis not in (BOUND, COUNTS) and estimate.eta and estimate.beta and estimate.covariance:
        law = Law(estimate.eta, estimate.beta, estimate.covariance)
    gone = [one for one in group if not one.running and (law is None or one.how == REMOVED)]
    watched = sum(max(0.0, one.age_days - one.days[2]) for one in group)
    if by_hours:
        ages = [one.hours[0] if one.hours is not None else 0.0 for one in sound]
        paces = [rate(meters.get(one.coupling.train_id, Running())) or 0.0 for one in sound]
    else:
        ages, paces = [one.days[0] for one in sound], [1.0] * len(sound)
    needs: list[Need] = []
    if running and watched > 0:
        needs = needed(ages, paces, HORIZONS, law, len(gone), watched)
        # What a look found worn out is needed now.
        n = float(len(worn))
        needs = [Need(one.expected + n, one.low + n, one.high + n) for one in needs]
    return Part(part, family, len(running), len(worn), tuple(needs), law is not None, tuple(lots))


def clock_age(age: float | None, by_hours: bool) -> str:
    """An age as people say it: run hours, or months and years of the calendar."""
    if age is None:
        return ""
    if math.isinf(age):
        return "no end"
    if by_hours:
        return f"{age:,.0f}".replace(",", "\u202f") + "\u00a0h"
    return f"{age / 365.25:.1f}\u00a0years" if age >= 365.25 else f"{age / 30.4375:.1f}\u00a0months"
