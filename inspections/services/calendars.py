"""Making, renewing and ending a calendar's secret address."""

import secrets

from inspections.models import CalendarAddress
from plant import access
from plant.models import Person, Site
from plant.recording import current
from plant.refusals import NotAllowed


def renew_calendar(*, person: Person, site: Site | None = None) -> tuple[CalendarAddress, str]:
    """A new secret address; the one before opens nothing any more. The secret is returned this once.

    Raises
    ------
    NotAllowed
        Somebody else's calendar, or signed in by a token: a leaked token must not open a feed that outlives it.
    """
    unit = current()
    if unit.by is None or unit.by.pk != person.pk or unit.by.token is not None:
        raise NotAllowed("A calendar's address is made by its owner, signed in with a password.")
    if site is not None:
        access.require(unit.by, "read", site)
    secret = secrets.token_urlsafe(32)
    address, _made = CalendarAddress.objects.update_or_create(
        person=person,
        site=site,
        defaults={"digest": CalendarAddress.digest_of(secret), "made_at": unit.at, "read_at": None},
    )
    return address, secret


def note_reading(*, address: CalendarAddress) -> None:
    """When a calendar program last read it: its owner sees whether the address is in use."""
    address.read_at = current().at
    address.save(update_fields=["read_at"])


def end_calendar(*, address: CalendarAddress) -> None:
    """The address opens nothing any more."""
    unit = current()
    if unit.by is None or unit.by.pk != address.person_id:
        raise NotAllowed("A calendar's address is ended by its owner.")
    address.delete()
