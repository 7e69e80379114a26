"""Drift of a whole fleet, as the night computes it: a part of the couplings at a time, so that memory stays flat."""

from __future__ import annotations

import time
from dataclasses import fields, replace

import numpy as np

from inspections.forecasting.calibration import LONGEST, PRIOR, SHORTEST
from inspections.forecasting.fleets import AS_MODELLED, History, history, limits_of, truth
from inspections.forecasting.forecast import within_risk
from inspections.forecasting.groups import SAMPLE, fit_group
from inspections.forecasting.legs import Legs, Standing
from inspections.forecasting.parameters import at_couplings
from inspections.forecasting.passage import draws, exceedance
from inspections.forecasting.posterior import fleet_beliefs
from inspections.management.benchmarks.measuring import Figure, in_a_process, timed

LEGS = 5
PART = 2_000
RISK = 0.02
PATHS = 512
SINGLES = 50


def figures(couplings: int, runs: int, seed: int) -> list[Figure]:
    """Fit on a sample, beliefs and dates of a fleet with five legs each, and the same for one coupling alone.

    Parameters
    ----------
    couplings : int
    runs : int
        The median is taken of so many, each on a fleet of its own.
    seed : int
    """
    found: list[tuple[list[tuple[str, float]], float]] = [
        in_a_process(fleet_seconds, couplings, seed + run) for run in range(runs)
    ]
    peak = max(each for _, each in found)
    rows = []
    one = dict(one_seconds(seed, max(3, runs)))
    for place, (job, _) in enumerate(found[0][0]):
        seconds = float(np.median([steps[place][1] for steps, _ in found]))
        each = seconds / couplings
        alone = one.get(job)
        rows.append(
            Figure(
                job, couplings, seconds, each * 1e6, peak,
                "the same for one coupling alone" if alone else "", each / alone if alone else None,
            )
        )  # fmt: skip
    rows += [Figure(f"{job}, one coupling alone", 1, seconds, seconds * 1e6, None) for job, seconds in one.items()]
    return rows


def fleet_seconds(couplings: int, seed: int) -> list[tuple[str, float]]:
    """Seconds of each step for a fleet, a part at a time; making the fleet is not counted."""
    beliefs_s = dates_s = 0.0
    shared = draws(PATHS)
    # The weekly fit looks at a sample: its cost does not grow with the fleet.
    many = min(SAMPLE, couplings)
    sample = _legs_of(many, seed * 10_000 + 5_000)
    began = time.perf_counter()
    fit = fit_group(sample, PRIOR, limits_of(many), by_hours=False)
    fit_s = time.perf_counter() - began
    del sample
    for number, begin in enumerate(range(0, couplings, PART)):
        past = fleet_of(min(PART, couplings - begin), seed * 10_000 + number)
        n = len(past.standing.day)
        began = time.perf_counter()
        belief, _, _ = fleet_beliefs(past.legs, past.standing, at_couplings([fit], np.zeros(n, np.int64)), limits_of(n))
        beliefs_s += time.perf_counter() - began
        began = time.perf_counter()
        times, chance = exceedance(belief, limits_of(n), np.full(n, LONGEST), shared)
        within_risk(times, chance, RISK, SHORTEST, LONGEST)
        dates_s += time.perf_counter() - began
    return [("fit of the group", fit_s), ("beliefs", beliefs_s), ("dates", dates_s)]


def one_seconds(seed: int, runs: int) -> list[tuple[str, float]]:
    """Seconds for one coupling, as when a visit is signed: the mean of some, the median of the runs."""
    past = fleet_of(SINGLES, seed)
    fit = fit_group(past.legs, PRIOR, limits_of(SINGLES), by_hours=False)
    parameters, limits, shared = at_couplings([fit], np.zeros(1, np.int64)), limits_of(1), draws(PATHS)
    each = [_only(past, place) for place in range(SINGLES)]
    beliefs = [fleet_beliefs(legs, standing, parameters, limits)[0] for legs, standing in each]

    def believe() -> None:
        for legs, standing in each:
            fleet_beliefs(legs, standing, parameters, limits)

    def date() -> None:
        for belief in beliefs:
            times, chance = exceedance(belief, limits, np.full(1, LONGEST), shared)
            within_risk(times, chance, RISK, SHORTEST, LONGEST)

    return [("beliefs", timed(believe, runs) / SINGLES), ("dates", timed(date, runs) / SINGLES)]


def fleet_of(couplings: int, seed: int) -> History:
    """An invented fleet of `fleets`, every coupling with five legs."""
    rng = np.random.default_rng(seed)
    return history(truth(AS_MODELLED, couplings, 10.0, rng), rng, least=LEGS, most=LEGS)


def _legs_of(couplings: int, seed: int) -> Legs:
    """Legs of a fleet made in parts: the making would otherwise need more memory than what is measured."""
    parts = []
    for begin in range(0, couplings, PART):
        legs = fleet_of(min(PART, couplings - begin), seed + begin).legs
        parts.append(replace(legs, coupling=legs.coupling + begin))
    return Legs(**{one.name: np.concatenate([getattr(part, one.name) for part in parts]) for one in fields(Legs)})


def _only(past: History, place: int) -> tuple[Legs, Standing]:
    rows = np.flatnonzero(past.legs.coupling == place)
    legs = past.legs.taken(rows)
    standing = Standing(*(getattr(past.standing, one.name)[[place]] for one in fields(Standing)))
    return replace(legs, coupling=np.zeros(len(rows), np.int64)), standing
