"""Questions to the rows that the unit of work writes: numbers, removals, names in other systems."""

import uuid
from collections.abc import Iterable
from datetime import datetime

from django.db.models import Max, Min

from plant.models import ExternalRef, Site, SiteMark, SiteNumber, Tombstone


def highest_number(site: Site) -> int:
    """The site's last number; every change up to it is committed, for numbers are taken last before commit."""
    return SiteNumber.objects.filter(site=site).values_list("last", flat=True).first() or 0


def number_before(site: Site, instant: datetime) -> int:
    """The highest number of which the record knows that it was committed before this instant; 0 if it knows of none.

    A clock set back leaves marks whose numbers rise while their times fall. Then nothing above the lowest number that
    some mark places after the instant counts as before it.
    """
    marks = SiteMark.objects.filter(site=site)
    after = marks.filter(at__gt=instant).aggregate(low=Min("no"))["low"]
    before = marks.filter(at__lte=instant)
    if after is not None:
        before = before.filter(no__lte=after)
    return before.aggregate(high=Max("no"))["high"] or 0


def tombstones_between(site: Site, noun: str, above: int, up_to: int, limit: int) -> list[tuple[int, uuid.UUID]]:
    rows = Tombstone.objects.filter(site=site, noun=noun, no__gt=above, no__lte=up_to).order_by("no")
    return list(rows.values_list("no", "uuid")[:limit])


def external_refs_of(noun: str, uuids: Iterable[uuid.UUID]) -> dict[uuid.UUID, dict[str, str]]:
    """What other systems call these: {uuid: {system: key}}."""
    found: dict[uuid.UUID, dict[str, str]] = {}
    rows = ExternalRef.objects.filter(noun=noun, subject__in=list(uuids))
    for subject, system, key in rows.values_list("subject", "system", "key"):
        found.setdefault(subject, {})[system] = key
    return found
