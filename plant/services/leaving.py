"""Somebody leaves: signatures and names stay in the records, open things pass to others, the doors close."""

from collections.abc import Callable
from datetime import date, datetime, time, timedelta

from plant import access
from plant.models import AuditEntry, Membership, Person, Site
from plant.recording import current
from plant.refusals import Refused
from plant.selectors.belongings import tokens_of_site
from plant.selectors.people import works_at
from plant.services.audit import noted
from plant.services.people import change_person, end_role
from plant.sitetime import today_at, zone_of

Handing = Callable[[Person, Person, Site], int]
_hands_over: list[Handing] = []


def hand_over_also(handing: Handing) -> None:
    """Register what passes from one person to another at a site; it answers how many things went over."""
    if handing not in _hands_over:
        _hands_over.append(handing)


def hand_over(*, person: Person, to: Person, site: Site) -> int:
    """Give the open things of somebody at a site to somebody else who works there."""
    access.require(current().by, "people.write", site)
    if to.pk == person.pk:
        raise Refused({"to": "Choose somebody else: these things are theirs already."})
    today = today_at(site, current().at)
    if not works_at(to, site, today):
        raise Refused({"to": f"{to} has no role at {site}."})
    return sum(handing(person, to, site) for handing in _hands_over)


def leave_site(*, person: Person, site: Site, on: date, to: Person | None = None) -> int:
    """End every role somebody has at a site on a day; what they have in hand there goes to `to`, if anybody.

    Tokens that open this site alone end with that day; those that open others too stop at this one with the roles.
    """
    access.require(current().by, "people.write", site)
    if on < today_at(site, current().at):
        raise Refused({"on": "Choose today or a later day: earlier days were worked."})
    moved = hand_over(person=person, to=to, site=site) if to is not None else 0
    # A role that would begin later ends before it does.
    for role in Membership.objects.filter(person=person, site=site).select_related("person", "site"):
        if role.until_on is None or role.until_on > on:
            end_role(membership=role, until_on=max(on, role.from_on))
    _end_tokens(person, site, on)
    return moved


def _end_tokens(person: Person, site: Site, on: date) -> None:
    ends = datetime.combine(on + timedelta(days=1), time.min, zone_of(site))
    for token in tokens_of_site(person, site, current().at):
        if token.expires_at > ends:
            token.expires_at = ends
            token.save(update_fields=["expires_at"])
            noted(AuditEntry.Kind.TOKEN_REVOKED, person=person, site=site, note=f"{token} ends with {on}")


def stop_account(*, person: Person, expected: int | None = None) -> Person:
    """Close every door at once: sessions, tokens and links. For the keeper of all sites of this person."""
    return change_person(person=person, expected=expected, is_active=False)
