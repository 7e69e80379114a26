"""People whom the work may name: a crew, whoever took the readings, a flag's owner."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db.models import Q, QuerySet

from inspections.models import Flag
from inspections.selectors.contractors import orders_of
from plant.models import Membership, Person, Site


def colleagues_of(person: Person) -> QuerySet[Person]:
    """Everybody with a role at a site this person reads, and the person; a contractor names his own crews. Services ask
    for a role at the site itself."""
    everybody: QuerySet[Person] = Person.objects.all()
    if person.sees_everything:
        return everybody
    there = everybody.filter(memberships__site_id__in=person.whole_site_ids()).values("pk")
    mates = everybody.filter(outings__order_id__in=orders_of(person)).values("pk")
    return everybody.filter(Q(pk__in=there) | Q(pk__in=mates) | Q(pk=person.pk))


def works_at(person: Person, site_id: int, on: date) -> bool:
    """Whether the person has a role at the site on that day; asked of somebody else than whoever is signed in."""
    in_force = Q(until_on__isnull=True) | Q(until_on__gte=on)
    there = Membership.objects.filter(in_force, person=person, site_id=site_id, from_on__lte=on)
    left = Q(person__until_on__isnull=False) & Q(person__until_on__lt=on)
    return there.filter(person__is_active=True).exclude(left).exists()


def owner_to_begin_with(coupling: Any, kind: str) -> Person | None:
    """Who deals with a new flag: who did with the last of its kind here, else the only reliability engineer."""
    there = owners_at(coupling.site)
    last = Flag.objects.filter(coupling=coupling, kind=kind, owner__isnull=False).order_by("-opened_at").first()
    if last is not None and (owner := there.filter(flags=last).first()) is not None:
        return owner
    engineers = Membership.objects.filter(site=coupling.site, role=Membership.Role.ENGINEER, until_on__isnull=True)
    found = list(there.filter(pk__in=engineers.values("person_id"))[:2])
    return found[0] if len(found) == 1 else None


def owners_at(site: Site) -> QuerySet[Person]:
    """People who may be named as dealing with something at a site: whoever works there and reads all of it."""
    there = Membership.objects.filter(site=site).exclude(role=Membership.Role.CONTRACTOR).values("person_id")
    return Person.objects.filter(pk__in=there, is_active=True, kind=Person.Kind.PERSON).order_by(
        "first_name", "username"
    )
