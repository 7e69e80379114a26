"""Invitations and sign-in links: made by a keeper, shown once, used once."""

import secrets
from datetime import date, timedelta
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.signing import Signer

from plant import access
from plant.models import AuditEntry, Invitation, Membership, Person, Site, Token
from plant.recording import bump, current
from plant.refusals import Gone, NotAllowed, Refused
from plant.selectors.invitations import digest_in, open_invitations
from plant.services.audit import noted
from plant.services.people import give_role, language_errors, register_person, require_keeper_of
from plant.services.rows import errors_of
from plant.sitetime import today_at

LASTS = timedelta(days=7)
PASSWORD_LASTS = timedelta(days=1)
Kind = AuditEntry.Kind


def invite(
    *,
    site: Site,
    role: str,
    email: str = "",
    employer: str = "",
    until_on: date | None = None,
    language: str = "en",
) -> tuple[Invitation, str]:
    """An invitation and the secret of its link, which nobody can read again. The same address again replaces it."""
    unit = current()
    access.require(unit.by, "people.write", site)
    row = Invitation(
        site=site,
        role=role,
        email=email.strip(),
        employer=employer.strip(),
        until_on=until_on,
        language=language,
        made_by=unit.by,
        made_at=unit.at,
        expires_at=unit.at + LASTS,
    )
    errors = {field: text for field, text in errors_of(row).items() if field != "digest"}
    today = today_at(site, unit.at)
    if not role:
        errors["role"] = "Choose the role the invitation is for."
    elif "role" not in errors and role == Membership.Role.CLIENT:
        errors["role"] = "A program is registered by the keeper, not invited."
    elif role == Membership.Role.CONTRACTOR:
        if until_on is None:
            errors["until_on"] = "A contractor’s role has a last day: say until when."
        if not row.employer:
            errors["employer"] = "Say who employs this contractor: crew lists name contractors with it."
    if until_on is not None and until_on < today:
        errors["until_on"] = f"This day is over: it is {today} at {site}."
    errors |= language_errors(language)
    if errors:
        raise Refused(errors)
    if row.email:
        earlier = open_invitations(unit.at).filter(site=site, kind=Invitation.Kind.ROLE, email__iexact=row.email)
        for one in earlier:
            _end(one)
    secret = _kept_as_digest(row)
    noted(Kind.INVITED, site=site, note=f"{row.get_role_display()}, {row.email or 'by link'}")
    return row, secret


def make_sign_in_link(*, person: Person) -> tuple[Invitation, str]:
    """A link with which somebody sets a new password; an earlier one ends. For the keeper of all their sites."""
    unit = current()
    if unit.by is not None and unit.by.token is not None:
        raise NotAllowed("A sign-in link is made by a keeper who is signed in, not by a program.")
    require_keeper_of(person)
    if not person.is_active or person.kind != Person.Kind.PERSON:
        raise Refused(f"{person} does not sign in: the account is stopped, or is a program’s.", code="no-sign-in")
    for one in open_invitations(unit.at).filter(person=person, kind=Invitation.Kind.PASSWORD):
        _end(one)
    row = Invitation(
        kind=Invitation.Kind.PASSWORD,
        person=person,
        email=person.email,
        language=person.language,
        made_by=unit.by,
        made_at=unit.at,
        expires_at=unit.at + PASSWORD_LASTS,
    )
    secret = _kept_as_digest(row)
    noted(Kind.LINK_MADE, person=person)
    return row, secret


def withdraw_invitation(*, invitation: Invitation) -> Invitation:
    """Its link opens nothing any more; twice is harmless."""
    if invitation.site is not None:
        access.require(current().by, "people.write", invitation.site)
    elif invitation.person is not None:
        require_keeper_of(invitation.person)
    if invitation.used_at is not None:
        raise Refused("This link was used already: end the role instead.", code="used")
    if invitation.withdrawn_at is None:
        _end(invitation)
        noted(Kind.WITHDRAWN, site=invitation.site, person=invitation.person, note=invitation.email)
    return invitation


def accept_invitation(
    *,
    secret: str,
    person: Person | None = None,
    username: str = "",
    first_name: str = "",
    last_name: str = "",
    password: str = "",
) -> Person:
    """Take the role, as somebody who is signed in already or with a new account. Acts in the inviter's name."""
    row = _claimed(secret, Invitation.Kind.ROLE)
    assert row.site is not None
    if person is None:
        errors = {}
        if not first_name.strip():
            errors["first_name"] = "Write your name as records should show it."
        if not password:
            errors["password"] = "Choose a password."
        person = _registered(row, username, first_name, last_name, password, errors)
    elif row.employer and not person.employer:
        bump(person)
        person.employer = row.employer
        person.save(update_fields=["employer"])
    today = today_at(row.site, current().at)
    give_role(person=person, site=row.site, role=row.role, from_on=today, until_on=row.until_on)
    _use(row, person)
    noted(Kind.INVITATION_USED, person=person, site=row.site, note=row.get_role_display())
    return person


def set_password_by_link(*, secret: str, password: str) -> Person:
    """Set a new password; every session of the old one ends by itself, and its tokens with it."""
    row = _claimed(secret, Invitation.Kind.PASSWORD)
    assert row.person is not None
    person = row.person
    if not person.is_active:
        raise Gone("This account was stopped. Ask the keeper of your site.", code="stopped")
    _set_password(person, password)
    _use(row, person)
    unit = current()
    for token in Token.objects.filter(person=person, revoked_at__isnull=True):
        token.revoked_at = unit.at
        token.save(update_fields=["revoked_at"])
    noted(Kind.PASSWORD, person=person, note="by link")
    return person


def change_password(*, person: Person, old: str, new: str) -> Person:
    """By its owner, who knows the old one. Every other session ends by itself."""
    if not person.check_password(old):
        raise Refused({"old": "This is not your password until now."})
    _set_password(person, new, field="new")
    noted(Kind.PASSWORD, person=person)
    return person


def _registered(
    row: Invitation, username: str, first_name: str, last_name: str, password: str, errors: dict[str, str]
) -> Person:
    given: dict[str, Any] = {"username": username, "first_name": first_name.strip(), "last_name": last_name.strip()}
    try:
        person = register_person(
            **given, email=row.email, employer=row.employer, language=row.language, password=password or None
        )
    except Refused as refused:
        raise Refused(refused.as_dict() | errors) from refused
    if errors:
        raise Refused(errors)
    return person


def _set_password(person: Person, password: str, field: str = "password") -> None:
    try:
        validate_password(password, person)
    except ValidationError as refused:
        raise Refused({field: " ".join(refused.messages)}) from refused
    bump(person)
    person.set_password(password)
    person.save(update_fields=["password"])


def _kept_as_digest(row: Invitation) -> str:
    secret = secrets.token_urlsafe(32)
    row.digest = Token.digest_of(secret)
    row.save()
    # Signed, so that a guess is thrown away before the database is asked.
    return Signer(salt="invitation").sign(secret)


def _claimed(secret: str, kind: str) -> Invitation:
    """The invitation of this link, held until the unit closes: of two at once one finds it used."""
    digest = digest_in(secret)
    row = Invitation.objects.select_for_update().filter(digest=digest, kind=kind).first() if digest else None
    if row is None:
        raise Gone("This link is not known. Ask for a new one.", code="unknown-link")
    if sentence := ended(row, current().at):
        raise Gone(sentence, code="ended-link")
    return row


def ended(row: Invitation, at: Any) -> str:
    """Why a link opens nothing any more, "" while it does."""
    if row.used_at is not None:
        return "This link was used already. Sign in, or ask for a new one."
    if row.withdrawn_at is not None:
        return "This link was replaced or withdrawn. Use the newest one, or ask for it."
    if row.expires_at <= at:
        return "This link is too old. Ask for a new one."
    if row.site is not None and row.made_by is not None and not access.may(row.made_by, "people.write", row.site):
        return "Whoever made this link is not the keeper any more. Ask the keeper for a new one."
    if row.site is not None and row.until_on is not None and row.until_on < today_at(row.site, at):
        return "The days this invitation was for are over. Ask the keeper for a new one."
    return ""


def _use(row: Invitation, person: Person) -> None:
    row.used_at, row.person = current().at, person
    row.save(update_fields=["used_at", "person"])


def _end(row: Invitation) -> None:
    row.withdrawn_at = current().at
    row.save(update_fields=["withdrawn_at"])
