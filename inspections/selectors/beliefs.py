"""What follows from the records of some couplings: columns of their legs and of their states, nothing written.

One coupling and all of a site go through the same lines, so that both give the same rows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from couplings.models import Coupling
from inspections.forecasting.drift import Filtered, clock_years
from inspections.forecasting.envelope import Envelope
from inspections.forecasting.jumps import Evidence
from inspections.forecasting.legs import COMPONENTS, YEAR_DAYS, YEAR_HOURS, Floats, Legs, Standing
from inspections.forecasting.outlook import Outlook, outlook, pace
from inspections.forecasting.parameters import at_couplings
from inspections.forecasting.passage import Draws, draws
from inspections.forecasting.posterior import Belief, fleet_beliefs
from inspections.forecasting.running import rate
from inspections.models import DriftState, GroupFit, Leg
from inspections.selectors.groups import fits_for, fitted
from inspections.selectors.legs import Ended, Records, legs_from, records_of

PATHS = 512  # paths of a stored forecast: the same for one coupling and for all
FIGURES = 9
BELIEF = ("position", "position_variance", "rate", "rate_variance", "together", "own", "diffusion", "jump_variance")


@dataclass(eq=False)
class Drawn:
    """What the rows of some couplings should say: columns by the visit at a leg's end, and by coupling id."""

    legs: dict[int, dict[str, Any]]
    states: dict[int, dict[str, Any]]
    seen: set[int]  # couplings that were surveyed at all


@dataclass(frozen=True, eq=False)
class _Believed:
    """Of the couplings that have a group's parameters; `place` of each among all, -1 where it has none."""

    place: Any
    belief: Belief
    evidence: Evidence
    state: Filtered
    outlook: Outlook
    pace: tuple[Floats, Floats]
    years: Floats
    legs: Legs
    rows: Any
    per_day: list[float | None]
    guessed: Any


def shared_draws() -> Draws:
    """The draws that every stored forecast is made with."""
    return draws(PATHS)


def drawn(couplings: Sequence[Coupling]) -> Drawn:
    """The rows that follow from the records of these couplings.

    They come with their train, site, grade, machines and, prefetched, the parts of their targets.
    """
    records = records_of(couplings)
    legs, standing, ended = legs_from(records)
    fits = fits_for(records.couplings)
    known = _believed(records, legs, standing, fits)
    columns = {records.taken[end.end].visit: _leg(records, legs, end, known) for end in ended}
    states = {
        coupling.pk: _state(records, legs, standing, fits, known, number)
        for number, coupling in enumerate(records.couplings)
    }
    seen = {records.couplings[number].pk for number in records.rows.coupling}
    _tell_jumps(records, ended, columns, states, known)
    return Drawn(columns, states, seen)


def _believed(records: Records, legs: Legs, standing: Standing, fits: dict[int, GroupFit]) -> _Believed | None:
    mine = [number for number, coupling in enumerate(records.couplings) if coupling.pk in fits]
    if not mine:
        return None
    place = np.full(len(records.couplings), -1)
    place[mine] = np.arange(len(mine))
    used = list({fits[records.couplings[number].pk].pk: fits[records.couplings[number].pk] for number in mine}.values())
    which = [used.index(fits[records.couplings[number].pk]) for number in mine]
    parameters = at_couplings([fitted(one) for one in used], which)
    rows = np.flatnonzero(place[legs.coupling] >= 0)
    some = legs.taken(rows)
    some = replace(some, coupling=place[some.coupling])
    by_hours = parameters.by_hours
    rates = [rate(records.running_of(number)) for number in mine]
    # Where no meter says how it ran, it is taken to have run all the time: that hides no drift.
    per_day = np.array([24.0 if one is None else one for one in rates])
    unknown = ~np.isfinite(some.hours) & by_hours[some.coupling]
    some = replace(some, hours=np.where(unknown, some.days * per_day[some.coupling], some.hours))
    guessed = np.zeros(len(mine), dtype=bool)
    guessed[some.coupling[unknown]] = True
    guessed |= by_hours & np.array([one is None for one in rates])
    years = clock_years(some, by_hours[some.coupling])
    stood = Standing(**{name: values[mine] for name, values in vars(standing).items()})
    limits = records.limits.taken(np.array(mine))
    belief, evidence, state = fleet_beliefs(some, stood, parameters, limits)
    clock = np.where(by_hours, per_day * YEAR_DAYS / YEAR_HOURS, 1.0)
    ahead = outlook(belief, limits, some.widened(evidence.extra), years, clock, shared_draws())
    hours = [float(day) if counted else None for day, counted in zip(per_day, by_hours, strict=True)]
    return _Believed(
        place, belief, evidence, state, ahead, pace(belief, limits, clock), years, some, rows, hours, guessed
    )


def _leg(records: Records, legs: Legs, end: Ended, known: _Believed | None) -> dict[str, Any]:
    taken, rows = records.taken, records.rows
    last = taken[end.end]
    first = taken[end.start] if end.start is not None else None
    target = records.target[end.coupling]
    columns: dict[str, Any] = {
        "site_id": records.couplings[end.coupling].site_id,
        "coupling_id": records.couplings[end.coupling].pk,
        "from_visit_id": first.visit if first is not None else None,
        "from_survey_id": first.survey if first is not None else None,
        "to_survey_id": last.survey,
        "from_on": first.on if first is not None else None,
        "to_on": last.on,
        "from_corrected": first is not None and first.corrected,
        "to_corrected": last.corrected,
        "legacy": last.legacy or (first is not None and first.legacy),
        "why_not": end.why_not,
        "reset": end.used is None or not bool(legs.shared[end.used]),
        "end": listed(rows.position[end.end] - target),
        "end_variance": listed(rows.variance[end.end]),
        "start": [], "start_variance": [], "days": None, "hours": None,
        "distance": None, "probability": None, "moved_share": None, "z": [], "jump": False,
    } | dict.fromkeys(_MOVES)  # fmt: skip
    if end.start is not None:
        moves = listed(rows.position[end.end] - rows.position[end.start])
        ran = float(rows.hours[end.end] - rows.hours[end.start])
        columns |= dict(zip(_MOVES, moves, strict=True))
        columns |= {
            "start": listed(rows.position[end.start] - target),
            "start_variance": listed(rows.variance[end.start]),
            "days": plain(max(0.0, float(rows.day[end.end] - rows.day[end.start]))),
            "hours": plain(ran) if ran >= 0 else None,
        }
    if end.used is not None and known is not None and known.place[end.coupling] >= 0:
        at = int(np.searchsorted(known.rows, end.used))
        evidence = known.evidence
        columns |= {
            "distance": plain(evidence.distance[at]),
            "probability": plain(evidence.probability[at]),
            "moved_share": plain(evidence.moved[at]),
            "z": listed(evidence.z[at]),
            "jump": bool(evidence.flagged[at]),
        }
    return columns


_MOVES = ("move_offset_v_mm", "move_offset_h_mm", "move_slope_v_mrad", "move_slope_h_mrad")


def _state(
    records: Records, legs: Legs, standing: Standing, fits: dict[int, GroupFit], known: _Believed | None, number: int
) -> dict[str, Any]:
    coupling = records.couplings[number]
    fit = records.fits.get(coupling.pk)
    mine = np.flatnonzero(legs.coupling == number)
    group = fits.get(coupling.pk)
    left = _left_row(records, number) if np.isfinite(standing.day[number]) else None
    columns: dict[str, Any] = {
        "site_id": coupling.site_id,
        "fit_id": group.pk if group is not None else None,
        "of_fit_id": fit.pk if fit is not None else None,
        "sheet_version_id": fit.sheet_version_id if fit is not None else None,
        "legs": len(mine),
        "longest_days": plain(legs.days[mine].max(initial=0.0)),
        "left_on": records.taken[left].on if left is not None else None,
        "left_survey_id": records.taken[left].survey if left is not None else None,
        "limits": limits_as_json(records.limits, number),
        "why_not": "",
        "kept": {}, "belief": {}, "own_share": None, "pace_share": None, "pace_chance": None, "hours_per_day": None,
        "hours_guessed": False, "used_left": [], "curve": [], "straight_on": None, "jumps": [],
    }  # fmt: skip
    if not records.limits.known[number]:
        columns["why_not"] = DriftState.Why.NO_LIMITS.value
    elif left is None:
        columns["why_not"] = DriftState.Why.NO_SURVEY.value
    elif group is None:
        columns["why_not"] = DriftState.Why.NO_FIT.value
    if known is not None and (at := int(known.place[number])) >= 0:
        columns |= _from_belief(known, at, columns, records, number)
    return columns


def _left_row(records: Records, number: int) -> int:
    """The survey a coupling was left with last."""
    rows = records.rows
    mine = np.flatnonzero((rows.coupling == number) & rows.as_left)
    return int(mine[np.argmax(rows.day[mine])])


def _from_belief(known: _Believed, at: int, columns: dict[str, Any], records: Records, number: int) -> dict[str, Any]:
    belief, ahead = known.belief, known.outlook
    found: dict[str, Any] = {
        "kept": {name: listed(values[:, at]) for name, values in vars(known.state).items()},
        "belief": {name: listed(getattr(belief, name)[:, at]) for name in BELIEF}
        | {"jumps_per_year": plain(belief.jumps_per_year[at]), "longest": plain(belief.longest[at])},
        "own_share": plain(float(np.clip(np.mean(belief.own[:, at]), 0.0, 1.0))),
        "pace_share": plain(known.pace[0][at]),
        "pace_chance": plain(known.pace[1][at]),
        "hours_per_day": plain(known.per_day[at]) if known.per_day[at] is not None else None,
        "hours_guessed": bool(known.guessed[at]),
    }
    left_on = columns["left_on"]
    if columns["why_not"] or not np.isfinite(ahead.chance[at]).all():
        found["why_not"] = columns["why_not"] or DriftState.Why.NO_SURVEY.value
        return found
    curve = zip(ahead.days[at], ahead.chance[at], strict=True)
    found["curve"] = [[round(float(day), 3), round(float(chance), 6)] for day, chance in curve]
    found["used_left"] = [round(float(one), 4) for one in ahead.left[at]]
    straight = float(ahead.straight[at])
    if np.isfinite(straight) and columns["legs"]:
        found["straight_on"] = days_after(left_on, straight)
    return found


def _tell_jumps(
    records: Records, ended: list[Ended], columns: dict[int, dict[str, Any]], states: dict[int, dict[str, Any]],
    known: _Believed | None,
) -> None:  # fmt: skip
    """Jumps without a cause go into the state, by the visit that found them, with what speaks for them."""
    ends = [records.taken[end.end].visit for end in ended if columns[records.taken[end.end].visit]["jump"]]
    explained = set(Leg.objects.filter(to_visit_id__in=ends).exclude(cause="").values_list("to_visit_id", flat=True))
    for end in ended:
        visit = records.taken[end.end].visit
        found = columns[visit]
        if not found["jump"] or visit in explained:
            continue
        z = [abs(one) if one is not None else 0.0 for one in found["z"]]
        states[found["coupling_id"]]["jumps"].append(
            {
                "visit": visit,
                "from": found["from_on"].isoformat(),
                "on": found["to_on"].isoformat(),
                "moved_share": round(found["moved_share"], 4) if found["moved_share"] is not None else None,
                "probability": found["probability"],
                "distance": round(found["distance"], 3),
                "component": COMPONENTS[int(np.argmax(z))],
                "moves": [found[name] for name in _MOVES],
            }
        )


def days_after(on: Any, days: float) -> Any:
    """The date so many whole days on, never further than the calendar reaches."""
    return type(on).fromordinal(on.toordinal() + int(min(max(days, 0.0), 100 * YEAR_DAYS)))


def plain(value: Any) -> float | None:
    """A number as it is stored: nine figures, so that the last bits of an order of summing don't count."""
    number = float(value)
    return float(f"{number:.{FIGURES}g}") if np.isfinite(number) else None


def listed(values: Any) -> list[float | None]:
    """One number per component, None where not known."""
    return [plain(one) for one in values]


def limits_as_json(limits: Envelope, number: int) -> dict[str, Any]:
    """The limits of one coupling as its state keeps them, rows of zeros left out."""
    rows = [k for k in range(limits.arms.shape[1]) if limits.arms[number, k].any()]
    return {
        "arms": [listed(limits.arms[number, k]) for k in rows],
        "part": [int(limits.part[number, k]) for k in rows],
    }


def limits_from(rows: Sequence[dict[str, Any]]) -> Envelope:
    """Limits of couplings from what their states keep."""
    most = max([1, *(len(one.get("part", ())) for one in rows)])
    arms, part = np.zeros((len(rows), most, 4)), np.zeros((len(rows), most), dtype=np.int64)
    for i, one in enumerate(rows):
        for k, (arm, kind) in enumerate(zip(one.get("arms", ()), one.get("part", ()), strict=True)):
            arms[i, k], part[i, k] = arm, kind
    return Envelope(arms, part)


def beliefs_from(states: Sequence[DriftState]) -> Belief:
    """What states keep, as one belief of all of them; nan in the position where there is none."""

    def column(name: str) -> Floats:
        rows = [state.belief.get(name) or [None] * 4 for state in states]
        given = [[np.nan if one is None else one for one in row] for row in rows]
        return np.array(given, dtype=float).reshape(-1, 4).T

    def plain_of(name: str) -> Floats:
        return np.array([state.belief.get(name) or 0.0 for state in states], dtype=float)

    return Belief(
        **{name: column(name) for name in BELIEF},
        jumps_per_year=plain_of("jumps_per_year"),
        legs=np.array([state.legs for state in states], dtype=np.int64),
        longest=plain_of("longest"),
    )
