"""Looks in passing: the last one at a coupling."""

from __future__ import annotations

from inspections.models import RunningLook, Visit


def last_look(visit: Visit) -> RunningLook | None:
    """The look before this visit's day or on it, by the text that now counts; kept with the visit once asked."""
    kept: RunningLook | None
    if "_last_look" in visit.__dict__:
        kept = visit.__dict__["_last_look"]
        return kept
    kept = (
        RunningLook.objects.filter(visit__coupling_id=visit.coupling_id, record__feeds__isnull=False)
        .filter(visit__on__lte=visit.on)
        .exclude(visit_id=visit.pk)
        .order_by("-visit__on", "-record__number")
        .first()
    )
    visit.__dict__["_last_look"] = kept
    return kept
