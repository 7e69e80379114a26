"""In which state a train was, and when."""

from datetime import datetime

from django.db.models import Q, QuerySet

from plant.models import ServiceSpell, Train

__all__ = ["current_spell", "service_at", "spells_of"]


def spells_of(train: Train) -> QuerySet[ServiceSpell]:
    """All spells of a train, the current one first."""
    return ServiceSpell.objects.filter(train=train).select_related("by").order_by("-pk")


def current_spell(train: Train) -> ServiceSpell | None:
    """The open one."""
    return ServiceSpell.objects.filter(train=train, until_at__isnull=True).select_related("by").first()


def service_at(train: Train, instant: datetime) -> str:
    """The state at an instant: in, out or uncoupled."""
    began = Q(from_at__isnull=True) | Q(from_at__lte=instant)
    lasts = Q(until_at__isnull=True) | Q(until_at__gt=instant)
    found = ServiceSpell.objects.filter(began, lasts, train=train).values_list("state", flat=True).first()
    return found or train.service
