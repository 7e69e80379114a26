"""Signed surveys, with what a program prints of them."""

from __future__ import annotations

from django.db.models import QuerySet

from inspections.models import Survey
from plant.models import Person
from plant.models.roots import reach


def surveys_visible_to(person: Person) -> QuerySet[Survey]:
    """Surveys of the texts in force at the person's sites; they print without further queries."""
    rows = Survey.objects.filter(record__feeds__isnull=False)
    if not person.sees_everything:
        rows = rows.filter(reach(Survey, person))
    joined = rows.select_related("site", "visit__coupling", "visit__sheet_version", "record", "observer", "result")
    return joined.prefetch_related("sets__readings", "sets__instrument")
