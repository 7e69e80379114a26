"""Questions about people."""

from datetime import date
from typing import Any

from django.db.models import Prefetch, Q, QuerySet

from plant import access
from plant.models import Membership, Person, Site, Token


def people_kept_by(person: Person) -> QuerySet[Person]:
    """People with a role at a site whose people this person keeps, with those roles; and the person's own row."""
    roles = Membership.objects.select_related("site")
    if person.sees_everything and access.may(person, "people.write", None):
        return Person.objects.prefetch_related(Prefetch("memberships", roles))
    kept = access.sites_where(person, "people.write")
    theirs = Membership.objects.filter(site_id__in=kept).values("person_id")
    return Person.objects.filter(Q(pk__in=theirs) | Q(pk=person.pk)).prefetch_related(
        Prefetch("memberships", roles.filter(Q(site_id__in=kept) | Q(person=person)))
    )


def tokens_of(person: Person) -> QuerySet[Token]:
    """A person's own tokens, the newest first."""
    return Token.objects.filter(person=person).prefetch_related("sites").order_by("-made_at")


def keeper_roles_of(person: Person, on: date) -> QuerySet[Membership]:
    """Where this person is the keeper on a day, with the sites."""
    rows = Membership.objects.filter(person=person, role=Membership.Role.KEEPER, from_on__lte=on)
    return rows.exclude(until_on__lt=on).select_related("site")


def other_keepers(site: Site, person: Person, after: date) -> QuerySet[Membership]:
    """Keepers of a site beside this person who are still there after a day, and can sign in."""
    stays = Q(until_on__isnull=True) | Q(until_on__gt=after)
    signs_in = Q(person__until_on__isnull=True) | Q(person__until_on__gt=after)
    rows = Membership.objects.filter(stays, signs_in, site=site, role=Membership.Role.KEEPER, person__is_active=True)
    return rows.exclude(person=person)


def people_at(
    site: Site, *, text: str = "", role: str = "", employer: str = "", ends_by: date | None = None, today: date
) -> QuerySet[Person]:
    """People with a role in force or to come at a site, with those roles as `here`; of one role, employer or end."""
    roles = Membership.objects.filter(site=site).filter(Q(until_on__isnull=True) | Q(until_on__gte=today))
    wanted = roles.filter(role=role) if role else roles
    if ends_by is not None:
        wanted = wanted.filter(Q(until_on__lte=ends_by) | Q(person__until_on__lte=ends_by))
    rows = Person.objects.filter(pk__in=wanted.values("person_id"))
    if text := text.strip():
        rows = rows.filter(
            Q(username__icontains=text)
            | Q(first_name__icontains=text)
            | Q(last_name__icontains=text)
            | Q(email__icontains=text)
        )
    if employer:
        rows = rows.filter(employer=employer)
    here = Prefetch("memberships", roles.order_by("role"), to_attr="here")
    return rows.prefetch_related(here).order_by("first_name", "last_name", "username")


def employers_at(site: Site) -> list[str]:
    """Every employer named at a site, by name."""
    named = Person.objects.filter(memberships__site=site).exclude(employer="")
    return list(named.order_by("employer").values_list("employer", flat=True).distinct())


def role_history(person: Person, sites: set[int]) -> list[Any]:
    """Every giving, changing and ending of this person's roles at these sites, the newest first, with who did it."""
    rows = Membership.history.model.objects.filter(person_id=person.pk, site_id__in=sites)
    return list(rows.select_related("site", "history_user").order_by("-history_date", "-history_id")[:50])


def works_at(person: Person, site: Site, on: date) -> bool:
    """Whether somebody has a role for the whole of a site on a day, so that work there can be given to them."""
    rows = Membership.objects.filter(person=person, site=site, from_on__lte=on, person__is_active=True)
    return rows.exclude(until_on__lt=on).exclude(role=Membership.Role.CONTRACTOR).exists()
