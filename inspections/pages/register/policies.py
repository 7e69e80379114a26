"""Policies: how often a kind of check is wanted, and when the first one after an installation."""

from __future__ import annotations

from typing import Any

from couplings.pages.register.kept_tables import MARKED, WRITES, loads, mark_of, removal, source_of
from inspections.models import CheckKind, Policy
from inspections.services import policies
from plant.models import Train
from plant.pages.register import Column, Field, Noun, Place, add_noun, among_choices, by_site
from plant.pages.register import lazily as _


def _create(place: Place, **given: Any) -> Policy:
    assert place.site is not None
    return policies.add_policy(site=place.site, **given)


def _change(root: Policy, expected: int | None, **given: Any) -> Policy:
    return policies.write_policy(
        site=root.site, check_kind=root.check_kind, criticality=root.criticality, expected=expected, **given
    )


def _remove(root: Policy, expected: int | None) -> None:
    policies.remove_policy(policy=root, expected=expected)


def _for(policy: Policy) -> str:
    return policy.criticality or str(_("every one"))


def _title(policy: Policy) -> str:
    for_whom = _("criticality %(letter)s") if policy.criticality else _("every criticality")
    return f"{policy.get_check_kind_display()}, {for_whom % {'letter': policy.criticality}}"


FIRST = _("First after an installation")
REGULAR = _("Regularly")
DRIFT = _("By drift")
WORK = _("The work")

add_noun(
    Noun(
        key="policies",
        one=_("policy"),
        many=_("policies"),
        what=_("How often a kind of check is wanted, and when the first one after an installation."),
        note=_("All dates that a policy sets move as soon as it is saved. A policy of one criticality goes before that "
               "of every one."),
        model=Policy,
        action=WRITES,
        related=lambda rows: rows.select_related("site"),
        columns=(
            Column("kind", _("Kind of check"), lambda one: one.get_check_kind_display(), sort=("check_kind",)),
            Column("criticality", _("For criticality"), _for, sort=("criticality", "check_kind")),
            Column("every", _("Every, months"), lambda one: one.every_months, kind="count", sort=("every_months",)),
            Column("first_days", _("First, days"), lambda one: one.first_days, kind="count"),
            Column("first_hours", _("First, run hours"), lambda one: one.first_hours, kind="hours"),
            *MARKED,
        ),
        order=("site__name", "check_kind", "criticality"),
        search=("source",),
        search_words=_("the source"),
        filters=(by_site(), among_choices("kind", _("of"), _("any kind"), tuple(CheckKind.choices), "check_kind")),
        empty=_("No policy yet, so no check is due by time. Load the starters, or add the first."),
        title=_title,
        says=mark_of,
        fields=(
            Field("check_kind", _("Kind of check"), "choice", required=True, once=True,
                  choices=tuple(CheckKind.choices)),
            Field("criticality", _("For criticality"), "choice", choices=tuple(Train.Criticality.choices), once=True,
                  hint=_("Left out: every one.")),
            Field("every_months", _("Every, months"), "count", group=REGULAR, hint=_("Empty: no regular interval.")),
            Field("mode", _("How the next day is counted"), "choice", required=True, group=REGULAR,
                  choices=tuple(Policy.Mode.choices), starter="window"),
            Field("window_share", _("Window before and after, of the interval"), "share", empty=0.0, group=REGULAR,
                  starter="10"),
            Field("every_hours", _("Every, run hours"), "hours", group=REGULAR),
            Field("first_days", _("Days"), "count", group=FIRST),
            Field("first_hours", _("Run hours"), "hours", group=FIRST),
            Field("after_other_work", _("Also after a re-alignment and work on foundation or pipes"), "yes",
                  group=FIRST, starter="no"),
            Field("defer_days", _("Deferred by at most so many days"), "count", required=True, group=WORK, starter="90",
                  hint=_("Beyond the due date; 0: not at all.")),
            Field("by_drift", _("Also by how fast it drifts"), "yes", group=DRIFT, starter="yes",
                  hint=_("Alignment only, where surveys say how fast.")),
            Field("risk", _("Accepted chance of being out of tolerance"), "share", group=DRIFT,
                  hint=_("Until the next check. Empty: 1 % for criticality A, 2 % for B, 5 % for C. For elements: of "
                         "failing before they are replaced; empty, they are not dated by their life.")),
            Field("shortest_days", _("At the earliest, days"), "count", required=True, group=DRIFT, starter="30",
                  hint=_("After it was left.")),
            Field("longest_months", _("The interval may grow to, months"), "count", group=DRIFT,
                  hint=_("Where its own surveys bear it out. Empty: it never grows.")),
            Field("needs_stop", _("The machine stands still for it"), "yes", group=WORK, starter="yes"),
            Field("crew_hours", _("Hours of the crew"), "hours", group=WORK, required=True, starter="2"),
            Field("crew_size", _("People"), "count", group=WORK, required=True, starter="2"),
            source_of(required=False),
        ),
        create=_create,
        change=_change,
        acts=(removal(_remove, _("Checks that nothing else asks for are cancelled. Work that was done stays as it was "
                                 "done.")),),
        whole=(loads(lambda site: policies.load_policies(site=site)),),
    )
)  # fmt: skip
