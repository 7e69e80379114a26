"""Personal tokens for programs: the secret is shown once and kept as a digest."""

import logging
import secrets
from collections.abc import Iterable
from datetime import datetime, timedelta

from plant import access
from plant.models import AuditEntry, Invitation, Person, Site, Token
from plant.recording import current
from plant.refusals import NotAllowed, Refused
from plant.services.audit import noted

LONGEST = timedelta(days=366)
logger = logging.getLogger(__name__)


def make_token(
    *, person: Person, name: str, scopes: Iterable[str], sites: Iterable[Site], expires_at: datetime
) -> tuple[Token, str]:
    """A new token and its secret, which nobody can read again. Without sites it reaches all of the person's.

    A token makes no tokens: one that leaked could otherwise outlive its own end.
    """
    unit = current()
    if unit.by is not None and (unit.by.pk != person.pk or unit.by.token is not None):
        raise NotAllowed("A token is made by its owner, signed in with a password.")
    name, scopes, sites = name.strip(), list(dict.fromkeys(scopes)), list(sites)
    errors: dict[str, str] = {}
    if not 0 < len(name) <= 80:
        errors["name"] = "Say in 1 to 80 characters what the token is for."
    if not scopes:
        errors["scopes"] = "Choose at least one action."
    elif unknown := [scope for scope in scopes if scope not in access.ACTIONS]:
        errors["scopes"] = f"There is no action {', '.join(unknown)}; there are: {', '.join(access.ACTIONS)}."
    if not person.sees_everything and {site.pk for site in sites} - person.site_ids():
        errors["sites"] = "A token reaches only sites where its owner has a role."
    if expires_at <= unit.at:
        errors["expires_at"] = "This lies in the past."
    elif expires_at > unit.at + LONGEST:
        errors["expires_at"] = "A token ends after a year at the latest."
    if errors:
        raise Refused(errors)
    secret = f"asl_{secrets.token_urlsafe(32)}"
    token = Token.objects.create(
        person=person,
        name=name,
        prefix=secret[:8],
        digest=Token.digest_of(secret),
        scopes=scopes,
        made_at=unit.at,
        expires_at=expires_at,
    )
    token.sites.set(sites)
    noted(AuditEntry.Kind.TOKEN_MADE, person=person, note=f"{name} ({token.prefix}…): {', '.join(scopes)}")
    logger.info("token.made", extra={"person": person.username, "token": token.prefix, "scopes": scopes})
    return token, secret


def revoke_token(*, token: Token) -> Token:
    """From now on it opens nothing. Its owner, an administrator or the program may; twice is harmless."""
    unit = current()
    if unit.by is not None and unit.by.pk != token.person_id and not unit.by.sees_everything:
        raise NotAllowed("A token is revoked by its owner.")
    if token.revoked_at is None:
        token.revoked_at = unit.at
        token.save(update_fields=["revoked_at"])
        noted(AuditEntry.Kind.TOKEN_REVOKED, person=token.person, note=str(token))
        logger.info("token.revoked", extra={"token": token.prefix, "by": getattr(unit.by, "username", None)})
    return token


def close_doors(person: Person) -> None:
    """Revoke tokens and withdraw links of somebody who was stopped, so that a later return opens none of them."""
    unit = current()
    for token in Token.objects.filter(person=person, revoked_at__isnull=True):
        token.revoked_at = unit.at
        token.save(update_fields=["revoked_at"])
    open_links = Invitation.objects.filter(used_at__isnull=True, withdrawn_at__isnull=True)
    for link in [*open_links.filter(made_by=person), *open_links.filter(person=person)]:
        link.withdrawn_at = unit.at
        link.save(update_fields=["withdrawn_at"])
    noted(AuditEntry.Kind.STOPPED, person=person)
