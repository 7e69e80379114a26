"""What the daily mail of one person says, as plain rows that both of its forms are made from."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from django.core import signing
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from couplings.models import Instrument
from couplings.selectors import calibrations_due
from inspections.models import Check, DigestWish
from inspections.reasons import calibration_words, check_sentence, flag_sentence
from inspections.selectors.checks import checks_due
from inspections.selectors.flags import open_flags
from inspections.selectors.orders import orders_visible_to
from plant import access
from plant.models import Person, Site
from plant.selectors.jobs import failed_runs, run_words
from plant.sitetime import today_at
from plant.words import away, day

SALT = "inspections.digest"
AHEAD = timedelta(days=7)
LABORATORY = timedelta(days=28)  # it takes some weeks until an instrument is back
MOST = 15


@dataclass(frozen=True)
class Line:
    text: str
    url: str = ""


@dataclass(frozen=True)
class Section:
    title: str
    lines: list[Line]
    more: str = ""
    url: str = ""


@dataclass(frozen=True)
class Digest:
    subject: str
    site: Site
    today: date
    sections: list[Section] = field(default_factory=list)


def wish_of(person: Person) -> DigestWish | None:
    return DigestWish.objects.filter(person=person).select_related("site", "person").first()


def secret_of(wish: DigestWish) -> str:
    """What the address in this person's mails ends with; renewing the serial ends it."""
    return signing.dumps([wish.pk, wish.serial], salt=SALT)


def wish_for(secret: str) -> DigestWish | None:
    """The wish behind an address; None where it was renewed, or is none of ours."""
    try:
        pk, serial = signing.loads(secret, salt=SALT)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    return (
        DigestWish.objects.filter(pk=pk, serial=serial, person__is_active=True).select_related("site", "person").first()
    )


def digest_of(wish: DigestWish, now: datetime) -> Digest | None:
    """What there is to say to this person today; None where there is nothing."""
    person, site, origin = wish.person, wish.site, wish.origin.rstrip("/")
    today = today_at(site, now)
    due = checks_due(person, today + AHEAD, site=site).order_by("due_on", "id")
    late, coming = due.filter(closes_on__lt=today), due.filter(closes_on__gte=today)
    list_url = f"{origin}{reverse('due')}?site={site.uuid}"
    sections = [
        _checks(late, _("Overdue"), site, today, origin, list_url),
        _checks(coming, _("Due by %(day)s") % {"day": day(today + AHEAD)}, site, today, origin, list_url),
        _outings(person, site, today, origin),
        _calibrations(person, site, today, origin),
        _flags(person, site, origin),
        _jobs(person, site, origin),
    ]
    said = [one for one in sections if one is not None]
    if not said:
        return None
    counts = late.count(), coming.count()
    subject = _("%(site)s: %(late)s, %(due)s") % {
        "site": site.name,
        "late": ngettext("one overdue", "%(n)s overdue", counts[0]) % {"n": counts[0]}
        if counts[0]
        else _("none overdue"),
        "due": ngettext("one due this week", "%(n)s due this week", counts[1]) % {"n": counts[1]},
    }
    return Digest(subject, site, today, said)


def _checks(rows: Any, title: str, site: Site, today: date, origin: str, url: str) -> Section | None:
    count = rows.count()
    if not count:
        return None
    return Section(
        f"{title} ({count})",
        [_check(check, site, today, origin) for check in rows[:MOST]],
        _("and %(n)s more") % {"n": count - MOST} if count > MOST else "",
        url,
    )


def _check(check: Check, site: Site, today: date, origin: str) -> Line:
    words = {
        "tag": check.coupling.tag,
        "kind": check.get_kind_display(),
        "when": away(check.due_on, today)
        if not check.due_on < today <= check.closes_on
        else _("its window ends %(on)s") % {"on": day(check.closes_on)},
        "why": check_sentence(check, site.units),
    }
    return Line(
        _("%(tag)s, %(kind)s, %(when)s. %(why)s") % words, origin + reverse("coupling", args=[check.coupling.uuid])
    )


def _outings(person: Person, site: Site, today: date, origin: str) -> Section | None:
    rows = orders_visible_to(person).filter(site=site, state="open", crew__person=person, planned_on__lte=today + AHEAD)
    lines = [
        Line(
            _("%(number)s at %(train)s, %(day)s. %(title)s")
            % {
                "number": order.number,
                "train": order.train.tag,
                "day": day(order.planned_on, year=False) if order.planned_on else "",
                "title": order.title,
            }
        )
        for order in rows.distinct().order_by("planned_on", "pk")[:MOST]
    ]
    return Section(_("Outings you are on"), lines) if lines else None


def _calibrations(person: Person, site: Site, today: date, origin: str) -> Section | None:
    """To whoever plans the work or keeps the instruments."""
    if not access.may(person, ("check.plan", "register.write"), site):
        return None
    rows = Instrument.objects.visible_to(person).filter(site=site)
    lines = [
        Line(
            f"{due.instrument}: {calibration_words(due, today)}",
            origin + reverse("register-instruments-one", args=[due.instrument.uuid]),
        )
        for due in calibrations_due(rows, today + LABORATORY)[:MOST]
    ]
    return Section(_("Instruments to be calibrated"), lines) if lines else None


def _flags(person: Person, site: Site, origin: str) -> Section | None:
    rows = open_flags(person=person, owner=person, site=site)
    lines = [
        Line(
            f"{flag.coupling.tag}: {flag_sentence(flag, site.units)}",
            origin + reverse("coupling", args=[flag.coupling.uuid]),
        )
        for flag in rows[:MOST]
    ]
    return Section(_("Flags you own"), lines) if lines else None


def _jobs(person: Person, site: Site, origin: str) -> Section | None:
    if not access.may(person, "jobs.handle", site):
        return None
    lines = [Line(run_words(run), origin + reverse("jobs")) for run in failed_runs(person)[:MOST]]
    return Section(_("Background work that failed"), lines) if lines else None
