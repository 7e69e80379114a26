"""Drift as people and programs read it: legs with their visits, what is believed now, the fan ahead, feet that moved.

A number of queries that does not grow with the couplings. Nothing here is computed from the records again: legs and
states are kept (inspections/services/drift.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from couplings.models import Coupling, Fit
from couplings.selectors import feet_of
from inspections.forecasting.feet import FootMove, foot_moves
from inspections.forecasting.forecast import tolerance_used
from inspections.forecasting.legs import Floats, ForecastError
from inspections.models import Check, CheckKind, DriftState, GroupFit, Leg
from inspections.selectors.beliefs import beliefs_from, days_after, limits_from, shared_draws
from inspections.selectors.drift_due import chance_on, clock_years
from plant.models import Person
from plant.models.roots import RootQuerySet

QUARTER_DAYS = 91.3125
QUARTERS = 20
MOVES = ("move_offset_v_mm", "move_offset_h_mm", "move_slope_v_mrad", "move_slope_h_mrad")
SURE = 0.1  # chance of rates as large without any drift, below which feet are named

__all__ = [
    "DriftView", "FanPoint", "Looked", "chance_on", "drift_of", "drift_views", "fan_points", "feet_in",
    "legs_visible_to", "look_at", "looked_on", "states_visible_to",
]  # fmt: skip


@dataclass(frozen=True)
class FanPoint:
    """Tolerance used on one day, middle and 90 % interval, and the chance of having been out by then. [1]"""

    on: date
    middle: float
    low: float
    high: float
    chance: float
    extrapolated: bool


@dataclass(frozen=True)
class Looked:
    """What a look on another day would mean: the chance of being out of tolerance by then, and what is accepted."""

    on: date
    chance: float
    risk: float
    due_on: date | None
    straight_on: date | None
    middle: float
    low: float
    high: float
    extrapolated: bool


@dataclass(frozen=True)
class DriftView:
    """Everything a page says of one coupling's drift.

    `legs` in order of time, those left out among them, each with `from_visit` and `to_visit`. `state` None: nothing was
    measured here yet. `fan`: as left, then every quarter of a year. `now` is today's point of it. `feet`: explanations
    of the mean rates, those of each plane in order, [mm/year]; empty where no drift is sure or the feet are not known.
    `own_share`, `others`: weight of its own legs in its pace, and how many couplings the rest comes from.
    """

    coupling: Coupling
    legs: tuple[Leg, ...]
    state: DriftState | None
    fan: tuple[FanPoint, ...]
    now: FanPoint | None
    feet: tuple[FootMove, ...]
    own_share: float | None
    others: int
    group: GroupFit | None


def legs_visible_to(person: Person) -> RootQuerySet:
    """Legs at the sites a person reads; they print without further queries."""
    return _printed(Leg.objects.visible_to(person))


def states_visible_to(person: Person) -> RootQuerySet:
    """States at the sites a person reads; they print without further queries."""
    rows: RootQuerySet = DriftState.objects.visible_to(person).select_related(
        "site", "coupling__train", "fit", "left_survey__visit"
    )
    return rows


def _printed(rows: RootQuerySet) -> RootQuerySet:
    joined: RootQuerySet = rows.select_related(
        "site", "coupling", "from_visit", "to_visit", "left_out_by", "cause_by", "from_survey", "to_survey"
    )
    return joined


def drift_of(coupling: Coupling, today: date) -> DriftView:
    """One coupling's drift."""
    return drift_views([coupling], today)[coupling.pk]


def drift_views(couplings: Iterable[Coupling], today: date) -> dict[int, DriftView]:
    """The same of many couplings, by their ids; `today` is the site's."""
    ids = [one.pk for one in couplings]
    rows = Coupling.objects.filter(pk__in=ids).select_related("site", "train", "driver_machine", "driven_machine")
    rows = rows.prefetch_related("driver_machine__foot_planes", "driven_machine__foot_planes")
    fits = {
        fit.coupling_id: fit
        for fit in Fit.objects.filter(coupling_id__in=ids, removed_on__isnull=True).select_related("sheet_version")
    }
    legs: dict[int, list[Leg]] = {pk: [] for pk in ids}
    for leg in _printed(Leg.objects.filter(coupling_id__in=ids)).order_by("to_on", "pk"):
        legs[leg.coupling_id].append(leg)
    states = {
        state.coupling_id: state
        for state in DriftState.objects.filter(coupling_id__in=ids).select_related("fit", "left_survey__visit")
    }
    fans = _fans([state for state in states.values() if state.curve and state.left_on is not None], today)
    views = {}
    for coupling in rows:
        state = states.get(coupling.pk)
        fan, now = fans.get(coupling.pk, ((), None))
        group = state.fit if state is not None else None
        views[coupling.pk] = DriftView(
            coupling,
            tuple(legs[coupling.pk]),
            state,
            fan,
            now,
            _feet(coupling, fits.get(coupling.pk), state),
            state.own_share if state is not None else None,
            max(0, group.couplings - 1) if group is not None else 0,
            group,
        )
    return views


def looked_on(state: DriftState | None, on: date) -> Looked | None:
    """What a look on that day would mean; None where there is no forecast for it."""
    chance = chance_on(state, on)
    if chance is None or state is None or state.risk is None:
        return None
    point = fan_points([state], {state.coupling_id: [on]})[state.coupling_id][0]
    return Looked(
        on, chance, state.risk, state.due_on, state.straight_on, point.middle, point.low, point.high, point.extrapolated
    )


def look_at(check: Check, on: date) -> Looked | None:
    """What doing an alignment check on another day would mean; None for other kinds and where nothing is forecast."""
    if check.kind != CheckKind.ALIGNMENT:
        return None
    return looked_on(DriftState.objects.filter(coupling=check.coupling_id).first(), on)


def feet_in(leg: Leg, fit: Fit | None = None) -> tuple[FootMove, ...]:
    """Which feet explain the movement of one leg, the best first within each plane. [mm]

    Its coupling comes with its machines and their foot planes.
    """
    change = np.array([np.nan if (one := getattr(leg, name)) is None else one for name in MOVES])
    ends = zip(leg.start_variance or [None] * 4, leg.end_variance or [None] * 4, strict=True)
    variance = np.array([np.nan if a is None or b is None else a + b for a, b in ends])
    return _moved(leg.coupling, fit, change, variance)


def _feet(coupling: Coupling, fit: Fit | None, state: DriftState | None) -> tuple[FootMove, ...]:
    """Feet that explain the mean rates, where there is a drift to explain."""
    if state is None or not state.belief or not state.legs:
        return ()
    if state.pace_chance is None or state.pace_chance > SURE:
        return ()
    rate, variance = (
        np.array([np.nan if one is None else one for one in state.belief[name]]) for name in ("rate", "rate_variance")
    )
    return _moved(coupling, fit, rate, variance)


def _moved(coupling: Coupling, fit: Fit | None, change: Floats, variance: Floats) -> tuple[FootMove, ...]:
    """Driver feet at positive x, driven at negative; machines with other than two planes by their outermost."""
    if fit is None:
        return ()
    planes = {}
    for side, sign in (("driver", 1.0), ("driven", -1.0)):
        feet = [(name, sign * x) for name, x in feet_of(coupling, side, fit) if x > 0]
        planes[side] = [feet[0], feet[-1]] if len(feet) >= 2 else []
    if not planes["driver"] and not planes["driven"]:
        return ()
    try:
        return foot_moves(change, variance, planes["driver"], planes["driven"])
    except ForecastError:
        return ()


def _fans(states: Sequence[DriftState], today: date) -> dict[int, tuple[tuple[FanPoint, ...], FanPoint]]:
    quarters = {
        state.coupling_id: [days_after(state.left_on, number * QUARTER_DAYS) for number in range(QUARTERS + 1)]
        for state in states
    }
    days = {pk: [*found, max(today, found[0])] for pk, found in quarters.items()}
    points = fan_points(states, days)
    return {pk: (tuple(found[:-1]), found[-1]) for pk, found in points.items()}


def fan_points(states: Sequence[DriftState], days: Mapping[int, Sequence[date]]) -> dict[int, list[FanPoint]]:
    """Each state's points on its days, as many for each; the draws are those of the stored forecasts.

    The states have a forecast and come with their fit.
    """
    if not states:
        return {}
    belief, limits = beliefs_from(states), limits_from([state.limits for state in states])
    found: dict[int, list[FanPoint]] = {state.coupling_id: [] for state in states}
    for number in range(len(next(iter(days.values())))):
        since = [(days[state.coupling_id][number] - state.left_on).days for state in states if state.left_on]
        used = tolerance_used(belief, limits, clock_years(states, np.maximum(since, 0)), shared_draws())
        for state, row in zip(states, used, strict=True):
            on = days[state.coupling_id][number]
            assert state.left_on is not None
            middle, low, high = (float(one) for one in row)
            far = on - state.left_on > timedelta(days=2 * state.longest_days)
            found[state.coupling_id].append(FanPoint(on, middle, low, high, chance_on(state, on) or 0.0, far))
    return found
