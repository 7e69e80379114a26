"""Invented fleets whose truth is known, to try the forecasts on.

CONSTRUCTED: the numbers say how ways of deciding compare, not how real trains move. A limit of 0.075 mm on the offset
and 0.075 mrad on the slope, rates and diffusion that use it up in two to four years, readings good to 0.006.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from inspections.forecasting.envelope import Envelope, round_limits, used
from inspections.forecasting.legs import Bools, Floats, ForecastError, Ints, Legs, Standing, legs_of, surveys

AS_MODELLED, JUMPS, UNEQUAL, SETTLING, SEASONAL = "as modelled", "jumps", "unequal diffusion", "settling", "seasonal"
KINDS = (AS_MODELLED, JUMPS, UNEQUAL, SETTLING, SEASONAL)
LIMIT = 0.075  # [mm] and [mrad]
READING_U = 0.006
RATE_SD = np.array([0.018, 0.015, 0.012, 0.010])  # [mm/year, mrad/year]
DIFFUSION = np.array([1.44e-4, 1.0e-4, 0.64e-4, 0.49e-4])  # [mm^2/year, mrad^2/year]
JUMPS_PER_YEAR, JUMP = 0.05, 0.06
UNEQUAL_LOG_SD = 0.8
SETTLING_YEARS = 2.0
SEASON = 0.012
LEFT_SD = 0.01  # how near to the target a crew leaves a train


@dataclass(frozen=True, eq=False)
class Truth:
    """What n trains do by themselves, on a grid of times from 0.

    `free` (n, steps + 1, 4): position less where it began, nobody touching it [mm, mm, mrad, mrad]; `step` of the grid
    [year].
    """

    free: Floats
    step: float

    def __len__(self) -> int:
        return len(self.free)


def truth(kind: str, trains: int, years: float, rng: np.random.Generator, *, pace: float = 1.0) -> Truth:
    """Draw what a fleet does by itself.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    trains : int
    years : float
        [year]
    rng : numpy Generator
    pace : float
        Rates and diffusion as a share of the usual: a slow fleet. [1]

    Returns
    -------
    Truth
        In steps of a fiftieth of a year.

    Raises
    ------
    ForecastError
        An unknown kind.

    References
    ----------
    Our own construction.
    """
    if kind not in KINDS:
        raise ForecastError("kind", f"Choose among: {', '.join(KINDS)}.")
    step = 0.02
    steps = round(years / step)
    times = np.arange(steps + 1) * step
    rate = rng.normal(size=(trains, 4)) * RATE_SD * pace
    diffusion = np.broadcast_to(DIFFUSION * pace, (trains, 4))
    if kind == UNEQUAL:
        # The mean over trains stays what it is, so that fleets can be compared.
        factor = np.exp(UNEQUAL_LOG_SD * rng.normal(size=(trains, 1)) - UNEQUAL_LOG_SD**2 / 2)
        diffusion = diffusion * factor
    walk = rng.normal(size=(trains, steps, 4)) * np.sqrt(diffusion * step)[:, None]
    if kind == JUMPS:
        struck = rng.random((trains, steps)) < JUMPS_PER_YEAR * step
        walk += struck[..., None] * rng.normal(size=(trains, steps, 4)) * JUMP
    ran = SETTLING_YEARS * -np.expm1(-times / SETTLING_YEARS) if kind == SETTLING else times
    free = rate[:, None] * ran[:, None] + np.concatenate([np.zeros((trains, 1, 4)), walk.cumsum(axis=1)], axis=1)
    if kind == SEASONAL:
        phase = rng.uniform(0, 2 * np.pi, trains)[:, None]
        free[:, :, 0] += SEASON * np.sin(2 * np.pi * times + phase)
    return Truth(free, step)


@dataclass(frozen=True, eq=False)
class History:
    """What was recorded of a fleet, and the next survey nobody has taken yet.

    `legs`, `standing` of n trains; `left` (n, 4) where each truly stands, `left_at` (n,) when, as places of the grid;
    `next_at` (n,) when it is looked at next, `next_reading` (n, 4) what will be read. [mm, mm, mrad, mrad]
    """

    legs: Legs
    standing: Standing
    left: Floats
    left_at: Ints
    next_at: Ints
    next_reading: Floats


def limits_of(trains: int) -> Envelope:
    """The limits of an invented fleet.

    Parameters
    ----------
    trains : int

    Returns
    -------
    Envelope

    References
    ----------
    Our own construction.
    """
    return round_limits(np.full(trains, LIMIT), np.full(trains, LIMIT))


def history(fleet: Truth, rng: np.random.Generator, *, least: int = 1, most: int = 5, upto: float = 10.0) -> History:
    """Survey a fleet `least` to `most` times after it was set, at uneven times, and leave some trains as found.

    Parameters
    ----------
    fleet : Truth
    rng : numpy Generator
    least, most : int
        Legs of a train, at least and at most.
    upto : float
        All of it, the next survey included, lies before this time. [year]

    Returns
    -------
    History

    References
    ----------
    Our own construction: intervals of a quarter to two years, re-aligned in half of the visits and always from 70 % of
    the tolerance on.
    """
    n, limits = len(fleet), limits_of(len(fleet))
    count = rng.integers(least, most + 1, n)
    last = round(upto / fleet.step)
    intervals = rng.integers(round(0.25 / fleet.step), round(2.0 / fleet.step), (n, most + 1))
    # Train histories end where they end; one that would run over is looked at more often instead.
    total = np.take_along_axis(intervals.cumsum(axis=1), count[:, None], axis=1)
    intervals = np.maximum(1, np.where(total > last, intervals * last // np.maximum(total, 1), intervals))
    now = np.zeros(n, dtype=np.int64)
    left = rng.normal(size=(n, 4)) * LEFT_SD
    rows: list[tuple[Any, ...]] = []

    def note(which: Ints, position: Floats, found: bool, kept: Bools | bool) -> Floats:
        read = position + rng.normal(size=position.shape) * READING_U
        rows.append(
            (
                which,
                now[which] * fleet.step * 365.25,
                read,
                np.full(len(which), found),
                kept & np.ones(len(which), bool),
            )
        )
        return read

    everyone = np.arange(n)
    note(everyone, left, False, True)
    for k in range(most):
        which = np.flatnonzero(count > k)
        later = now[which] + intervals[which, k]
        position = left[which] + fleet.free[which, later] - fleet.free[which, now[which]]
        now[which] = later
        moved = rng.random(len(which)) < 0.5
        read = note(which, position, True, False)
        moved |= used(limits.taken(which), read) >= 0.7
        rows[-1] = (*rows[-1][:4], ~moved)
        again = which[moved]
        left[which] = position
        left[again] = rng.normal(size=(len(again), 4)) * LEFT_SD
        note(again, left[again], False, True)
        # As left a little after as found, the same day.
        rows[-1] = (rows[-1][0], rows[-1][1] + 0.1, *rows[-1][2:])
    coupling, day, read, found, kept = (np.concatenate(column) for column in zip(*rows, strict=True))
    legs, standing, _ = legs_of(surveys(coupling, day, read, READING_U**2, found, kept), couplings=n)
    next_at = now + intervals[everyone, count]
    position = left + fleet.free[everyone, next_at] - fleet.free[everyone, now]
    return History(legs, standing, left, now, next_at, position + rng.normal(size=(n, 4)) * READING_U)
