"""People whom the work may name: a crew, whoever took the readings, a flag's owner."""

from __future__ import annotations

from django.db.models import QuerySet

from plant.models import Person


def colleagues_of(person: Person) -> QuerySet[Person]:
    """Everybody with a role at a site this person reads, and the person; services ask for a role at the site itself."""
    everybody: QuerySet[Person] = Person.objects.all()
    if person.sees_everything:
        return everybody
    there = everybody.filter(memberships__site_id__in=person.site_ids()).values("pk")
    return everybody.filter(pk__in=there) | everybody.filter(pk=person.pk)
