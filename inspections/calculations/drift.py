"""`drift`: what a coupling did between visits, to its rate, what it will be in time, and when a risk is reached.

legs [{elapsed, left, found}]  in order of time; a position is {offset, angularity}, each {vertical, horizontal}, both
                               seen as the record does and less the target; a plane that was not read is left out.
                               Without `left` nothing was moved: the leg starts where the one before was found
left                           where it was left last; without it as the last leg found it
standard_uncertainty           {offset, angularity} of every reading
limits {offset, angularity}    of the resultants
risk                           of being out by the next check, starter 0.02
shortest, longest              of the interval; starters 30 days and 5 years
group {rate, wander}           what such couplings do, each {offset, angularity}: standard deviation of rates in a year,
                               and of what wanders in a year; without it a weak prior from the limits and the legs
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from couplings.calculations.request import Request
from inspections.calculations.drift_form import FORM
from inspections.forecasting.drift import clock_years
from inspections.forecasting.envelope import round_limits
from inspections.forecasting.forecast import chance_by, straight_line, straight_rates, tolerance_used
from inspections.forecasting.groups import fit_group, weak_prior
from inspections.forecasting.legs import YEAR_DAYS, Legs, Standing
from inspections.forecasting.outlook import HORIZON_YEARS, next_check, outlook
from inspections.forecasting.parameters import GroupFit, at_couplings
from inspections.forecasting.passage import draws
from inspections.forecasting.posterior import Belief, fleet_beliefs
from plant import units
from plant.calculations import Calculation
from plant.drawings.curve import Curve, curve_plot

LEGS_AT_MOST, PATHS = 60, 2048
FAR = {"gap": (25.0, "This is more than 25 mm: is the unit right?"), "slope": (100.0, "Is the unit right?")}
LONG = (50 * YEAR_DAYS * 24, "This is longer than fifty years: is the unit right?")
COMPONENTS = (
    ("offset", "vertical", "gap"), ("offset", "horizontal", "gap"),
    ("angularity", "vertical", "slope"), ("angularity", "horizontal", "slope"),
)  # fmt: skip
NAMES = ("vertical offset", "horizontal offset", "vertical angularity", "horizontal angularity")
AHEAD = (0.25, 0.5, 1.0, 1.5, 2.0, 3.0)
Four = tuple[float, float, float, float]


@dataclass(frozen=True)
class DriftRequest:
    """[mm, mm, mrad, mrad], [day]; nan where a plane was not read."""

    days: tuple[float, ...]
    left: tuple[Four | None, ...]
    found: tuple[Four, ...]
    standing: Four | None
    u: tuple[float, float]
    limits: tuple[float, float]
    risk: float
    shortest: float
    longest: float
    rate: tuple[float, float] | None
    wander: tuple[float, float] | None


@dataclass(frozen=True, eq=False)
class DriftResult:
    """What is believed and what follows. `ahead`: years, middle, low, high of the tolerance used, chance. [1], [day]"""

    request: DriftRequest
    belief: Belief
    fit: GroupFit
    ahead: tuple[tuple[float, float, float, float, float], ...]
    due_days: float
    due_by: str
    straight_days: float
    jumps: tuple[tuple[int, float, str], ...]
    extrapolated: bool


def read_drift(payload: Mapping[str, Any]) -> DriftRequest:
    """Read the request; raises Refused with every error by field path."""
    request = Request(payload)
    days: list[float] = []
    left: list[Four | None] = []
    found: list[Four] = []
    for number, row in enumerate(
        request.rows("legs", LEGS_AT_MOST, "Give at least one leg: left, found, and the time.")
    ):
        elapsed = row.quantity("elapsed", "hours", "Give the time between the two.", above=0, within=LONG)
        start = _position(row, "left", "")
        if number == 0 and not row.has("left"):
            row.refuse("left", "The first leg needs the position in which it was left.")
        end = _position(row, "found", "Give the position in which it was found.")
        row.finish()
        days.append((elapsed or 24.0) / 24.0)
        left.append(start)
        found.append(end or (math.nan,) * 4)
    standing = _position(request, "left", "")
    u = _pair(request, "standard_uncertainty", "Give the standard uncertainty of a reading.")
    limits = _pair(request, "limits", "Give the limits.")
    risk = request.number("risk")
    if risk is not None and not 0.001 <= risk <= 0.5:
        request.refuse("risk", "A probability between 0.001 and 0.5 is expected, such as 0.02.")
    shortest = request.quantity("shortest", "hours", above=0, within=LONG)
    longest = request.quantity("longest", "hours", above=0, within=LONG)
    if shortest is not None and longest is not None and shortest > longest:
        request.refuse("longest", "The longest interval must not be shorter than the shortest.")
    rate = wander = None
    group = request.part("group")
    if group is not None:
        rate = _pair(group, "rate", "Give how much rates of such couplings differ.")
        wander = _pair(group, "wander", "Give how far such couplings wander in a year.")
        group.finish()
    request.finish()
    request.raise_errors()
    assert u is not None  # missing ones have been refused
    assert limits is not None
    most = (longest or HORIZON_YEARS * YEAR_DAYS * 24) / 24
    least = min((shortest or 30 * 24.0) / 24, most)
    return DriftRequest(
        tuple(days), tuple(left), tuple(found), standing, u, limits, 0.02 if risk is None else risk, least, most, rate,
        wander,
    )  # fmt: skip


def _position(request: Request, key: str, missing: str) -> Four | None:
    part = request.part(key, missing)
    if part is None:
        return None
    values: dict[tuple[str, str], float] = {}
    for name in ("offset", "angularity"):
        inner = part.part(name)
        if inner is None:
            continue
        for plane in ("vertical", "horizontal"):
            kind = "gap" if name == "offset" else "slope"
            value = inner.quantity(plane, kind, within=FAR[kind])
            if value is not None:
                values[name, plane] = value
        inner.finish()
    part.finish()
    if not values:
        part.refuse("", "Give at least one component of this position.")
        return None
    vv, vh, sv, sh = (values.get((name, plane), math.nan) for name, plane, _kind in COMPONENTS)
    return vv, vh, sv, sh


def _pair(request: Request, key: str, missing: str) -> tuple[float, float] | None:
    part = request.part(key, missing)
    if part is None:
        return None
    offset = part.quantity("offset", "gap", "Give it for the offset.", above=0, within=FAR["gap"])
    slope = part.quantity("angularity", "slope", "Give it for the angularity.", above=0, within=FAR["slope"])
    part.finish()
    if offset is not None and slope is not None and min(offset, slope) < 1e-6:
        part.refuse("", "No reading and no limit is as fine as this: is the unit right?")
    return (offset or 1.0, slope or 1.0)


def compute_drift(asked: DriftRequest) -> DriftResult:
    """The belief from all legs, the forecast and the date."""
    legs, standing = _laid(asked)
    limits = round_limits(np.array([asked.limits[0]]), np.array([asked.limits[1]]))
    prior = weak_prior(*asked.limits)
    if asked.rate is not None and asked.wander is not None:
        four = lambda pair: (pair[0] ** 2, pair[0] ** 2, pair[1] ** 2, pair[1] ** 2)  # noqa: E731
        jump = tuple(one**2 for one in prior.jump)
        fit = GroupFit(
            (0.0,) * 4, (0.0,) * 4, four(asked.rate), four(asked.wander), prior.jumps_per_year, jump,
        )  # fmt: skip
    else:
        fit = fit_group(legs, prior, limits, by_hours=False)
    parameters = at_couplings([fit], [0])
    belief, evidence, _state = fleet_beliefs(legs, standing, parameters, limits)
    years = clock_years(legs, np.zeros(len(legs), dtype=bool))
    shared = draws(PATHS)
    seen = outlook(belief, limits, legs, years, 1.0, shared)
    due, by = next_check(seen.days[0], seen.chance[0], asked.risk, asked.shortest, asked.longest)
    noise = np.array([[asked.u[0] ** 2], [asked.u[0] ** 2], [asked.u[1] ** 2], [asked.u[1] ** 2]])
    ahead = []
    for one in AHEAD:
        middle, low, high = (float(x) for x in tolerance_used(belief, limits, np.array([one]), shared, noise)[0])
        chance = float(chance_by(seen.days, seen.chance, np.array([one * YEAR_DAYS]))[0])
        ahead.append((one, middle, low, high, chance))
    straight = straight_line(belief.position, straight_rates(legs, years, 1), limits)
    jumps = tuple(
        (int(row), float(evidence.probability[row]), NAMES[int(evidence.largest[row])])
        for row in np.flatnonzero(evidence.flagged)
    )
    longest = max(asked.days)
    return DriftResult(
        asked, belief, fit, tuple(ahead), due, by, float(straight[0]) * YEAR_DAYS, jumps, due > 2 * longest
    )  # fmt: skip


def _laid(asked: DriftRequest) -> tuple[Legs, Standing]:
    """The rooms' rows: one coupling, legs end to end."""
    n = len(asked.days)
    variance = np.broadcast_to([asked.u[0] ** 2] * 2 + [asked.u[1] ** 2] * 2, (n, 4)).copy()
    shared = np.array([one is None for one in asked.left])
    start = np.array([asked.found[k - 1] if one is None else one for k, one in enumerate(asked.left)], dtype=float)
    index = np.arange(n)
    legs = Legs(
        np.zeros(n, dtype=np.int64), np.array(asked.days), np.full(n, np.nan), start, np.array(asked.found), variance,
        variance.copy(), shared, np.zeros((n, 4)), index, index + 1,
    )  # fmt: skip
    carried = asked.standing is None
    last = asked.found[-1] if asked.standing is None else asked.standing
    return legs, Standing(
        np.array([last], dtype=float), variance[:1].copy(), np.zeros(1), np.full(1, np.nan), np.array([carried])
    )  # fmt: skip


def answer_drift(result: DriftResult, system: str) -> dict[str, Any]:
    """The answer of `POST /api/v1/calculations/drift/`; null for what the legs do not say."""
    belief, asked = result.belief, result.request

    def of(values: Any) -> dict[str, dict[str, Any]]:
        made: dict[str, dict[str, Any]] = {"offset": {}, "angularity": {}}
        for k, (name, plane, kind) in enumerate(COMPONENTS):
            value = float(values[k])
            made[name][plane] = units.quantity(value, kind, system) if math.isfinite(value) else None
        return made

    return {
        "rate_per_year": of(belief.rate[:, 0]),
        "rate_spread_per_year": of(np.sqrt(belief.rate_variance[:, 0])),
        "own_weight": {
            "offset": [_finite(one) for one in belief.own[:2, 0]],
            "angularity": [_finite(one) for one in belief.own[2:, 0]],
        },
        "forecast": [
            {
                "after": units.quantity(years * YEAR_DAYS * 24, "hours", system), "tolerance_used": _finite(middle),
                "low": _finite(low), "high": _finite(high), "chance_out": _finite(chance),
            }
            for years, middle, low, high, chance in result.ahead
        ],
        "risk": asked.risk,
        "due_after": units.quantity(result.due_days * 24, "hours", system) if math.isfinite(result.due_days) else None,
        "due_by": result.due_by,
        "straight_line_after": units.quantity(result.straight_days * 24, "hours", system)
        if math.isfinite(result.straight_days)
        else None,
        "jumps": [{"leg": number, "probability": chance, "component": name} for number, chance, name in result.jumps],
        "extrapolated": result.extrapolated,
        "prior": "group as given" if asked.rate is not None else "weak prior from the limits, and these legs",
        "says": said(result),
    }  # fmt: skip


def _finite(value: float) -> float | None:
    number = float(value)
    return units.without_dust(number) if math.isfinite(number) else None


def said(result: DriftResult) -> str:
    """When to look again and why, in a sentence."""
    days, risk = result.due_days, f"{result.request.risk * 100:g} %"
    if not math.isfinite(days):
        return "How it stands now is not known in both planes, so no date is forecast."
    if result.due_by == "shortest":
        return f"The chance of being out reaches {risk} sooner than the shortest interval of {days:.0f} days."
    if result.due_by == "longest":
        return f"The chance of being out stays below {risk} up to the longest interval of {days:.0f} days."
    return f"Look again within {days:.0f} days: by then the chance of having been out reaches {risk}."


def drawn(result: DriftResult, system: str) -> dict[str, Any]:
    """Plot, sentences and rows of the page."""
    known = [one for one in result.ahead if math.isfinite(one[1])]
    plot = ""
    if known:
        most = max(1.5, min(3.0, max(one[3] for one in known)))
        band = [(years, min(low, most), min(high, most)) for years, _middle, low, high, _chance in known]
        law = [(years, min(middle, most)) for years, middle, _low, _high, _chance in known]
        marks = [(result.due_days / YEAR_DAYS, "next check")] if math.isfinite(result.due_days) else []
        plot = curve_plot(
            Curve(AHEAD[-1], most, (), law, band, marks, [1.0]),
            "Tolerance used over years since it was left; dotted: the limit", said(result),
        )  # fmt: skip
    rates = []
    for k, (name, (_kind, _plane, kind)) in enumerate(zip(NAMES, COMPONENTS, strict=True)):
        rate, spread = float(result.belief.rate[k, 0]), math.sqrt(float(result.belief.rate_variance[k, 0]))
        own = float(result.belief.own[k, 0])
        rates.append((name, units.written(rate, kind, system, signed=True), units.written(spread, kind, system),
                      f"{own:.0%}"))  # fmt: skip
    return {
        "plot": plot,
        "says": said(result),
        "rates": rates,
        "table": [
            (f"{years * 12:g}", f"{middle:.0%}", f"{low:.0%} to {high:.0%}", f"{chance:.1%}")
            for years, middle, low, high, chance in known
        ],
        "jumps": [(number + 1, f"{chance:.2g}", name) for number, chance, name in result.jumps],
        "straight": "" if not math.isfinite(result.straight_days) else f"{result.straight_days:.0f}",
        "prior": "as given" if result.request.rate is not None else "a weak prior from the limits, and these legs",
    }


def _at(v: float, h: float, sv: float, sh: float) -> dict[str, Any]:
    return {
        "offset": {"vertical": {"value": v, "unit": "mm"}, "horizontal": {"value": h, "unit": "mm"}},
        "angularity": {"vertical": {"value": sv, "unit": "mm/m"}, "horizontal": {"value": sh, "unit": "mm/m"}},
    }


DRIFT = Calculation(
    name="drift",
    title="Drift",
    summary="How fast a coupling leaves its alignment between visits, and when to look again at a given risk.",
    reader=read_drift,
    function=compute_drift,
    writer=answer_drift,
    template="inspections/calculations/drift.html",
    form=FORM,
    drawn=drawn,
    example={
        "legs": [
            {"elapsed": {"value": 180, "unit": "day"}, "left": _at(0.01, 0.0, 0.02, 0.0),
             "found": _at(0.03, -0.01, 0.06, 0.02)},
            {"elapsed": {"value": 200, "unit": "day"}, "found": _at(0.05, -0.01, 0.1, 0.03)},
        ],
        "left": _at(0.0, 0.01, 0.01, 0.0),
        "standard_uncertainty": {
            "offset": {"value": 0.006, "unit": "mm"}, "angularity": {"value": 0.02, "unit": "mm/m"},
        },
        "limits": {"offset": {"value": 0.075, "unit": "mm"}, "angularity": {"value": 0.3, "unit": "mm/m"}},
        "risk": 0.02,
    },
)  # fmt: skip
