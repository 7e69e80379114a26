"""The background work of inspections: what each site's night does."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta

from django.utils.translation import gettext_lazy as _

from inspections.models import DigestWish
from inspections.selectors.fleet_legs import groups_to_fit
from inspections.services.checks import cross_over, recompute_site, redraw_site
from inspections.services.digests import send_digest
from inspections.services.group_fits import end_others, fit_one, sites_with_states
from inspections.services.lives import fit_lives
from inspections.services.standing import count_month, months_to_count
from plant.jobs import Job, Occasion, register
from plant.messages.mail import mail_is_on
from plant.models import Person, Site
from plant.sitetime import site_time, today_at

NIGHT = time(2, 0)
COUNTED = time(2, 10)
LIVES = time(2, 30)
FITTED = time(3, 0)
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
    if not progress:
        # Forecasts of which something changes with the day alone come first: the checks go by them.
        while cross_over(site=site, today=today, at_most=SLICE):
            yield "0"
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


def weekly_due(now: datetime) -> list[Occasion]:
    """Once a week for the whole installation, on Monday; a week nobody was awake for is not made up."""
    today = now.astimezone(UTC).date()
    monday = today - timedelta(days=today.weekday())
    begins = datetime.combine(monday, FITTED, tzinfo=UTC)
    return [Occasion("all", monday, begins)] if begins <= now else []


def weekly(scope: str, for_date: date, now: datetime, progress: str) -> Iterator[str]:
    """Fit the groups again, one at a time, then forecast every coupling by the new fits, a slice at a time."""
    stage, _colon, place = progress.partition(" ")
    if stage in ("", "group"):
        groups = groups_to_fit()
        for number, group in enumerate(groups):
            if number >= int(place or 0):
                fit_one(group=group, on=for_date)
                yield f"group {number + 1}"
        end_others(groups=groups)
        yield "site 0:0"
        place = "0:0"
    first, after_text = (int(one) for one in place.split(":"))
    for site in sites_with_states():
        if site.pk < first:
            continue
        after: int | None = after_text if site.pk == first else 0
        while after is not None:
            after = redraw_site(site=site, today=today_at(site, now), after=after, at_most=SLICE)
            if after is not None:
                yield f"site {site.pk}:{after}"
        yield f"site {site.pk + 1}:0"


WEEKLY = register(
    Job(
        "group-fits", weekly_due, weekly, title=_("How groups of couplings drift"),
        when=_("every Monday at 03:00, UTC"), every=timedelta(days=7),
    )
)  # fmt: skip


def lives_due(now: datetime) -> list[Occasion]:
    """Once per site and week, from Monday after its night; a week nobody was awake for is not made up."""
    due = []
    for site in Site.objects.all():
        today = today_at(site, now)
        monday = today - timedelta(days=today.weekday())
        begins = site_time(site, datetime.combine(monday, LIVES))
        if begins <= now:
            due.append(Occasion(f"site:{site.pk}", monday, begins))
    return due


def life_fits(scope: str, for_date: date, now: datetime, progress: str) -> Iterator[str]:
    """Fit the lives of a site's elements again; the same records give the same rows."""
    site = Site.objects.filter(pk=int(scope.removeprefix("site:"))).first()
    if site is not None and not progress:
        fit_lives(site=site, today=today_at(site, now))
        yield "fitted"


LIFE_FITS = register(
    Job(
        "life-fits", lives_due, life_fits, title=_("How long elements live"),
        when=_("every Monday at 02:30 by the site’s clock"), every=timedelta(days=7),
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
