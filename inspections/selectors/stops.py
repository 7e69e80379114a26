"""Planned stops as the work asks for them: the next one of a train, and those of a span of days."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date

from plant.models import Area, Site, Stop, Train
from plant.models.roots import RootQuerySet

__all__ = ["next_stop", "next_stops", "stops_between"]


def next_stop(train: Train, today: date) -> date | None:
    """First day of the next planned stop in which this train stands still; today where one is under way.

    A stop counts when it names the train, its area or an area around that, or the whole site.
    """
    return next_stops([train], today).get(train.pk)


def next_stops(trains: Iterable[Train], today: date) -> dict[int, date]:
    """The same of many trains, by train id, in two queries however many; a train without a planned stop is left out.

    `today` is the day by which stops are over or to come; trains of sites in other time zones are asked for apart.
    """
    trains = list(trains)
    if not trains:
        return {}
    sites = {train.site_id for train in trains}
    of_train: dict[int, date] = {}
    of_area: dict[int, date] = {}
    of_site: dict[int, date] = {}
    coming = Stop.objects.filter(site_id__in=sites, ends_on__gte=today).order_by("begins_on", "pk")
    for site_id, area_id, train_id, begins_on in coming.values_list("site_id", "area_id", "train_id", "begins_on"):
        first = max(begins_on, today)
        if train_id is not None:
            of_train.setdefault(train_id, first)
        elif area_id is not None:
            of_area.setdefault(area_id, first)
        else:
            of_site.setdefault(site_id, first)
    around = _areas_around(sites) if of_area else {}
    found: dict[int, date] = {}
    for train in trains:
        days = [of_train.get(train.pk), of_site.get(train.site_id)]
        days += [of_area.get(area) for area in around.get(train.area_id, ())]
        known = [one for one in days if one is not None]
        if known:
            found[train.pk] = min(known)
    return found


def stops_between(site: Site, first: date, last: date) -> RootQuerySet:
    """Stops of a site with at least one day in a span, both ends included; rows print without further queries."""
    rows: RootQuerySet = Stop.objects.filter(site=site, ends_on__gte=first, begins_on__lte=last)
    return rows.select_related("area", "train").order_by("begins_on", "pk")


def _areas_around(sites: Iterable[int]) -> dict[int, list[int]]:
    """For each area itself and those around it, from the inside out."""
    above = dict(Area.objects.filter(site_id__in=sites).values_list("pk", "parent_id"))
    around: dict[int, list[int]] = defaultdict(list)
    for area in above:
        here: int | None = area
        while here is not None and here not in around[area]:
            around[area].append(here)
            here = above.get(here)
    return around
