"""People and their roles."""

import uuid as uuids
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from plant import access
from plant.models import AuditEntry, Membership, Person, Site
from plant.recording import bump, current
from plant.refusals import Missing, NotAllowed, Refused
from plant.selectors.people import keeper_roles_of, other_keepers
from plant.services.audit import noted
from plant.services.rows import errors_of, refuse_known_uuid, set_fields, taken
from plant.services.tokens import close_doors

PERSON_FIELDS = ("first_name", "last_name", "email", "employer", "language", "kind", "until_on", "is_active")


def register_person(
    *,
    username: str,
    first_name: str,
    last_name: str,
    email: str = "",
    employer: str = "",
    password: str | None = None,
    language: str = "en",
    kind: str = Person.Kind.PERSON,
    until_on: date | None = None,
    uuid: uuids.UUID | None = None,
) -> Person:
    """Somebody new. Without a password they cannot sign in until one is set; a role is given by `give_role`."""
    _require_keeper_somewhere()
    refuse_known_uuid(Person, uuid)
    person = Person(
        username=username.strip(),
        first_name=first_name,
        last_name=last_name,
        email=email,
        employer=employer,
        language=language,
        kind=kind,
        until_on=until_on,
        **({"uuid": uuid} if uuid else {}),
    )
    person.set_unusable_password()
    errors = errors_of(person) | language_errors(language)
    if "username" not in errors and taken(person, "username"):
        errors["username"] = "This name is taken."
    if password is not None:
        try:
            validate_password(password, person)
        except ValidationError as refused:
            errors["password"] = " ".join(refused.messages)
        person.set_password(password)
    if errors:
        raise Refused(errors)
    person.save()
    return person


def change_person(*, person: Person, expected: int | None = None, **fields: Any) -> Person:
    """What the keeper of any of this person's sites may correct. Signing in ends with `is_active` or `until_on`."""
    require_keeper_of(person)
    bump(person, expected)
    was_active = person.is_active
    set_fields(person, fields, PERSON_FIELDS)
    errors = {field: text for field, text in errors_of(person).items() if field in PERSON_FIELDS}
    if errors := errors | language_errors(person.language):
        raise Refused(errors)
    if not person.is_active or person.until_on is not None:
        # Whoever is stopped at once keeps nothing from today on.
        today = current().at.date()
        leaves_on = (person.until_on or today) if person.is_active else today
        _leave_a_keeper(person, [row.site for row in keeper_roles_of(person, leaves_on)], leaves_on)
    person.save()
    if was_active and not person.is_active:
        close_doors(person)
    noted(AuditEntry.Kind.CHANGED, person=person, note=", ".join(sorted(fields)))
    return person


def change_own_account(*, expected: int | None = None, **fields: Any) -> Person:
    """What everybody may say of themselves: name, address and language."""
    person = current().by
    assert person is not None
    if person.token is not None:
        raise NotAllowed("An account is changed by its owner, signed in with a password.")
    bump(person, expected)
    set_fields(person, fields, ("first_name", "last_name", "email", "language"))
    errors = {field: text for field, text in errors_of(person).items() if field in fields}
    errors |= language_errors(person.language)
    if not person.first_name.strip():
        errors["first_name"] = "Write your name as records should show it."
    if errors:
        raise Refused(errors)
    person.save()
    noted(AuditEntry.Kind.CHANGED, person=person, note=", ".join(sorted(fields)))
    return person


def give_role(
    *, person: Person, site: Site, role: str, from_on: date, until_on: date | None = None, expected: int | None = None
) -> Membership:
    """One role at one site. A role that has ended is opened again: the row's history keeps the earlier time."""
    by = current().by
    access.require(by, "people.write", site)
    if expected is not None:
        bump(person, expected)
    membership = Membership.objects.filter(person=person, site=site, role=role).first()
    errors: dict[str, str] = {}
    if membership is not None and (membership.until_on is None or membership.until_on >= from_on):
        errors["role"] = f"{person} is {membership.get_role_display()} at {site} already."
    if membership is None:
        membership = Membership(person=person, site=site, role=role)
    membership.from_on, membership.until_on = from_on, until_on
    if until_on is not None and until_on < from_on:
        errors["until_on"] = "A role ends after it begins."
    elif until_on is None and role == Membership.Role.CONTRACTOR:
        errors["until_on"] = "A contractor’s role has a last day: say until when."
    if role == Membership.Role.CONTRACTOR and not person.employer.strip():
        errors["role"] = f"Write down {person}’s employer first: crew lists name contractors with it."
    if errors := errors_of(membership) | errors:
        raise Refused(errors)
    membership.save()
    until = f" until {until_on}" if until_on else ""
    noted(
        AuditEntry.Kind.ROLE_GIVEN,
        person=person,
        site=site,
        note=f"{membership.get_role_display()} from {from_on}{until}",
    )
    bump(person)
    person.__dict__.pop("_roles_by_site", None)
    return membership


def end_role(*, membership: Membership, until_on: date) -> Membership:
    """The last day of a role."""
    access.require(current().by, "people.write", membership.site)
    if until_on < membership.from_on:
        raise Refused({"until_on": "A role ends after it begins."})
    if membership.role == Membership.Role.KEEPER:
        _leave_a_keeper(membership.person, [membership.site], until_on)
    membership.until_on = until_on
    membership.save()
    said = f"{membership.get_role_display()} until {until_on}"
    noted(AuditEntry.Kind.ROLE_ENDED, person=membership.person, site=membership.site, note=said)
    bump(membership.person)
    membership.person.__dict__.pop("_roles_by_site", None)
    return membership


def role_of(*, person: Person, site: Site, role: str) -> Membership:
    """The membership that a caller names by its three parts."""
    found = Membership.objects.select_related("person", "site").filter(person=person, site=site, role=role).first()
    if found is None:
        raise Refused({"role": f"{person} does not have this role at {site}."}, code="missing")
    return found


def give_roles(*, person: Person, roles: list[Mapping[str, Any]]) -> None:
    """Several at once, with the place of each in the errors."""
    errors: dict[str, str] = {}
    for index, row in enumerate(roles):
        try:
            give_role(person=person, **row)
        except Refused as refused:
            errors |= {f"memberships.{index}.{error.field}": error.message for error in refused.errors}
    if errors:
        raise Refused(errors)


def language_errors(language: str) -> dict[str, str]:
    """A language in which there are pages."""
    known = [code for code, _name in settings.LANGUAGES]
    return {} if language in known else {"language": f"Choose one of: {', '.join(known)}."}


def _leave_a_keeper(person: Person, sites: Iterable[Site], leaves_on: date) -> None:
    """Refuse to leave a site without anybody who can give roles there after this day."""
    if alone := [str(site) for site in sites if not other_keepers(site, person, leaves_on).exists()]:
        raise Refused(
            f"{person} is the last keeper of {', '.join(alone)} after that day. Make somebody else the keeper first.",
            code="last-keeper",
        )


def _require_keeper_somewhere() -> None:
    by = current().by
    if by is not None and not by.sees_everything and not access.sites_where(by, "people.write"):
        raise NotAllowed("People are registered by the keeper of a site.")


def require_keeper_of(person: Person) -> None:
    """Refuse unless whoever acts keeps every site where this person has a role: signing in is one for all sites."""
    by = current().by
    if by is None or by.sees_everything:
        return
    # Not through person.memberships: a list may have fetched only the roles that the keeper sees.
    sites = set(Membership.objects.filter(person=person).values_list("site_id", flat=True))
    kept = access.sites_where(by, "people.write")
    if not sites & kept:
        raise Missing() if not sites & by.site_ids() else NotAllowed("People are kept by the keeper of a site.")
    if person.is_superuser or person.is_staff or sites - kept:
        raise NotAllowed("This person also works where you are not the keeper; the administrator can change them.")
