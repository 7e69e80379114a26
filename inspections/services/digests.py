"""The daily mail: who wants it when, and handing it to the mail server once."""

from collections.abc import Callable
from datetime import date, datetime

from django.db import transaction
from django.urls import reverse

from inspections.models import DigestWish
from inspections.selectors.digests import digest_of, secret_of, wish_of
from plant.jobs import try_later
from plant.messages.mail import send
from plant.models import Person, Site
from plant.recording import current
from plant.refusals import Missing, NotAllowed, Refused

KIND = "digest"
DAYS = "1234567"


def wish_digest(
    *, site: Site, hour: int, days: str, active: bool, origin: str, person: Person | None = None
) -> DigestWish:
    """Say whether somebody wants the mail, about which site, at which hour of its clock and on which days."""
    person = person or _person()
    if site.pk not in person.site_ids() and not person.sees_everything:
        raise Missing()
    errors = {}
    if not 0 <= hour <= 23:
        errors["hour"] = "An hour of the day: 0 to 23."
    days = "".join(day for day in DAYS if day in days)
    if active and not days:
        errors["days"] = "Choose a day of the week, or switch the mail off."
    if errors:
        raise Refused(errors)
    values = {"site": site, "hour": hour, "days": days or "12345", "active": active, "origin": origin[:200]}
    wish, _made = DigestWish.objects.update_or_create(person=person, defaults=values)
    return wish


def switch_off(*, wish: DigestWish) -> None:
    """No mail from now on; twice is harmless."""
    wish.active = False
    wish.save(update_fields=["active"])


def renew_address(*, wish: DigestWish) -> DigestWish:
    """A new address in the mails to come; the one in those sent opens nothing any more."""
    wish.serial += 1
    wish.save(update_fields=["serial"])
    return wish


def send_digest(*, person: Person, for_date: date, now: datetime) -> bool:
    """Put the mail together inside the open unit and hand it over when that is committed; False where there is none.

    Handed over after the commit, so that no lock is held while a mail server thinks. Whoever takes up the same run
    again finds it done. A mail server that refuses has the run tried again later; a process that is killed between
    the commit and the mail server loses this one mail, and tomorrow's says the same things.
    """
    wish = wish_of(person)
    if wish is None or not wish.active or (wish.sent_for is not None and wish.sent_for >= for_date):
        return False
    if not person.is_active or (wish.site_id not in person.site_ids() and not person.sees_everything):
        return False
    digest = digest_of(wish, now)
    if digest is None:
        return False
    address = wish.origin.rstrip("/") + reverse("digest-by-mail", args=[secret_of(wish)])
    context = {"digest": digest, "person": person, "address": address}
    headers = {"List-Unsubscribe": f"<{address}>", "Auto-Submitted": "auto-generated"}
    transaction.on_commit(_handing_over(wish, for_date, now, context, headers))
    return True


def _handing_over(
    wish: DigestWish, for_date: date, now: datetime, context: dict[str, object], headers: dict[str, str]
) -> Callable[[], None]:
    def hand_over() -> None:
        person = wish.person
        sent = send(
            to=person.email, template="inspections/mail/digest", context=context, language=person.language,
            headers=headers,
        )  # fmt: skip
        if sent:
            DigestWish.objects.filter(pk=wish.pk).update(sent_for=for_date)
        else:
            try_later(KIND, f"person:{person.pk}", for_date, now, "The mail server did not take the mail.")

    return hand_over


def _person() -> Person:
    person = current().by
    if person is None:
        raise NotAllowed("The mail is asked for by people.")
    return person
