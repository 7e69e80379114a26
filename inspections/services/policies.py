"""Policies: how often a kind of check is wanted at a site, and when the first one after an installation."""

import json
from collections.abc import Collection
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError

from inspections.models import CheckKind, Policy
from inspections.services.checks import recompute_site
from inspections.services.drift import date_site
from plant.access import require
from plant.models import Site, Train
from plant.recording import bump, changed, current, removed
from plant.refusals import Refused
from plant.sitetime import today_at

FIELDS = (
    "every_months",
    "mode",
    "window_share",
    "first_days",
    "first_hours",
    "every_hours",
    "after_other_work",
    "defer_days",
    "by_drift",
    "risk",
    "shortest_days",
    "longest_months",
    "needs_stop",
    "crew_hours",
    "crew_size",
    "source",
)


def write_policy(
    *, site: Site, check_kind: str, criticality: str = "", expected: int | None = None, **fields: Any
) -> Policy:
    """Write the policy of one kind of check, for every criticality or for one; all its dates follow at once.

    Parameters
    ----------
    expected : int or None
        The version the caller saw, where there is one already.
    fields
        Any of every_months, mode, window_share, first_days, first_hours, every_hours, after_other_work, defer_days,
        by_drift, risk, shortest_days, longest_months, needs_stop, crew_hours, crew_size, source; what is not given
        stays.

    Raises
    ------
    Refused
        With every field that cannot be.
    """
    unit = current()
    require(unit.by, "policy.write", site)
    unknown = sorted(set(fields) - set(FIELDS))
    if unknown:
        raise Refused({name: "A policy has no such field." for name in unknown})
    places = {}
    if check_kind not in CheckKind.values:
        places["check_kind"] = f"Choose one of {', '.join(CheckKind.values)}."
    if criticality and criticality not in Train.Criticality.values:
        places["criticality"] = "Choose A, B or C, or leave it empty for every one."
    if places:
        raise Refused(places)
    policy = Policy.objects.filter(site=site, check_kind=check_kind, criticality=criticality).first()
    if policy is None:
        policy = Policy(site=site, check_kind=check_kind, criticality=criticality)
    else:
        bump(policy, expected)
    before = {name: getattr(policy, name) for name in FIELDS}
    for name, value in fields.items():
        setattr(policy, name, value)
    if policy.mark != Policy.Mark.SITE and policy.source == before["source"]:
        # Changed figures are not those of the source they came from.
        policy.source = ""
    policy.mark = Policy.Mark.SITE
    _refuse_wrong(policy)
    policy.save()
    changed(policy)
    _follow(site)
    return policy


def add_policy(*, site: Site, check_kind: str, criticality: str = "", **fields: Any) -> Policy:
    """Write a policy where there is none yet; one that stands is changed, which asks for the version that was seen."""
    require(current().by, "policy.write", site)
    if Policy.objects.filter(site=site, check_kind=check_kind, criticality=criticality).exists():
        raise Refused({"check_kind": "This site has a policy for this kind and criticality already: change that one."})
    return write_policy(site=site, check_kind=check_kind, criticality=criticality, **fields)


def remove_policy(*, policy: Policy, expected: int | None = None) -> None:
    """Take a policy away: checks that nothing else asks for are cancelled, and those of one criticality fall back on
    the policy of every one. Work that was done stays as it was done.
    """
    unit = current()
    require(unit.by, "policy.write", policy.site)
    bump(policy, expected)
    removed(policy)
    site = policy.site
    policy.delete()
    _follow(site)


def load_policies(*, site: Site, kinds: Collection[str] = tuple(CheckKind.values)) -> list[Policy]:
    """Give a site the starter policies it does not have yet, marked as common practice; the site may change each.

    `kinds` says of which kinds of check; a site that begins with few does not have all its couplings due at once.
    """
    unit = current()
    require(unit.by, "policy.write", site)
    rows = json.loads((settings.BASE_DIR / "fixtures" / "starters" / "policies.json").read_text())
    loaded = []
    for row in rows:
        known = {"check_kind": row["check_kind"], "criticality": row["criticality"]}
        if row["check_kind"] not in kinds or Policy.objects.filter(site=site, **known).exists():
            continue
        policy = Policy(site=site, **row)
        policy.full_clean()
        policy.save()
        changed(policy)
        loaded.append(policy)
    if loaded:
        _follow(site)
    return loaded


def _follow(site: Site) -> None:
    """All dates of the site follow: the forecasts' first, which the checks go by."""
    today = today_at(site, current().at)
    date_site(site=site, today=today)
    recompute_site(site=site, today=today)


def _refuse_wrong(policy: Policy) -> None:
    errors: dict[str, str] = {}
    try:
        policy.clean_fields(exclude=["site", "uuid", "version"])
    except ValidationError as error:
        errors = {name: " ".join(messages) for name, messages in error.message_dict.items()}
    bounds = [
        ("every_months", 1, 240, "months, from 1 to 240; leave it empty for no regular interval"),
        ("window_share", 0, 0.5, "a share of the interval, from 0 to 50 %"),
        ("first_days", 1, 3650, "days, from 1 to 3650"),
        ("first_hours", 1, 100_000, "run hours, from 1 to 100 000"),
        ("every_hours", 1, 200_000, "run hours, from 1 to 200 000"),
        ("defer_days", 0, 3650, "days beyond the due date, from 0 to 3650"),
        ("risk", 0.001, 0.5, "a chance from 0.1 to 50 %; leave it empty for the starters"),
        ("shortest_days", 1, 3650, "days, from 1 to 3650"),
        ("longest_months", 1, 240, "months, from 1 to 240; leave it empty so that the interval never grows"),
        ("crew_hours", 0, 1_000, "hours, from 0 to 1000"),
        ("crew_size", 1, 100, "people, from 1 to 100"),
    ]
    for name, low, high, words in bounds:
        value = getattr(policy, name)
        if name in errors or value is None:
            continue
        # A value that is not a number compares false both ways, so it is refused too.
        if not low <= value <= high:
            errors[name] = f"Give {words}."
    if not errors and (policy.longest_months or 240) < (policy.every_months or 0):
        errors["longest_months"] = "The longest interval is not shorter than the regular one."
    asks = (policy.every_months, policy.every_hours, policy.first_days, policy.first_hours)
    if not errors and all(value is None for value in asks):
        errors[""] = "A policy needs an interval, or a number of days or run hours after an installation."
    if not errors and policy.check_kind == CheckKind.FOLLOW_UP and policy.first_days is None:
        errors["first_days"] = "A follow-up comes so many days after what was found: give them."
    if errors:
        raise Refused(errors)
