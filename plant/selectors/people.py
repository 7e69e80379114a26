"""Questions about people."""

from django.db.models import Prefetch, Q, QuerySet

from plant import access
from plant.models import Membership, Person, Token


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
