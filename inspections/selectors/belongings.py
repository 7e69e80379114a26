"""Flags, drafts and orders in somebody's hands, and what they signed."""

from __future__ import annotations

from datetime import datetime

from django.urls import reverse

from inspections.models import Flag, Visit, WorkOrder
from plant.models import Person
from plant.selectors.belongings import InHand, Signed, ask_for_signatures, ask_for_things_in_hand


def things_in_hand(person: Person, sites: set[int], at: datetime) -> list[InHand]:
    """Open flags they own, visits they began, open orders whose crew they are in."""
    flags = Flag.objects.filter(owner=person, cleared_at__isnull=True, site_id__in=sites).select_related("coupling")
    drafts = Visit.objects.filter(entered_by=person, state=Visit.State.DRAFT, site_id__in=sites)
    orders = WorkOrder.objects.filter(crew__person=person, state=WorkOrder.State.OPEN, site_id__in=sites)
    return [
        *(
            InHand(
                f"Flag “{flag.get_kind_display()}” at {flag.coupling}",
                "goes to whoever takes over",
                reverse("coupling", args=[flag.coupling.uuid]),
                passes_on=True,
            )
            for flag in flags.order_by("opened_at")
        ),
        *(
            InHand(
                f"Visit at {visit.coupling} on {visit.on}, still being written",
                "anybody who fills visits goes on with it",
                reverse("visit", args=[visit.uuid]),
            )
            for visit in drafts.select_related("coupling").order_by("on")
        ),
        *(
            InHand(f"Work order {order.number} at {order.train}", "stays in its crew list until the planner changes it")
            for order in orders.select_related("train").order_by("number")
        ),
    ]


def signatures(person: Person, sites: set[int]) -> list[Signed]:
    """Visits they signed, the latest ten."""
    rows = Visit.objects.filter(signed_by=person, site_id__in=sites).select_related("coupling").order_by("-signed_at")
    return [
        Signed(
            f"{visit.coupling}, {visit.get_kind_display()}", visit.signed_at, reverse("visit-record", args=[visit.uuid])
        )
        for visit in rows[:10]
        if visit.signed_at is not None
    ]


def tell_of_work() -> None:
    """Let the pages of people ask here."""
    ask_for_things_in_hand(things_in_hand)
    ask_for_signatures(signatures)
