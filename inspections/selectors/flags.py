"""Open flags, with the rows a page or the API prints beside them."""

from typing import Any

from django.db.models import QuerySet

from couplings.models import Coupling
from inspections.models import Flag
from plant.models import Person


def flags_visible_to(person: Person) -> QuerySet[Flag]:
    """Every flag at the reader's sites, oldest opened first."""
    rows: QuerySet[Flag] = Flag.objects.visible_to(person)
    return rows.select_related("site", "owner", "acknowledged_by", "cleared_by", "coupling__train__area").order_by(
        "opened_at", "id"
    )


def open_flags(*, coupling: Coupling | None = None, person: Person | None = None, **where: Any) -> QuerySet[Flag]:
    """Flags that nobody has cleared yet, of one coupling or at the reader's sites, oldest first."""
    if (coupling is None) == (person is None):
        raise TypeError("Ask for the flags of one coupling, or for those one person sees.")
    rows: QuerySet[Flag]
    if coupling is not None:
        rows = (
            Flag.objects.filter(coupling=coupling)
            .select_related("site", "owner", "acknowledged_by", "previous")
            .order_by("opened_at", "id")
        )
    else:
        assert person is not None
        rows = flags_visible_to(person)
    return rows.filter(cleared_at__isnull=True, **where)


def chain_of(flag: Flag) -> list[Flag]:
    """The flags of the same kind before this one, the last first: how often the condition came back.

    All of a coupling's flags of one kind are read at once and walked by their predecessors.
    """
    rows = Flag.objects.filter(coupling=flag.coupling_id, kind=flag.kind).select_related("cleared_by", "owner")
    by_id = {one.pk: one for one in rows}
    chain, place = [], by_id[flag.pk]
    while place.previous_id is not None:
        place = by_id[place.previous_id]
        chain.append(place)
    return chain
