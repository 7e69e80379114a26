"""Links that were made: those of the sites one keeps, and the one behind a secret."""

from datetime import datetime

from django.core.signing import BadSignature, Signer
from django.db.models import QuerySet

from plant import access
from plant.models import Invitation, Person, Token


def invitations_kept_by(person: Person) -> QuerySet[Invitation]:
    """Invitations to the sites whose people this person keeps, the newest first."""
    rows = Invitation.objects.filter(kind=Invitation.Kind.ROLE).select_related("site", "made_by", "person")
    if person.sees_everything and access.may(person, "people.write", None):
        return rows
    return rows.filter(site_id__in=access.sites_where(person, "people.write"))


def open_invitations(at: datetime) -> QuerySet[Invitation]:
    """Those whose link still opens something at an instant."""
    return Invitation.objects.filter(used_at__isnull=True, withdrawn_at__isnull=True, expires_at__gt=at)


def digest_in(secret: str) -> str:
    """Under which digest the invitation of this link is kept; "" where we never signed it."""
    try:
        return Token.digest_of(Signer(salt="invitation").unsign(secret))
    except BadSignature:
        return ""


def invitation_behind(secret: str) -> Invitation | None:
    """The invitation of this link, whether it still opens something or not."""
    digest = digest_in(secret)
    rows = Invitation.objects.select_related("site", "made_by", "person")
    return rows.filter(digest=digest).first() if digest else None
