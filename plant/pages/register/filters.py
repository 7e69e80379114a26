"""The filters that several nouns share, and their sentence."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.db.models import Q, QuerySet

from plant.models import Area, Person, Site
from plant.pages.register.lazy import lazily as _
from plant.pages.register.registry import Filter, Options


def among_choices(name: str, words: str, anything: str, choices: Options, column: str = "") -> Filter:
    """One of a column's choices."""
    place = column or name
    return Filter(name, words, anything, lambda _person: choices, lambda rows, value: rows.filter(**{place: value}))


def yes_or_no(name: str, words: str, anything: str, yes: str, no: str, where: Q) -> Filter:
    """Rows for which a condition holds, or does not."""
    return Filter(
        name,
        words,
        anything,
        lambda _person: [("yes", yes), ("no", no)],
        lambda rows, value: rows.filter(where) if value == "yes" else rows.exclude(where),
    )


def by_area(column: str = "area", words: str = "") -> Filter:
    """An area; the site's name stands beside it where the reader has several."""

    def options(person: Person) -> Options:
        areas = list(Area.objects.visible_to(person).select_related("site").order_by("site__name", "name"))
        several = len({area.site_id for area in areas}) > 1
        return [(str(area.uuid), f"{area.name}, {area.site.name}" if several else area.name) for area in areas]

    return Filter("area", words or _("in"), _("all areas"), options, _by_uuid(column))


def by_site(column: str = "site") -> Filter:
    """A site; offered to readers of more than one."""

    def options(person: Person) -> Options:
        sites = list(Site.objects.visible_to(person).order_by("name"))
        return [(str(site.uuid), site.name) for site in sites] if len(sites) > 1 else []

    return Filter("site", _("at"), _("all sites"), options, _by_uuid(column))


def _by_uuid(column: str) -> Callable[[QuerySet[Any], str], QuerySet[Any]]:
    return lambda rows, value: rows.filter(**{f"{column}__uuid": UUID(value)})
