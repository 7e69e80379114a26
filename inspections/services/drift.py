"""Drift: the legs of couplings and what is believed of each, brought up to date from the records.

One coupling, a site and all sites go through the same lines: with the groups' parameters and today's date pinned they
give the same rows. What did not change is not written.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from couplings.models import Coupling, Fit
from inspections.models import DriftState, GroupFit, JumpCause, Leg, StatedValues, Survey
from inspections.selectors.beliefs import drawn
from inspections.selectors.drift_due import bounds_of, date_states, policies_for
from inspections.selectors.groups import fits_for
from inspections.selectors.leg_hours import hours_apart
from plant.access import require
from plant.models import Site
from plant.recording import bump, changed, current, removed
from plant.refusals import Refused
from plant.sitetime import today_at

AT_ONCE = 200  # couplings; their records, draws and rows stay below a few tens of megabytes
_READ = ("site", "grade", "train__site", "driver_machine", "driven_machine")
_DUE = ("risk", "due_on", "due_by", "extrapolated", "used_due", "crosses_on")


def recompute_drift(*, couplings: QuerySet[Coupling] | Iterable[int], today: date | None = None) -> list[int]:
    """Bring the legs and states of some couplings up to date; the ids of those for which something changed.

    Called when a survey was signed, amended or typed in from a paper, when a machine, a fit, the train's coupling, a
    target, limits or run hours changed, and when a group was fitted again.
    """
    asked = couplings if isinstance(couplings, QuerySet) else Coupling.objects.filter(pk__in=list(couplings))
    surveyed = Survey.objects.filter(visit__coupling=OuterRef("pk"), record__feeds__isnull=False)
    carded = StatedValues.objects.filter(visit__coupling=OuterRef("pk"))
    known = DriftState.objects.filter(coupling=OuterRef("pk"))
    rows = asked.filter(Q(Exists(known)) | Q(Exists(surveyed)) | Q(Exists(carded))).order_by("pk")
    by_site: dict[int, list[int]] = {}
    for pk, site_id in rows.values_list("pk", "site_id"):
        by_site.setdefault(site_id, []).append(pk)
    moved: list[int] = []
    for ids in by_site.values():
        for begin in range(0, len(ids), AT_ONCE):
            moved += _bring_up_to_date(ids[begin : begin + AT_ONCE], today)
    return moved


def recompute_coupling(*, coupling: Coupling, today: date | None = None) -> bool:
    """The same for one coupling."""
    return bool(recompute_drift(couplings=[coupling.pk], today=today))


def date_site(*, site: Site, today: date) -> None:
    """Date all forecasts of a site again: its policies changed, and nothing else did."""
    after = 0
    while True:
        rows = DriftState.objects.filter(site=site, pk__gt=after).select_related("coupling__train")
        states = list(rows.order_by("pk")[:AT_ONCE])
        _date(states, {state.coupling_id: state.coupling for state in states}, today, set())
        if len(states) < AT_ONCE:
            return
        after = states[-1].pk


def drift_from(*, fits: Iterable[Any]) -> list[int]:
    """Couplings whose fit is another than their forecasts were made for, or is held to another data sheet."""
    ids = {fit.coupling_id for fit in fits}
    now = {
        row["coupling_id"]: (row["pk"], row["sheet_version_id"])
        for row in Fit.objects.filter(coupling_id__in=ids, removed_on__isnull=True).values(
            "pk", "coupling_id", "sheet_version_id"
        )
    }
    rows = DriftState.objects.filter(coupling_id__in=ids).values_list("coupling_id", "of_fit_id", "sheet_version_id")
    return [pk for pk, of_fit, version in rows if now.get(pk, (None, None)) != (of_fit, version)]


def drift_regrouped(*, site: Site) -> list[int]:
    """Couplings of a site that go by another group now than their forecasts did: its supports are of another kind."""
    if not GroupFit.objects.filter(site=site, level=GroupFit.Level.KIND, current=True).exists():
        return []
    states = dict(DriftState.objects.filter(site=site).values_list("coupling_id", "fit_id"))
    rows = Coupling.objects.filter(site=site, drift_state__isnull=False).select_related(*_READ)
    now = fits_for(rows)
    return [pk for pk, fit in states.items() if (now[pk].pk if pk in now else None) != fit]


def drift_by_hours(*, trains: Iterable[int]) -> list[int]:
    """Couplings of these trains whose legs or forecasts say other run hours than their meter does now."""
    rows = Leg.objects.filter(coupling__train__in=list(trains)).select_related(
        "coupling__train", "coupling__site", "from_survey", "to_survey"
    )
    states = DriftState.objects.filter(coupling__train__in=list(trains), hours_per_day__isnull=False)
    states = states.select_related("coupling__train", "coupling__site")
    return hours_apart(list(rows), list(states))


def leave_out(*, leg: Leg, reason: str, expected: int | None = None) -> Leg:
    """Leave a leg out of the forecast, with who and why: it is kept and shown struck through.

    Raises
    ------
    Refused
        No reason, or it is left out already.
    """
    _opened(leg, expected)
    if leg.left_out_at is not None:
        raise Refused("This leg is left out already.")
    if not reason.strip():
        raise Refused({"reason": "Say why this leg does not count: it stays on the page with your words."})
    if len(reason.strip()) > 200:
        raise Refused({"reason": "Say it in at most 200 characters."})
    unit = current()
    leg.left_out_reason, leg.left_out_by, leg.left_out_at = reason.strip(), unit.by, unit.at
    leg.save()
    return _followed(leg)


def count_again(*, leg: Leg, expected: int | None = None) -> Leg:
    """Take a leg back into the forecast."""
    _opened(leg, expected)
    if leg.left_out_at is None:
        raise Refused("This leg counts already.")
    leg.left_out_reason, leg.left_out_by, leg.left_out_at = "", None, None
    leg.save()
    return _followed(leg)


def explain_jumps(*, coupling: Any, legs: Iterable[str], cause: str, note: str = "") -> None:
    """Write down why legs moved more than their history explains; they stay widened and count on."""
    if cause not in JumpCause.values:
        raise Refused({"cause": f"Choose what it was: {', '.join(JumpCause.values)}."})
    unit = current()
    for leg in Leg.objects.filter(coupling=coupling, uuid__in=list(legs), cause=""):
        bump(leg)
        leg.cause, leg.cause_note, leg.cause_by, leg.cause_at = cause, note.strip()[:200], unit.by, unit.at
        leg.save()
    recompute_coupling(coupling=coupling)


def _opened(leg: Leg, expected: int | None) -> None:
    require(current().by, "leg.write", leg.site_id)
    bump(leg, expected)


def _followed(leg: Leg) -> Leg:
    recompute_coupling(coupling=leg.coupling)
    leg.refresh_from_db()
    return leg


def _bring_up_to_date(ids: list[int], today: date | None) -> list[int]:
    """Draw the rows of one slice, and write what differs."""
    list(Coupling.objects.select_for_update().filter(pk__in=ids).order_by("pk").values_list("pk"))
    rows = Coupling.objects.filter(pk__in=ids).select_related(*_READ).prefetch_related("target_parts").order_by("pk")
    couplings = {coupling.pk: coupling for coupling in rows}
    found = drawn(list(couplings.values()))
    moved = _write_legs(ids, found.legs)
    standing = {state.coupling_id: state for state in DriftState.objects.filter(coupling_id__in=ids)}
    uuids = dict(Leg.objects.filter(coupling_id__in=ids).values_list("to_visit_id", "uuid"))
    states = []
    for pk, columns in found.states.items():
        if pk not in standing and pk not in found.seen:
            continue
        for jump in columns["jumps"]:
            jump["leg"] = str(uuids[jump.pop("visit")])
        state = standing.get(pk) or DriftState(coupling_id=pk)
        before = {name: getattr(state, name) for name in columns}
        for name, value in columns.items():
            setattr(state, name, value)
        if state.pk is None or before != columns:
            moved.add(pk)
        states.append(state)
    day = today
    if day is None and states:
        day = today_at(couplings[states[0].coupling_id].site, current().at)
    if day is not None:
        moved |= _date(states, couplings, day, moved)
    return sorted(moved)


def _date(states: list[DriftState], couplings: dict[int, Any], today: date, moved: set[int]) -> set[int]:
    """Bring the dates of these states up to date and save those that are new or different."""
    before = {state.coupling_id: [getattr(state, name) for name in _DUE] for state in states}
    policies = policies_for(couplings.values())
    bounds = [
        bounds_of(policies[state.coupling_id], couplings[state.coupling_id].train.criticality) for state in states
    ]
    date_states(states, bounds, today)
    told = set()
    for state in states:
        if before[state.coupling_id] == [getattr(state, name) for name in _DUE] and state.coupling_id not in moved:
            continue
        if state.pk is not None:
            state.version += 1
        state.save()
        changed(state)
        told.add(state.coupling_id)
    return told


def _write_legs(ids: list[int], wanted: dict[int, dict[str, Any]]) -> set[int]:
    """Insert, change or take away what differs; the ids of couplings whose legs did."""
    moved: set[int] = set()
    standing = {leg.to_visit_id: leg for leg in Leg.objects.filter(coupling_id__in=ids)}
    for visit_id, leg in standing.items():
        if visit_id not in wanted:
            moved.add(leg.coupling_id)
            removed(leg)
            leg.delete()
    for visit_id, columns in wanted.items():
        leg = standing.get(visit_id) or Leg(to_visit_id=visit_id)
        if leg.pk is not None and all(getattr(leg, name) == value for name, value in columns.items()):
            continue
        for name, value in columns.items():
            setattr(leg, name, value)
        if leg.pk is not None:
            leg.version += 1
        leg.save()
        changed(leg)
        moved.add(leg.coupling_id)
    return moved
