"""The trains somebody had to do with last."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Max, Q

from inspections.models import CrewMember, Visit
from plant.models import Person, Train


def trains_lately(person: Person, most: int) -> list[Train]:
    """Trains at which this person wrote visits, is in the crew, or changed the register, the latest first."""
    visits = Visit.objects.filter(Q(taken_by=person) | Q(entered_by=person) | Q(in_hand_of=person))
    crews = CrewMember.objects.filter(person=person)
    last: dict[int, datetime] = {}
    for rows in (
        visits.order_by().values_list("coupling__train").annotate(at=Max("entered_at")),
        crews.order_by().values_list("order__train").annotate(at=Max("order__isolated_at")),
        Train.history.filter(history_user=person).order_by().values_list("id").annotate(at=Max("history_date")),
    ):
        for train, at in rows.order_by("-at")[: 4 * most]:
            if at is not None:
                last[train] = max(at, last.get(train, at))
    seen = Train.objects.visible_to(person).filter(pk__in=last).select_related("area")
    return sorted(seen, key=lambda train: last[train.pk], reverse=True)[:most]
