"""Work orders, for lists and choices."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from django.db.models import QuerySet

from inspections.models import WorkOrder
from plant.models import Person, Train
from plant.refusals import Missing


def orders_visible_to(person: Person) -> QuerySet[WorkOrder]:
    """Orders at the person's sites with train, crew and who isolated."""
    found: QuerySet[WorkOrder] = WorkOrder.objects.visible_to(person)
    return found.select_related("site", "train__area", "isolated_by", "verified_by", "removed_by").prefetch_related(
        "crew__person"
    )


def order_for(person: Person, uuid: UUID | str) -> WorkOrder:
    """The order of this id, if the person may see it; otherwise there is none."""
    order = orders_visible_to(person).filter(uuid=uuid).first()
    if order is None:
        raise Missing()
    return order


def open_orders(train: Train) -> QuerySet[WorkOrder]:
    """Orders at a train that visits can still hang on."""
    return train.work_orders.filter(state=WorkOrder.State.OPEN).order_by("-pk")


def only_open_orders(trains: Iterable[int]) -> dict[int, WorkOrder]:
    """By train, the order that stands open there where it is the only one."""
    found: dict[int, list[WorkOrder]] = {}
    for order in WorkOrder.objects.filter(train_id__in=set(trains), state=WorkOrder.State.OPEN):
        found.setdefault(order.train_id, []).append(order)
    return {train: orders[0] for train, orders in found.items() if len(orders) == 1}
