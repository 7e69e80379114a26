"""The background work of inspections: what each site's night does."""

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

from django.utils.translation import gettext_lazy as _

from inspections.models import DigestWish
from inspections.services.checks import recompute_site
from inspections.services.digests import send_digest
from inspections.services.standing import count_month, months_to_count
from plant.jobs import Job, Occasion, register
from plant.messages.mail import mail_is_on
from plant.models import Person, Site
from plant.sitetime import site_time, today_at

NIGHT = time(2, 0)
COUNTED = time(2, 10)
DIGEST_LATE = timedelta(hours=6)
SLICE = 100


def nightly_due(now: datetime) -> list[Occasion]:
    """Once per site and date, from two in the morning of the site's own clock.

    An hour that a change of clocks leaves out is the instant after the change; one that it repeats is its first.
    Nights that nobody was awake for are not made up: one run brings everything up to date.
    """
    return _each_night(now, NIGHT)


def _each_night(now: datetime, at: time) -> list[Occasion]:
    due = []
    for site in Site.objects.all():
        today = today_at(site, now)
        begins = site_time(site, datetime.combine(today, at))
        if begins <= now:
            due.append(Occasion(f"site:{site.pk}", today, begins))
    return due


def nightly(scope: str, for_date: date, now: datetime, progress: str) -> Iterator[str]:
    """Bring every check and overdue flag of a site up to date for the site's today, a slice of couplings at a time."""
    site = Site.objects.filter(pk=int(scope.removeprefix("site:"))).first()
    if site is None:
        return
    today = today_at(site, now)
    after: int | None = int(progress or 0)
    while after is not None:
        after = recompute_site(site=site, today=today, after=after, at_most=SLICE)
        if after is not None:
            yield str(after)


NIGHTLY = register(
    Job(
        "nightly", nightly_due, nightly, title=_("Checks and overdue flags"),
        when=_("every night at 02:00 by the site’s clock"), every=timedelta(days=1),
    )
)  # fmt: skip


def standing_due(now: datetime) -> list[Occasion]:
    """Once per site and date, after the night has brought the checks up to date."""
    return _each_night(now, COUNTED)


def standing(scope: str, for_date: date, now: datetime, progress: str) -> Iterator[str]:
    """Count how the areas of a site stand this month, and every month that is missing, a month at a time."""
    site = Site.objects.filter(pk=int(scope.removeprefix("site:"))).first()
    if site is None:
        return
    today = today_at(site, now)
    # Oldest first, so that a run that is taken up again goes on behind its last month.
    for month_on in sorted(months_to_count(site=site, today=today)):
        if month_on.isoformat() > progress:
            count_month(site=site, month_on=month_on, today=today)
            yield month_on.isoformat()


STANDING = register(
    Job(
        "standing", standing_due, standing, title=_("How the areas stand, month by month"),
        when=_("every night at 02:10 by the site’s clock"), every=timedelta(days=1),
    )
)  # fmt: skip


def digests_due(now: datetime) -> list[Occasion]:
    """Once per person and date: at the hour and on the days they chose, by their site's clock.

    Not later than six hours after it: whoever asks for the mail in the afternoon hears tomorrow morning, and after a
    standstill nobody gets yesterday's.
    """
    if not mail_is_on():
        return []
    due = []
    wishes = DigestWish.objects.filter(active=True, person__is_active=True).exclude(person__email="")
    for wish in wishes.select_related("site"):
        today = today_at(wish.site, now)
        at = site_time(wish.site, datetime.combine(today, time(wish.hour)))
        if str(today.isoweekday()) in wish.days and at <= now < at + DIGEST_LATE:
            due.append(Occasion(f"person:{wish.person_id}", today, at))
    return due


def digest(scope: str, for_date: date, now: datetime, progress: str) -> Iterator[str]:
    """Send one person the mail of a day; a run taken up again finds it sent."""
    person = Person.objects.filter(pk=int(scope.removeprefix("person:"))).first()
    if person is not None:
        send_digest(person=person, for_date=for_date, now=now)
    yield from ()


DIGEST = register(
    Job(
        "digest",
        digests_due,
        digest,
        title=_("Daily mail"),
        when=_("at the hour each reader chose, by the site’s clock"),
    )
)
