"""A walk past running machines: the couplings of an area in order, and which of them were looked at today."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import Count, Q, QuerySet

from couplings.models import Coupling
from inspections.models import RunningLook, Visit
from plant.models import Area, Person, Train
from plant.refusals import Missing
from plant.sitetime import today_at


@dataclass
class Walk:
    """One area's round of a day. `resting` are couplings whose trains do not run, or have nothing fitted."""

    area: Area
    on: date
    couplings: list[Coupling] = field(default_factory=list)
    resting: list[Coupling] = field(default_factory=list)
    done: dict[int, Visit] = field(default_factory=dict)
    odd: list[RunningLook] = field(default_factory=list)

    @property
    def left(self) -> list[Coupling]:
        return [one for one in self.couplings if one.pk not in self.done]

    def place_of(self, coupling: Coupling) -> int:
        """Its place on the walk, from 1."""
        return next((place for place, one in enumerate(self.couplings, 1) if one.pk == coupling.pk), 0)


def areas_to_walk(person: Person) -> QuerySet[Area]:
    """Areas at the person's sites with couplings that run, with how many."""
    runs = Q(trains__service=Train.Service.IN, trains__couplings__retired_on__isnull=True)
    found: QuerySet[Area] = Area.objects.visible_to(person)
    counted = found.annotate(running=Count("trains__couplings", filter=runs, distinct=True))
    return counted.filter(running__gt=0).select_related("site").order_by("site__name", "name")


def walk_of(person: Person, area: UUID, at: datetime) -> Walk:
    """The walk through an area and everything below it, in the order of train and tag."""
    here = Area.objects.visible_to(person).select_related("site").filter(uuid=area).first()
    if here is None:
        raise Missing()
    walk = Walk(here, today_at(here.site, at))
    rows = (
        Coupling.objects.visible_to(person)
        .filter(train__area_id__in=_below(here), retired_on__isnull=True)
        .select_related("site", "train__area", "driver_machine", "driven_machine")
        .annotate(fitted=Count("fits", filter=Q(fits__removed_on__isnull=True)))
        .order_by("train__tag", "tag")
    )
    for one in rows:
        runs = one.fitted and one.train.service == Train.Service.IN
        (walk.couplings if runs else walk.resting).append(one)
    looked = Visit.objects.filter(
        coupling__in=[one.pk for one in walk.couplings],
        kind=Visit.Kind.RUNNING,
        on=walk.on,
        state=Visit.State.SIGNED,
    )
    walk.done = {one.coupling_id: one for one in looked.order_by("pk")}
    odd = RunningLook.objects.filter(visit__in=list(walk.done.values()), ordinary=False, record__feeds__isnull=False)
    walk.odd = list(odd.select_related("visit__coupling").order_by("visit__coupling__tag"))
    return walk


def _below(area: Area) -> Iterable[Any]:
    """The area's id and those of everything below it; one question for the whole site."""
    parts: dict[int | None, list[int]] = {}
    for pk, parent in Area.objects.filter(site_id=area.site_id).values_list("pk", "parent_id"):
        parts.setdefault(parent, []).append(pk)
    found, ahead = {area.pk}, [area.pk]
    while ahead:
        for pk in parts.get(ahead.pop(), []):
            if pk not in found:
                found.add(pk)
                ahead.append(pk)
    return found
