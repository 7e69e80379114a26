"""When drift asks for the next alignment: the risk a policy accepts, its bounds, and what a state says to them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from couplings.models import Coupling
from inspections.forecasting.duedates import Drift
from inspections.forecasting.forecast import STARTER_RISKS, tolerance_used
from inspections.forecasting.legs import YEAR_DAYS, YEAR_HOURS
from inspections.forecasting.outlook import UNKNOWN, by_day, longest_interval, next_check
from inspections.models import CheckKind, DriftState, Policy
from inspections.selectors.beliefs import beliefs_from, days_after, limits_from, shared_draws

MONTH_DAYS = 30.4375


@dataclass(frozen=True)
class Bounds:
    """What a site accepts of one coupling: a chance, and the shortest and longest interval. [1], [day]"""

    risk: float
    shortest: float
    every: float | None
    longest: float | None


def risk_of(policy: Policy | None, criticality: str) -> float:
    """The chance of being out of tolerance that is accepted until the next check."""
    if policy is not None and policy.risk is not None:
        return policy.risk
    return STARTER_RISKS.get(criticality, STARTER_RISKS["B"])


def bounds_of(policy: Policy | None, criticality: str) -> Bounds:
    """The bounds of a policy; those of no policy are the starters."""
    return Bounds(
        risk_of(policy, criticality),
        float(policy.shortest_days if policy is not None else 30),
        policy.every_months * MONTH_DAYS if policy is not None and policy.every_months else None,
        policy.longest_months * MONTH_DAYS if policy is not None and policy.longest_months else None,
    )


def policies_for(couplings: Iterable[Coupling]) -> dict[int, Policy | None]:
    """The alignment policy of each coupling, by its id, in one query. They come with their train."""
    couplings = list(couplings)
    rows = Policy.objects.filter(site_id__in={one.site_id for one in couplings}, check_kind=CheckKind.ALIGNMENT)
    known = {(row.site_id, row.criticality): row for row in rows}
    return {
        one.pk: known.get((one.site_id, one.train.criticality)) or known.get((one.site_id, "")) for one in couplings
    }


def date_states(states: Sequence[DriftState], bounds: Sequence[Bounds], today: date) -> None:
    """Fill in the columns of states that follow from their curves and what their sites accept; nothing is saved."""
    due_days = np.zeros(len(states))
    for number, (state, by) in enumerate(zip(states, bounds, strict=True)):
        longest, _grows = longest_interval(by.every, by.longest, state.legs, state.longest_days)
        days, code = next_check(
            [day for day, _chance in state.curve], [chance for _day, chance in state.curve], by.risk,
            min(by.shortest, longest), longest,
        )  # fmt: skip
        known = code != UNKNOWN and state.left_on is not None
        state.risk, state.due_by = by.risk, code if known else ""
        state.due_on = days_after(state.left_on, days) if known else None
        state.extrapolated = known and days > 2 * state.longest_days
        due_days[number] = days if known else 0.0
        state.used_due = []
        state.crosses_on = min((on for on in _moments(state) if on > today), default=None)
    known_ones = [number for number, state in enumerate(states) if state.due_on is not None]
    if known_ones:
        some = [states[number] for number in known_ones]
        used = tolerance_used(
            beliefs_from(some), limits_from([one.limits for one in some]), clock_years(some, due_days[known_ones]),
            shared_draws(),
        )  # fmt: skip
        for state, row in zip(some, used, strict=True):
            state.used_due = [round(float(one), 4) for one in row]


def asked_by_drift(state: DriftState, policy: Policy | None, criticality: str) -> Drift | None:
    """What a dated state asks for, with the numbers its sentence is made from; None where there is no forecast."""
    if state.due_on is None or state.left_on is None:
        return None
    by = bounds_of(policy, criticality)
    _longest, grows = longest_interval(by.every, by.longest, state.legs, state.longest_days)
    numbers = {
        "drift_by": state.due_by,
        "drift_chance": chance_on(state, state.due_on),
        "drift_risk": state.risk,
        "drift_left_on": state.left_on.isoformat(),
        "drift_legs": state.legs,
        "drift_grows": grows,
        "drift_extrapolated": state.extrapolated,
        "straight_on": state.straight_on.isoformat() if state.straight_on is not None else None,
        "shortest_days": round(by.shortest),
    }
    return Drift(state.due_on, state.left_on, state.due_by, grows, numbers)


def clock_years(states: Sequence[DriftState], days: Any) -> Any:
    """So many days of the calendar on the clock of each state's group. [year]"""
    per_day = np.array([state.hours_per_day if state.hours_per_day is not None else np.nan for state in states])
    clock = np.where(np.isfinite(per_day), per_day * YEAR_DAYS / YEAR_HOURS, 1.0)
    return np.asarray(days, dtype=float) / YEAR_DAYS * np.maximum(clock, 1e-3)


def _moments(state: DriftState) -> list[date]:
    """Days on which what is said of a coupling changes by itself."""
    found = [one for one in (state.due_on, state.straight_on) if one is not None]
    if state.left_on is not None and state.curve:
        found.append(days_after(state.left_on, 2 * state.longest_days + 1))
    return found


def chance_on(state: DriftState | None, on: date) -> float | None:
    """The chance that a coupling will have been out of tolerance by a day; None where there is no forecast.

    Beyond the end of the forecast, five years after it was left, the last value stands.
    """
    if state is None or state.left_on is None or not state.curve:
        return None
    days = [day for day, _chance in state.curve]
    return by_day(days, [chance for _day, chance in state.curve], float((on - state.left_on).days))
