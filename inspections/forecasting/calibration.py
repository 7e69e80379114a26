"""How honest the intervals are, and how many checks they save: the forecasts tried on invented fleets.

Coverage: does the 90 % interval of the next reading hold 90 % of the next readings. Checks: what share of limit
crossings is caught by re-aligning first, and how many checks a train costs a year, against fixed intervals and a
straight line, on the same paths.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspections.forecasting.drift import clock_years
from inspections.forecasting.envelope import Envelope, used
from inspections.forecasting.fleets import LEFT_SD, LIMIT, READING_U, History, Truth, history, limits_of, truth
from inspections.forecasting.forecast import straight_line, straight_rates, tolerance_used, within_risk
from inspections.forecasting.groups import GroupFit, fit_group, weak_prior
from inspections.forecasting.legs import Bools, Floats, Ints, Legs, Standing
from inspections.forecasting.parameters import Parameters, at_couplings
from inspections.forecasting.passage import draws, exceedance
from inspections.forecasting.posterior import fleet_beliefs, interval

SHARE = 0.9
REALIGN_AT = 0.7
SHORTEST, LONGEST = 0.1, 4.0  # [year]
PRIOR = weak_prior(LIMIT, LIMIT)


@dataclass(frozen=True)
class Coverage:
    """Share of next readings inside the 90 % interval: of the components and of the tolerance used, `width` the mean
    width of a component's interval as a share of the limit [1], over so many `fleets` of so many `trains`."""

    kind: str
    trains: int
    fleets: int
    components: float
    tolerance_used: float
    width: float
    flagged: float


@dataclass(frozen=True)
class Watch:
    """What one rule for the next check did: share of crossings `caught`, `checks` per train and year. [1], [1/year]"""

    kind: str
    rule: str
    caught: float
    checks: float
    crossings: int


def coverage(kind: str, trains: int, fleets: int, seed: int) -> Coverage:
    """Try the intervals on fleets of one kind and size.

    Parameters
    ----------
    kind : str
        One of `fleets.KINDS`.
    trains, fleets : int
        Size of a fleet, and how many of them.
    seed : int

    Returns
    -------
    Coverage

    References
    ----------
    Our own construction; nothing of the fleet but its records goes into the forecast.
    """
    hits, inside, widths, flags, shared = [], [], [], [], draws(512)
    for number in range(fleets):
        rng = np.random.default_rng([seed, trains, number])
        fleet = truth(kind, trains, 10.0, rng)
        past = history(fleet, rng)
        limits = limits_of(trains)
        fit = fit_group(past.legs, PRIOR, limits, by_hours=False)
        parameters = at_couplings([fit], np.zeros(trains, dtype=np.int64))
        belief, evidence, _ = fleet_beliefs(past.legs, past.standing, parameters, limits)
        years = np.asarray((past.next_at - past.left_at) * fleet.step, dtype=float)
        low, high = interval(belief, years, READING_U**2, SHARE)
        hits.append(((low <= past.next_reading.T) & (high >= past.next_reading.T)).ravel())
        widths.append((high - low).ravel() / LIMIT)
        span = tolerance_used(belief, limits, years, shared, READING_U**2, SHARE)
        found = used(limits, past.next_reading)
        inside.append((found >= span[:, 1]) & (found <= span[:, 2]))
        flags.append(evidence.flagged)
    return Coverage(
        kind, trains, fleets, float(np.concatenate(hits).mean()), float(np.concatenate(inside).mean()),
        float(np.concatenate(widths).mean()), float(np.concatenate(flags).mean()),
    )  # fmt: skip


def watched(kind: str, trains: int, seed: int, *, pace: float = 1.0, follow: float = 5.0) -> list[Watch]:
    """Follow one fleet under every rule, on the same paths.

    Parameters
    ----------
    kind : str
    trains : int
    seed : int
    pace : float
        As `fleets.truth`. [1]
    follow : float
        [year]

    Returns
    -------
    list of Watch
        Fixed intervals of 3 to 24 months, the straight line to 70 %, and the forecast at risks of 1 to 10 %.

    References
    ----------
    Our own construction. A crossing is a stretch between two re-alignments that would leave the limits within the time
    followed if nobody touched it; caught, if it was re-aligned first.
    """
    rng = np.random.default_rng([seed, trains])
    past_years = 10.0
    fleet = truth(kind, trains, past_years + follow, rng, pace=pace)
    past = history(fleet, rng, upto=past_years)
    fit = fit_group(past.legs, PRIOR, limits_of(trains), by_hours=False)
    found = []
    rules: list[tuple[str, float]] = [
        *((f"every {months} months", months / 12) for months in (3, 6, 9, 12, 18, 24)),
        ("straight line to 70 %", 0.0),
        *((f"risk {risk:g} %", -risk / 100) for risk in (1, 2, 5, 10)),
    ]
    for name, rule in rules:
        caught, checks, crossings = _follow(fleet, past, fit, rule, follow, np.random.default_rng([seed, 1]))
        found.append(Watch(kind, name, caught, checks, crossings))
    return found


def checks_of_fixed(watches: list[Watch], caught: float) -> float:
    """Checks a fixed interval needs to catch as large a share.

    Parameters
    ----------
    watches : list of Watch
        Of one fleet.
    caught : float
        [1]

    Returns
    -------
    float
        Between the intervals tried, linear; the nearest where it lies outside. [1/year]

    References
    ----------
    Our own construction.
    """
    fixed = sorted((one.caught, one.checks) for one in watches if one.rule.startswith("every"))
    return float(np.interp(caught, [one[0] for one in fixed], [one[1] for one in fixed]))


class _Kept:
    """Legs of a fleet that grow by a check at a time."""

    def __init__(self, legs: Legs) -> None:
        self.parts = [legs]

    def add(self, which: Ints, days: Floats, start: Floats, end: Floats, shared: Bools) -> None:
        n = len(which)
        variance = np.full((n, 4), READING_U**2)
        index = np.zeros(n, dtype=np.int64)
        self.parts.append(
            Legs(
                which, days, np.full(n, np.nan), start, end, variance, variance, shared, np.zeros((n, 4)), index, index
            )
        )

    def of(self, which: Ints, trains: int) -> Legs:
        place = np.full(trains, -1)
        place[which] = np.arange(len(which))
        columns = {name: np.concatenate([getattr(part, name) for part in self.parts]) for name in vars(self.parts[0])}
        rows = np.flatnonzero(place[columns["coupling"]] >= 0)
        columns["coupling"] = place[columns["coupling"]]
        order = rows[np.argsort(columns["coupling"][rows], kind="stable")]
        return Legs(**{name: values[order] for name, values in columns.items()})


def _follow(
    fleet: Truth, past: History, fit: GroupFit, rule: float, follow: float, rng: np.random.Generator
) -> tuple[float, float, int]:
    n, limits = len(fleet), limits_of(len(fleet))
    begin = past.left_at.astype(np.int64)
    end = begin + round(follow / fleet.step)
    left, left_at = past.left.copy(), begin.copy()
    read, carried = past.standing.position.copy(), past.standing.carried.copy()
    read_at = begin.copy()
    kept = _Kept(past.legs)
    parameters = at_couplings([fit], np.zeros(n, dtype=np.int64))
    caught = missed = checks = 0
    out_at = _first_out(fleet, np.arange(n), left, left_at, end)
    counted = np.zeros(n, dtype=bool)
    which = np.arange(n)
    while len(which):
        standing = Standing(
            read[which],
            np.full((len(which), 4), READING_U**2),
            np.zeros(len(which)),
            np.zeros(len(which)),
            carried[which],
        )
        years = _next(kept.of(which, n), standing, parameters.taken(which), limits.taken(which), rule)
        due = read_at[which] + np.maximum(1, np.round(years / fleet.step).astype(np.int64))
        which, due = which[due <= end[which]], due[due <= end[which]]
        if not len(which):
            break
        checks += len(which)
        position = left[which] + fleet.free[which, due] - fleet.free[which, left_at[which]]
        seen = position + rng.normal(size=position.shape) * READING_U
        kept.add(
            which,
            np.asarray((due - read_at[which]) * (fleet.step * 365.25), dtype=float),
            read[which],
            seen,
            carried[which],
        )
        late = (out_at[which] <= due) & ~counted[which]
        missed += int(late.sum())
        counted[which[late]] = True
        again = used(limits.taken(which), seen) >= REALIGN_AT
        caught += int((again & ~counted[which] & (out_at[which] <= end[which])).sum())
        read[which], read_at[which], carried[which] = seen, due, True
        moved = which[again]
        left[moved] = rng.normal(size=(len(moved), 4)) * LEFT_SD
        left_at[moved] = due[again]
        read[moved] = left[moved] + rng.normal(size=(len(moved), 4)) * READING_U
        carried[moved], counted[moved] = False, False
        out_at[moved] = _first_out(fleet, moved, left[moved], left_at[moved], end[moved])
    missed += int(((out_at <= end) & ~counted).sum())
    return caught / max(1, caught + missed), checks / (n * follow), caught + missed


def _first_out(fleet: Truth, which: Ints, left: Floats, left_at: Ints, end: Ints) -> Ints:
    """Place of the grid at which each would first leave its limits if nobody touched it; far beyond if never."""
    position = left[:, None] + fleet.free[which] - fleet.free[which, left_at][:, None]
    out = used(limits_of(len(which)), position) > 1
    place = np.arange(out.shape[1])
    out &= (place >= left_at[:, None]) & (place <= end[:, None])
    return np.where(out.any(axis=1), out.argmax(axis=1), 10**9)


def _next(legs: Legs, standing: Standing, parameters: Parameters, limits: Envelope, rule: float) -> Floats:
    """Years to the next check: a fixed interval above zero, the straight line at zero, minus the risk below."""
    n = len(standing.day)
    if rule > 0:
        return np.full(n, rule)
    if rule == 0:
        rates = straight_rates(legs, clock_years(legs), n)
        return np.clip(straight_line(standing.position.T, rates, limits, REALIGN_AT), SHORTEST, LONGEST)
    belief, _, _ = fleet_beliefs(legs, standing, parameters, limits)
    times, chance = exceedance(belief, limits, np.full(n, LONGEST), draws(512))
    return within_risk(times, chance, -rule, SHORTEST, LONGEST)[0]
