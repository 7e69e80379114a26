"""When a drifting position first leaves its limits: closed form for one component, shared draws for vector limits.

The draws are the same for every coupling and every day, so that dates move only when what is known moves: points of a
scrambled Sobol sequence with a fixed seed, the paths built from their ends inwards, where one more point counts most.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from inspections.forecasting.envelope import ANGLE, OFFSET, Envelope
from inspections.forecasting.legs import Floats, ForecastError
from inspections.forecasting.posterior import Belief

STEPS = 20
NIGHTLY, ON_SCREEN = 256, 2048  # paths; powers of two keep the points balanced
SEED = 20240229
AT_ONCE = 200_000  # numbers per array, so that a chunk stays in the processor's cache

Singles = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Draws:
    """Standard normals and times that every coupling shares.

    `start`, `rate`, `jump` (4, p); `path` (steps, 4, p): a Wiener process at `at` (steps,), shares of the time ahead, 1
    at the last; `when` (p,): share at which a jump falls. [1]
    """

    start: Singles
    rate: Singles
    jump: Singles
    path: Singles
    when: Singles
    at: Floats

    @property
    def paths(self) -> int:
        return len(self.when)


def first_passage(distance: ArrayLike, rate: ArrayLike, rate_variance: ArrayLike, q: ArrayLike, t: ArrayLike) -> Floats:
    """Probability that one component has reached a distance by a time.

    Parameters
    ----------
    distance : array_like
        To the limit, above zero. [mm] or [mrad]
    rate, rate_variance : array_like
        Towards the limit, normal. [mm/year] or [mrad/year] and square
    q : array_like
        Diffusion, at least 0. [mm^2/year] or [mrad^2/year]
    t : array_like
        Above zero. [year]

    Returns
    -------
    ndarray
        ``Phi((v t - d)/s) + exp(2 v d/q + 2 V d^2/q^2) Phi(-(2 V d t + q (v t + d))/(q s))``, ``s^2 = q t + V t^2``;
        without diffusion the first part alone.

    Raises
    ------
    ForecastError
        A distance or time that is not above zero, a variance or diffusion below zero.

    References
    ----------
    Inverse Gaussian law (V = 0): J. L. Folks and R. S. Chhikara 1978; with a normal rate: G. A. Whitmore 1986 (both
    from memory; tests compare with quadrature and with scipy's law).
    """
    d, v, spread, q, t = np.broadcast_arrays(
        *(np.asarray(one, dtype=float) for one in (distance, rate, rate_variance, q, t))
    )
    if not ((d > 0).all() and (t > 0).all() and (spread >= 0).all() and (q >= 0).all()):
        raise ForecastError("distance", "Distance and time must be above zero, variances at least zero.")
    s = np.maximum(np.sqrt(q * t + spread * t**2), 1e-300)
    direct = special.ndtr((v * t - d) / s)
    some = q > 1e-9 * d**2 / t
    safe = np.where(some, q, 1.0)
    # In logarithms: the factor overflows where the other vanishes.
    returned = 2 * v * d / safe + 2 * spread * d**2 / safe**2
    returned = returned + special.log_ndtr(-(2 * spread * d * t + safe * (v * t + d)) / (safe * s))
    return np.asarray(np.clip(direct + np.where(some, np.exp(np.minimum(returned, 0.0)), 0.0), 0.0, 1.0))


@lru_cache(maxsize=4)
def draws(paths: int = NIGHTLY, steps: int = STEPS, seed: int = SEED) -> Draws:
    """The shared draws.

    Parameters
    ----------
    paths : int
        A power of two.
    steps : int
        Closer together at the beginning, where short intervals are decided.
    seed : int

    Returns
    -------
    Draws

    Raises
    ------
    ForecastError
        A number of paths that is not a power of two.

    References
    ----------
    Scrambled Sobol points (scipy.stats.qmc) and the Brownian bridge construction, R. E. Caflisch 1998 (from memory).
    """
    if paths < 2 or paths & (paths - 1):
        raise ForecastError("paths", "The number of paths must be a power of two.")
    # scipy.stats takes half a second to import; only a process that forecasts needs it.
    from scipy.stats import qmc

    sobol = qmc.Sobol(17 + 4 * (steps - 1), scramble=True, rng=np.random.default_rng(seed))
    points = np.clip(sobol.random(paths), 1e-9, 1 - 1e-9).T
    normal = special.ndtri(points)
    at = (np.arange(1, steps + 1) / steps) ** 1.5
    path = np.zeros((steps + 1, 4, paths))
    path[steps] = normal[4:8]
    times = np.append(0.0, at)
    spare = normal[17:].reshape(steps - 1, 4, paths)
    gaps, used = [(0, steps)], 0
    while gaps:
        first, last = gaps.pop(0)
        if last - first < 2:
            continue
        middle = (first + last) // 2
        before, after = times[middle] - times[first], times[last] - times[middle]
        share = before / (before + after)
        path[middle] = path[first] + share * (path[last] - path[first]) + np.sqrt(share * after) * spare[used]
        used += 1
        gaps += [(first, middle), (middle, last)]
    single = np.float32
    return Draws(
        normal[8:12].astype(single), normal[0:4].astype(single), normal[12:16].astype(single),
        path[1:].astype(single), points[16].astype(single), at,
    )  # fmt: skip


def exceedance(belief: Belief, limits: Envelope, ahead_years: Floats, shared: Draws) -> tuple[Floats, Floats]:
    """Probability that each coupling has been outside its limits at any time since it was left.

    Parameters
    ----------
    belief : Belief
        n couplings.
    limits : Envelope
        Of the same.
    ahead_years : ndarray, shape (n,)
        How far to look, on the clock of each coupling's group. [year]
    shared : Draws

    Returns
    -------
    times : ndarray, shape (n, steps + 1)
        From 0 on. [year]
    probability : ndarray, shape (n, steps + 1)
        Never falling; nan where the position is not known or there are no limits.

    References
    ----------
    Shared-draw Monte Carlo over start, rate and path; between two times the Brownian bridge's probability of touching
    the limit, taken as straight where the path is nearest (common practice); one jump at most on the way, weighted by
    its Poisson probability. Tests compare with the closed form and with brute force.
    """
    n = len(belief)
    times = np.concatenate([np.zeros((n, 1)), ahead_years[:, None] * shared.at], axis=1)
    probability = np.full(times.shape, np.nan)
    given = np.isfinite(np.where(_needed(limits), belief.position, 0.0)).all(axis=0) & limits.known
    which = np.flatnonzero(given & np.isfinite(ahead_years) & (ahead_years > 0))
    size = max(1, AT_ONCE // shared.paths)
    for begin in range(0, len(which), size):
        part = which[begin : begin + size]
        probability[part] = _chunk(belief.taken(part), limits.taken(part), ahead_years[part], shared)
    return times, np.maximum.accumulate(probability, axis=1)


def _needed(limits: Envelope) -> NDArray[np.bool_]:
    return np.asarray((limits.arms != 0).any(axis=1).T)


def _chunk(belief: Belief, limits: Envelope, ahead_years: Floats, shared: Draws) -> Floats:
    n, p = len(belief), shared.paths
    wide = np.nan_to_num(np.sqrt(belief.position_variance))
    tie = np.where(wide > 0, belief.together / np.where(wide > 0, wide, 1.0), 0.0)
    free = np.sqrt(np.maximum(belief.rate_variance - tie**2, 0.0))
    start = _column(np.nan_to_num(belief.position)) + _column(wide) * shared.start[:, None, :]
    rate = _column(belief.rate) + _column(tie) * shared.start[:, None, :] + _column(free) * shared.rate[:, None, :]
    rate *= ahead_years.astype(np.float32)[:, None]
    spread = _column(np.sqrt(belief.diffusion * ahead_years))
    leap = _column(np.sqrt(belief.jump_variance)) * shared.jump[:, None, :]
    rows = _rows(limits, belief.diffusion * ahead_years)
    alive = np.ones((2, n, p), dtype=np.float32)
    before = _bearing(rows, start)
    outside = _outside(rows, before)
    alive[:, outside] = 0.0
    result = np.empty((n, len(shared.at) + 1))
    result[:, 0] = outside.mean(axis=1)
    befores = [before, before]
    calm = np.exp(-belief.jumps_per_year[:, None] * ahead_years[:, None] * shared.at)
    jumping = bool((belief.jumps_per_year > 0).any())
    last = 0.0
    for k, at in enumerate(shared.at):
        now = start + rate * np.float32(at) + spread * shared.path[k][:, None, :]
        jumped = shared.when <= at
        for variant in (0, 1) if jumping else (0,):
            position = now + leap * jumped if variant else now
            bearing = _bearing(rows, position)
            # A jump is a step, not a path: no bridge over it.
            bridged = np.ones(p, dtype=bool) if not variant else ~(jumped & (shared.when > last))
            alive[variant] *= _kept(rows, befores[variant], bearing, np.float32(at - last), bridged)
            befores[variant] = bearing
        # In double precision a sum of single numbers is exact, so it does not matter who shares the chunk.
        quiet = alive[0].mean(axis=1, dtype=np.float64)
        share = jumped.sum()
        struck = alive[1][:, jumped].mean(axis=1, dtype=np.float64) if jumping and share else quiet
        result[:, k + 1] = 1 - calm[:, k] * quiet - (1 - calm[:, k]) * struck
        last = float(at)
    return result


@dataclass(frozen=True, eq=False)
class _Row:
    arms: tuple[Singles | None, ...]
    spread: tuple[Singles, Singles]  # of the two parts over the whole time ahead
    part: NDArray[np.int64]


def _column(values: Floats) -> Singles:
    return np.asarray(values, dtype=np.float32)[:, :, None]


def _rows(limits: Envelope, spread: Floats) -> list[_Row]:
    rows = []
    for k in range(limits.arms.shape[1]):
        arms = limits.arms[:, k]
        if not arms.any():
            continue
        weighed = np.square(arms) * spread.T
        rows.append(
            _Row(
                tuple(arms[:, c, None].astype(np.float32) if arms[:, c].any() else None for c in range(4)),
                (
                    (weighed[:, 0] + weighed[:, 2])[:, None].astype(np.float32),
                    (weighed[:, 1] + weighed[:, 3])[:, None].astype(np.float32),
                ),
                limits.part[:, k],
            )
        )
    return rows


Bearing = list[tuple[Singles, Singles, Singles]]


def _bearing(rows: list[_Row], position: Singles) -> Bearing:
    """Vertical part, horizontal part and length of every limit's row."""
    found = []
    for row in rows:
        up, across = _sum(row, position, (0, 2)), _sum(row, position, (1, 3))
        found.append((up, across, np.sqrt(up * up + across * across)))
    return found


def _sum(row: _Row, position: Singles, which: tuple[int, int]) -> Singles:
    parts = [arm * position[c] for c in which if (arm := row.arms[c]) is not None]
    if not parts:
        return np.zeros(position.shape[1:], dtype=np.float32)
    return parts[0] if len(parts) == 1 else parts[0] + parts[1]


def _totals(rows: list[_Row], bearing: Bearing) -> Singles | None:
    """Sum of the largest offset and the largest angle ratio, where a data sheet wants it."""
    if not any((row.part > 0).any() for row in rows):
        return None
    largest = [
        np.max(
            [np.where((row.part == kind)[:, None], one[2], 0.0) for row, one in zip(rows, bearing, strict=True)], axis=0
        )
        for kind in (OFFSET, ANGLE)
    ]
    return np.asarray(largest[0] + largest[1], dtype=np.float32)


def _outside(rows: list[_Row], bearing: Bearing) -> NDArray[np.bool_]:
    out = np.zeros(bearing[0][2].shape, dtype=bool)
    for _up, _across, length in bearing:
        out |= length > 1
    total = _totals(rows, bearing)
    return out if total is None else out | (total > 1)


def _kept(rows: list[_Row], before: Bearing, now: Bearing, lasted: np.float32, bridged: NDArray[np.bool_]) -> Singles:
    """Probability that no limit was touched between two times, given the position at both."""
    kept = np.ones(now[0][2].shape, dtype=np.float32)
    for row, (up0, across0, length0), (up, across, length) in zip(rows, before, now, strict=True):
        up2, across2 = np.square(up0 + up), np.square(across0 + across)
        spread = (up2 * row.spread[0] + across2 * row.spread[1]) / (up2 + across2 + np.float32(1e-12))
        room = np.maximum(1 - length0, 0) * np.maximum(1 - length, 0)
        touched = np.exp(-2 * room / (spread * lasted + np.float32(1e-12)))
        kept *= np.where(length > 1, np.float32(0), np.where(bridged, 1 - touched, np.float32(1)))
    total = _totals(rows, now)
    return kept if total is None else kept * (total <= 1)
