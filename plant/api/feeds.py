"""Delta reads: everything of one noun at one site that changed since the last look, removed things included.

Order is the site's running number, which is taken last before commit: whoever has read up to a number misses nothing
below it. The token is a place in that order; it is opaque to its holder and holds no secret.
"""

import base64
import binascii
import uuid
from dataclasses import dataclass
from typing import Any, cast

from django.db.models import QuerySet
from django.utils.dateparse import parse_datetime
from rest_framework.request import Request

from plant.api.paging import limit_of
from plant.api.problems import BadQuery
from plant.models import Person, Site
from plant.refusals import Gone, Missing
from plant.selectors.journal import highest_number, number_before, tombstones_between

PARAMETERS = frozenset({"site", "updated_since", "after", "limit", "units"})


@dataclass(frozen=True)
class Place:
    """How far somebody has read: noun, site, the site's epoch, and the last number seen."""

    noun: str
    site: uuid.UUID
    epoch: int
    no: int

    def token(self) -> str:
        text = f"1.{self.noun}.{self.site.hex}.{self.epoch}.{self.no}"
        return base64.urlsafe_b64encode(text.encode()).decode().rstrip("=")


def place_of(token: str) -> Place:
    """A token read back; BadQuery where it is none."""
    try:
        text = base64.urlsafe_b64decode(token + "=" * (-len(token) % 4)).decode("ascii")
        form, noun, site, epoch, no = text.split(".")
        if form != "1" or not (epoch.isdigit() and no.isdigit()):
            raise ValueError
        return Place(noun, uuid.UUID(hex=site), int(epoch), min(int(no), 2**63 - 1))
    except (ValueError, binascii.Error, UnicodeDecodeError):
        raise BadQuery({"after": "This is not a token of ours. Begin with updated_since."}) from None


def asked_for(request: Request) -> bool:
    return "updated_since" in request.query_params or "after" in request.query_params


def place_asked_for(request: Request, noun: str) -> tuple[Site, Place]:
    """Where this reader wants to go on: from a token, or from an instant.

    `updated_since` is answered with everything whose change was committed after that instant, and with what came up to
    five minutes before it: the record keeps marks of number and time, and rather gives too much than too little.

    Raises
    ------
    Gone
        The token is from before a restore or a move of the site.
    """
    asked = request.query_params
    if more := sorted(set(asked) - PARAMETERS):
        raise BadQuery(
            dict.fromkeys(more, "A delta read takes no filters: what leaves a filter would not be told as removed.")
        )
    if "after" not in asked:
        site = _site(cast(Person, request.user), asked.get("site"))
        instant = _instant(asked["updated_since"])
        return site, Place(noun, site.uuid, site.epoch, number_before(site, instant))
    if "updated_since" in asked:
        raise BadQuery({"updated_since": "Send either updated_since or after."})
    place = place_of(asked["after"])
    if place.noun != noun:
        raise BadQuery({"after": "This token is of another list."})
    if "site" in asked and _uuid(asked["site"]) != place.site:
        raise BadQuery({"site": "This token is of another site."})
    site = _site(cast(Person, request.user), str(place.site))
    if place.epoch != site.epoch or place.no > highest_number(site):
        raise Gone("The record was restored or moved since this token was given. Begin again with updated_since.")
    return site, place


def changes(
    queryset: QuerySet[Any], site: Site, place: Place, limit: int
) -> tuple[list[Any], list[tuple[int, uuid.UUID]], Place, bool]:
    """One page: rows in order of change, (number, uuid) of what was removed, the place after it, whether there is more.

    The highest number is read first and both reads stop at it. Without that, a removal committed between the two reads
    could carry the reader past a change that it had not seen.
    """
    top = highest_number(site)
    rows = list(
        queryset.filter(site=site, changed_no__gt=place.no, changed_no__lte=top).order_by("changed_no")[: limit + 1]
    )
    gone = tombstones_between(site, place.noun, place.no, top, limit + 1)
    numbers = sorted([row.changed_no for row in rows] + [no for no, _ in gone])
    more = len(numbers) > limit
    last = numbers[limit - 1] if more else max(top, place.no)
    return (
        [row for row in rows if row.changed_no <= last],
        [(no, uuid_) for no, uuid_ in gone if no <= last],
        Place(place.noun, place.site, place.epoch, last),
        more,
    )


def in_order(rows: list[Any], shown: list[Any], gone: list[tuple[int, uuid.UUID]]) -> list[Any]:
    """Rows as shown and removals, in the order in which they happened."""
    told = [(row.changed_no, data) for row, data in zip(rows, shown, strict=True)]
    told += [(no, {"id": str(uuid_), "removed": True}) for no, uuid_ in gone]
    return [data for _, data in sorted(told, key=lambda pair: pair[0])]


def limit(request: Request) -> int:
    return limit_of(request)


def _site(person: Person, given: str | None) -> Site:
    if not given:
        raise BadQuery({"site": "A delta read is of one site: say which."})
    site = Site.objects.visible_to(person).filter(uuid=_uuid(given)).first()
    if site is None:
        raise Missing()
    return site


def _uuid(given: str) -> uuid.UUID:
    try:
        return uuid.UUID(given)
    except ValueError:
        raise BadQuery({"site": "This is not a UUID."}) from None


def _instant(given: str) -> Any:
    # A plus sign that was not escaped in an address arrives as a space.
    try:
        instant = parse_datetime(given.strip().replace(" ", "+"))
    except ValueError:
        instant = None
    if instant is None or instant.tzinfo is None:
        raise BadQuery({"updated_since": "Write an instant with its zone, such as 2026-10-12T09:00:00Z."})
    return instant
