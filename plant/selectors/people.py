"""Questions about people."""

from datetime import date

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
