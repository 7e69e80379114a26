"""Flags, checks, drafts and orders in somebody's hands, and what they signed."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Q, QuerySet
from django.urls import reverse

from inspections.models import Check, CrewMember, Flag, Visit, WorkOrder
from plant.models import Person
from plant.selectors.belongings import InHand, Signed, ask_for_signatures, ask_for_things_in_hand

OVER = "goes to whoever takes over"


def flags_of(person: Person, sites: set[int]) -> QuerySet[Flag]:
    """Open flags that somebody owns."""
    return Flag.objects.filter(owner=person, cleared_at__isnull=True, site_id__in=sites).order_by("opened_at", "pk")


def checks_of(person: Person, sites: set[int]) -> QuerySet[Check]:
    """Open checks that somebody sees to."""
    return Check.objects.filter(owner=person, settled_on__isnull=True, site_id__in=sites).order_by("due_on", "pk")


def drafts_in_hand(person: Person, sites: set[int]) -> QuerySet[Visit]:
    """Drafts that somebody typed in and nobody took over, and those taken over."""
    theirs = Q(in_hand_of=person) | Q(in_hand_of=None, entered_by=person)
    return Visit.objects.filter(theirs, state=Visit.State.DRAFT, site_id__in=sites).order_by("on", "pk")


def crews_of(person: Person, sites: set[int]) -> QuerySet[CrewMember]:
    """Their places in the crews of open orders."""
    rows = CrewMember.objects.filter(person=person, order__state=WorkOrder.State.OPEN, order__site_id__in=sites)
    return rows.select_related("order__train").order_by("order__number", "pk")


def things_in_hand(person: Person, sites: set[int], at: datetime) -> list[InHand]:
    """Everything at these sites that somebody else has to go on with."""
    return [
        *(
            InHand(f"Flag “{flag.get_kind_display()}” at {flag.coupling}", OVER, _coupling(flag), passes_on=True)
            for flag in flags_of(person, sites).select_related("coupling")
        ),
        *(
            InHand(
                f"Check “{check.get_kind_display()}” at {check.coupling}, due on {check.due_on}",
                OVER, _coupling(check), passes_on=True,
            )
            for check in checks_of(person, sites).select_related("coupling")
        ),
        *(
            InHand(
                f"Visit at {visit.coupling} on {visit.on}, still being written",
                OVER + "; who took and typed it stays written", reverse("visit", args=[visit.uuid]), passes_on=True,
            )
            for visit in drafts_in_hand(person, sites).select_related("coupling")
        ),
        *(
            InHand(f"Work order {one.order.number} at {one.order.train}, in its crew", OVER, passes_on=True)
            for one in crews_of(person, sites)
        ),
    ]  # fmt: skip


def _coupling(row: Flag | Check) -> str:
    return reverse("coupling", args=[row.coupling.uuid])


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
