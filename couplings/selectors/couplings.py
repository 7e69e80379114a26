"""Couplings by what a person knows of them: a few letters of a tag, a serial number, an address on a label."""

from __future__ import annotations

from uuid import UUID

from django.db.models import F, Q, QuerySet

from couplings.models import Coupling, Fit
from plant.models import Person
from plant.refusals import Missing

PRINTED = ("site", "train__area", "driver_machine", "driven_machine", "grade", "successor")


def couplings_visible_to(person: Person) -> QuerySet[Coupling]:
    """Couplings of the person's sites with everything a list prints, targets included."""
    return Coupling.objects.visible_to(person).select_related(*PRINTED).prefetch_related("target_parts__by")


def couplings_matching(person: Person, text: str) -> QuerySet[Coupling]:
    """Couplings whose tag, name, train or fitted serial number contains the text; those in the register first.

    Nothing typed finds nothing: a list of a whole plant answers no search.
    """
    text = text.strip()
    if not text:
        return Coupling.objects.none()
    fitted = Fit.objects.filter(serial__icontains=text, removed_on__isnull=True).values("coupling_id")
    return (
        Coupling.objects.visible_to(person)
        .filter(
            Q(tag__icontains=text)
            | Q(name__icontains=text)
            | Q(train__tag__icontains=text)
            | Q(train__name__icontains=text)
            | Q(pk__in=fitted)
        )
        .select_related(*PRINTED)
        .order_by(F("retired_on").asc(nulls_first=True), "tag", "pk")
    )


def coupling_for(person: Person, uuid: UUID | str) -> Coupling:
    """The coupling of this id, if the person may see it; otherwise there is none."""
    coupling = Coupling.objects.visible_to(person).select_related(*PRINTED).filter(uuid=uuid).first()
    if coupling is None:
        raise Missing()
    return coupling
