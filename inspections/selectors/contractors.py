"""What a contractor reads: the trains of the work orders he is on, and there only what the work needs."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet

from couplings.models import Coupling, DataSheet, Element, Fit, Instrument
from inspections.models import CrewMember, Photo, Survey, Visit, WorkOrder
from plant.models import Area, Person, Train
from plant.models.roots import narrow


def orders_of(person: Person) -> QuerySet[CrewMember, Any]:
    """Ids of the work orders whose crew names this person, for use inside another question."""
    return CrewMember.objects.filter(person=person).values("order_id")


def trains_of(person: Person) -> QuerySet[CrewMember, Any]:
    """Ids of the trains of these orders."""
    return CrewMember.objects.filter(person=person).values("order__train_id")


def is_on(person: Person, order: WorkOrder | None, site_id: int) -> bool:
    """Whether this person may work under this order: contractors are in its crew, a role for the whole site is free."""
    if person.reads_whole(site_id):
        return True
    return order is not None and order.crew.filter(person=person).exists()


def order_to_look_under(person: Person, coupling: Coupling) -> WorkOrder | None:
    """The open order at this train whose crew a contractor is in, the latest; whoever works for the site needs none."""
    if person.reads_whole(coupling.site_id):
        return None
    mine: QuerySet[WorkOrder] = WorkOrder.objects.filter(
        train_id=coupling.train_id, state=WorkOrder.State.OPEN, pk__in=orders_of(person)
    )
    return mine.order_by("-pk").first()


def narrow_to_orders() -> None:
    """Say it for every noun that belongs to an order; what is left out (flags, checks, policies) is not theirs."""
    narrow(Train, lambda person: Q(pk__in=trains_of(person)))
    narrow(Area, lambda person: Q(pk__in=Train.objects.filter(pk__in=trains_of(person)).values("area_id")))
    narrow(Coupling, lambda person: Q(train_id__in=trains_of(person)))
    narrow(Fit, lambda person: Q(coupling__train_id__in=trains_of(person)))
    narrow(Element, lambda person: Q(fit__coupling__train_id__in=trains_of(person)))
    narrow(DataSheet, lambda person: Q(pk__in=_sheets_of(person)))
    narrow(WorkOrder, lambda person: Q(pk__in=orders_of(person)))
    narrow(Visit, lambda person: Q(work_order_id__in=orders_of(person)))
    narrow(Survey, lambda person: Q(visit__work_order_id__in=orders_of(person)))
    narrow(Photo, lambda person: Q(visit__work_order_id__in=orders_of(person)))
    # A reading names the tool it was taken with, and the tools are the site's.
    narrow(Instrument, lambda person: Q())


def _sheets_of(person: Person) -> QuerySet[Fit, Any]:
    return Fit.objects.filter(coupling__train_id__in=trains_of(person)).values("sheet_version__sheet_id")
