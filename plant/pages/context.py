"""What every page knows: who reads it, at which site, in which units, and where the words of the top strip lead."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django_htmx.middleware import HtmxDetails

from plant.access import sites_where
from plant.models import Person, Site
from plant.sitetime import today_at, zone_words


class SheetRequest(HttpRequest):
    """A request behind login_required, as its page sees it: somebody is signed in, and htmx may have sent it."""

    user: Person
    htmx: HtmxDetails


# Word and address name; people are the keepers' (see `sheet`).
STRIP = [
    ("Today", "today"),
    ("Due", "due"),
    ("Flags", "flags"),
    ("Couplings", "couplings"),
    ("Trains", "trains"),
    ("Fleet", "fleet"),
    ("Register", "register"),
    ("Calculations", "calculations"),
    ("People", "people"),
]
# At the foot: what is wanted seldom, and whether only staff see it.
FOOT = [
    ("Elements", "elements", False),
    ("Parts", "parts", False),
    ("Account", "account", False),
    ("Daily mail", "digest", False),
    ("Background work", "jobs", False),
    ("Roles", "roles", False),
    ("Webhooks", "webhooks", False),
    ("Calendars", "calendars", False),
    ("Tokens", "tokens", False),
    ("API", "api-docs", False),
    ("Administration", "admin:index", True),
]


def own_site(request: HttpRequest) -> Site | None:
    """The reader's first site; pages about one coupling name that coupling's site instead."""
    if not request.user.is_authenticated:
        return None
    kept = request.__dict__.get("_own_site", ...)
    if kept is ...:
        kept = Site.objects.visible_to(request.user).order_by("name").first()
        request.__dict__["_own_site"] = kept
    return kept


def of_site(site: Site | None) -> dict[str, Any]:
    """The site and what hangs on it, for a page about something at that site."""
    now = timezone.now()
    return {
        "site": site,
        "system": site.units if site else "metric",
        "today": today_at(site, now) if site else now.date(),
        "zone_words": zone_words(site, now) if site else "times in UTC",
    }


def sheet(request: HttpRequest) -> dict[str, Any]:
    """Context processor."""
    signed_in = getattr(request, "user", None) is not None and request.user.is_authenticated
    person: Any = request.user if signed_in else None
    nav = []
    if signed_in:
        for word, name in STRIP:
            if not _wanted(person, name):
                continue
            if not (url := _address(name)):
                continue
            nav.append((_(word), url, request.path.startswith(url)))
    foot = [
        (_(word), url)
        for word, name, staff_only in FOOT
        if signed_in and (not staff_only or request.user.is_staff) and _wanted(person, name) and (url := _address(name))
    ]
    return {"person": person, "nav": nav, "foot": foot, **of_site(own_site(request) if signed_in else None)}


# Pages that are shown to whoever may take this action somewhere, and to nobody else.
_FOR = {"people": "people.write", "jobs": "jobs.handle"}


def _wanted(person: Person, name: str) -> bool:
    return name not in _FOR or person.sees_everything or bool(sites_where(person, _FOR[name]))


def _address(name: str) -> str:
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""


def render_sheet(
    request: HttpRequest, template: str, context: dict[str, Any], *, site: Site | None = None, status: int = 200
) -> HttpResponse:
    """Render a page, in the units and time of the site it is about."""
    about = of_site(site) if site is not None else {}
    return render(request, template, {**about, **context}, status=status)
