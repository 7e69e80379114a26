"""Flags, checks, drafts and crew places of somebody who leaves go to whoever takes over.

The keeper's act: `hand_over` asked whether she may.
"""

from __future__ import annotations

from typing import Any

from django.db.models import Q

from inspections.models import Check, CrewMember, Flag, Visit, WorkOrder
from inspections.selectors.belongings import checks_of, crews_of, drafts_in_hand, flags_of
from plant.models import Person, Site
from plant.recording import bump
from plant.services.leaving import hand_over_also


def hand_over_flags(person: Person, to: Person, site: Site) -> int:
    """Give the open flags of one person at a site to another."""
    return _given(list(flags_of(person, {site.pk})), "owner", to)


def hand_over_checks(person: Person, to: Person, site: Site) -> int:
    """Give the open checks that one person sees to at a site to another."""
    return _given(list(checks_of(person, {site.pk})), "owner", to)


def hand_over_drafts(person: Person, to: Person, site: Site) -> int:
    """Have another person go on with what is still being written. Who took and who typed it stays as it was."""
    return _given(list(drafts_in_hand(person, {site.pk})), "in_hand_of", to)


def hand_over_crews(person: Person, to: Person, site: Site) -> int:
    """Put another person into the crews of open orders.

    Where somebody already worked under an order the crew keeps the name as it is written, without the person.
    """
    places = list(crews_of(person, {site.pk}))
    worked = _worked_under({place.order_id for place in places}, person)
    for place in places:
        order = place.order
        bump(order)
        there = CrewMember.objects.filter(order=order, person=to).exists()
        if order.pk in worked:
            place.person = None
            place.save(update_fields=["person"])
        else:
            place.delete()
        if not there:
            _enter(order, to)
    return len(places)


def _enter(order: WorkOrder, to: Person) -> None:
    """One place for one name: a namesake who is written there without an account becomes this person."""
    CrewMember.objects.update_or_create(
        order=order, name=str(to)[:80], defaults={"person": to, "employer": to.employer}
    )


def _worked_under(orders: set[int], person: Person) -> set[int]:
    isolated = Q(isolated_by=person) | Q(verified_by=person) | Q(removed_by=person)
    visited = Visit.objects.filter(Q(taken_by=person) | Q(entered_by=person) | Q(signed_by=person))
    rows = WorkOrder.objects.filter(isolated | Q(pk__in=visited.values("work_order_id")), pk__in=orders)
    return set(rows.values_list("pk", flat=True))


def _given(rows: list[Flag] | list[Check] | list[Visit], column: str, to: Person) -> int:
    one: Any
    for one in rows:
        bump(one)
        setattr(one, column, to)
        one.save(update_fields=[column])
    return len(rows)


def hand_over_work() -> None:
    """Let leaving ask here."""
    for handing in (hand_over_flags, hand_over_checks, hand_over_drafts, hand_over_crews):
        hand_over_also(handing)
