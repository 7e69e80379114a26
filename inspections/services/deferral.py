"""What a planner decides about one check: deferred, withdrawn, pinned, cancelled, owned, or dated elsewhere."""

from __future__ import annotations

from datetime import date
from typing import Any

from inspections.models import Check, Flag, Policy
from inspections.selectors.dates import latest_deferral, planned_on
from inspections.selectors.drift import look_at
from inspections.services.checks import recompute_coupling, tell_check
from plant.access import require
from plant.models import Person, Site
from plant.recording import bump, current
from plant.refusals import Refused
from plant.sitetime import today_at
from plant.words import day

WORDS_MOST = 200


def defer_check(*, check: Check, until: date, reason: str, expected: int | None = None) -> Check:
    """Put a check off to a later day, with who and why; everybody sees the day it was due.

    Of an alignment the chance that it will be out of tolerance by then is kept beside it; pages show it before.

    Raises
    ------
    Refused
        The day is not later than it is due anyway or lies beyond what the policy lets wait, no reason is given, the
        work-order system owns the dates, or what is put off follows a finding of "do not run".
    """
    _opened(check, "check.plan", expected)
    errors: dict[str, str] = {}
    if check.site.dates_owner == Site.DatesOwner.ORDERS:
        raise Refused("The work-order system owns the dates of this site: change the date there.")
    if any(one["kind"] == Flag.Kind.DO_NOT_RUN for one in check.numbers.get("found", [])):
        raise Refused("This follows what was found not to be run, so it cannot be deferred.")
    planned = planned_on(check)
    latest = latest_deferral(check, policy_of(check))
    if until <= planned:
        errors["until"] = f"It is due on {_day(planned)} anyway; choose a later day."
    elif until <= _today(check):
        errors["until"] = "Choose a day that is still to come."
    elif latest <= planned:
        errors["until"] = "The policy lets this check wait no longer than its due date."
    elif until > latest:
        errors["until"] = f"The policy lets it wait until {_day(latest)} at most."
    errors |= _why("reason", reason, "Say why it can wait.")
    if errors:
        raise Refused(errors)
    unit = current()
    check.deferred_until, check.deferred_reason = until, reason.strip()
    check.deferred_by, check.deferred_at = unit.by, unit.at
    looked = look_at(check, until)
    check.deferred_risk = looked.chance if looked is not None else None
    check.save(update_fields=_DEFERRAL)
    return _recomputed(check)


_DEFERRAL = ["deferred_until", "deferred_reason", "deferred_by", "deferred_at", "deferred_risk"]


def withdraw_deferral(*, check: Check, expected: int | None = None) -> Check:
    """Take a deferral back: the check is due again when it was before."""
    _opened(check, "check.plan", expected)
    if check.deferred_until is None:
        raise Refused("This check is not deferred.")
    check.deferred_until, check.deferred_reason, check.deferred_by, check.deferred_at = None, "", None, None
    check.deferred_risk = None
    check.save(update_fields=_DEFERRAL)
    return _recomputed(check)


def pin_check(*, check: Check, on: date | None, expected: int | None = None) -> Check:
    """Plan a check for one day, which levelling then leaves alone; None takes the pin out."""
    _opened(check, "check.plan", expected)
    if on is not None and on < _today(check):
        raise Refused({"on": "Choose today or a day that is still to come."})
    if on is not None and on > max(check.closes_on, _today(check)):
        raise Refused({"on": f"Its last day is {_day(check.closes_on)}: defer it first, with the reason."})
    check.pinned_on = on
    check.save(update_fields=["pinned_on"])
    return check


def cancel_check(*, check: Check, reason: str, expected: int | None = None) -> Check:
    """Leave this one date out, with the reason. The next one comes when the policy says."""
    _opened(check, "check.plan", expected)
    if any(one["kind"] == Flag.Kind.DO_NOT_RUN for one in check.numbers.get("found", [])):
        raise Refused("This follows what was found not to be run: clear that flag with its cause instead.")
    if errors := _why("reason", reason, "Say why it is left out."):
        raise Refused(errors)
    check.settled_on, check.outcome, check.skipped = _today(check), Check.Outcome.CANCELLED, True
    check.cause = reason.strip()
    check.save(update_fields=["settled_on", "outcome", "skipped", "cause"])
    tell_check("check.cancelled", check, cause=check.cause)
    recompute_coupling(coupling=check.coupling)
    return check


def own_check(*, check: Check, owner: Person | None, expected: int | None = None) -> Check:
    """Say who sees to a check, or that nobody does yet."""
    _opened(check, "check.plan", expected)
    if owner is not None and check.site_id not in owner.site_ids() and not owner.sees_everything:
        raise Refused({"owner": "This person has no role at the site; choose somebody who has."})
    check.owner = owner
    check.save(update_fields=["owner"])
    return check


def take_date(*, check: Check, on: date | None, expected: int | None = None) -> Check:
    """Take the date that the work-order system gave, where it owns the dates; None: it has given none."""
    _opened(check, "check.date", expected)
    if check.site.dates_owner != Site.DatesOwner.ORDERS:
        raise Refused("This site's dates are set here: defer the check, or let the keeper say who owns the dates.")
    if on is not None and not date(2000, 1, 1) <= on <= date(2100, 12, 31):
        raise Refused({"on": "Give a day between the years 2000 and 2100."})
    check.ordered_on = on
    check.save(update_fields=["ordered_on"])
    return _recomputed(check)


def policy_of(check: Check) -> Policy | None:
    """The policy that a check follows: of its train's criticality, else the one for every criticality."""
    rows = Policy.objects.filter(site=check.site_id, check_kind=check.kind)
    return rows.filter(criticality__in=[check.coupling.train.criticality, ""]).order_by("-criticality").first()


def _opened(check: Check, action: str, expected: int | None) -> None:
    require(current().by, action, check.site_id)
    bump(check, expected)
    if check.settled_on is not None:
        raise Refused("This check is settled already; look at its history.")


def _recomputed(check: Check) -> Check:
    recompute_coupling(coupling=check.coupling)
    check.refresh_from_db()
    return check


def _today(check: Check) -> date:
    return today_at(check.site, current().at)


def _why(name: str, words: Any, ask: str) -> dict[str, str]:
    if not words.strip():
        return {name: ask}
    return {name: f"Say it in at most {WORDS_MOST} characters."} if len(words.strip()) > WORDS_MOST else {}


def _day(on: date) -> str:
    return day(on, weekday=False)
