"""Drift as a Wiener process with a rate of its own per component, and what the legs of a coupling say about it.

True position x: dx = v dt + sqrt(q) dW in each component, which are taken as independent; a reading is x + e. The moves
over the legs of a coupling are normal around v dt; legs that share a reading share its error with opposite signs, so
their covariance is a band of one beside the diagonal. It is taken apart leg by leg (the innovations of the two-state
Kalman filter with position and rate), vectorised over the fleet: one step per leg of the coupling that has most.

Arrays have the component first, shape (4, ...), except where a docstring says otherwise. Time is in years of the
group's clock.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from inspections.forecasting.legs import YEAR_DAYS, YEAR_HOURS, Bools, Floats, ForecastError, Ints, Legs

LOG_2PI = float(np.log(2 * np.pi))
LEAST = 1e-15  # [mm^2, mrad^2]; a leg without any spread could not be weighed


@dataclass(frozen=True, eq=False)
class Place:
    """The k-th legs of all couplings that have one: `years` (m,) of the clock, `move`, `noise` (variance of both
    readings and what was added) and `link` (covariance with the leg before: minus the shared reading's) (4, m), [mm,
    mm, mrad, mrad] and squares, `end` the variance of the last reading (4, m), `known` (4, m), `row` (m,) of the legs.
    """

    years: Floats
    move: Floats
    noise: Floats
    link: Floats
    end: Floats
    known: Bools
    row: Ints


@dataclass(frozen=True, eq=False)
class Chains:
    """Legs laid out for the filter: couplings with most legs first, so that every place is a prefix of all."""

    couplings: Ints
    places: tuple[Place, ...]

    def __len__(self) -> int:
        return len(self.couplings)

    def component(self, c: int) -> Chains:
        """One component by itself, its arrays (1, m)."""
        one = slice(c, c + 1)
        return Chains(
            self.couplings,
            tuple(
                Place(
                    leg.years, leg.move[one], leg.noise[one], leg.link[one], leg.end[one], leg.known[one], leg.row
                )
                for leg in self.places
            ),
        )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Filtered:
    """All that the legs of each coupling say, kept from one visit to the next: shape (4, n) unless said.

    Sums over the legs with their covariance S: `tt` = t'S^-1 t, `td` = t'S^-1 d, `dd` = d'S^-1 d, `log` = log det S,
    t in years and d in [mm, mm, mrad, mrad]; `count` of legs known; `pivot`, `move`, `years`: the last leg's variance,
    move and time given those before; `end`: variance of the reading it ended in.
    """

    tt: Floats
    td: Floats
    dd: Floats
    log: Floats
    count: Floats
    pivot: Floats
    move: Floats
    years: Floats
    end: Floats

    def taken(self, which: Ints | Bools) -> Filtered:
        """Some of the couplings."""
        return Filtered(**{name: values[:, which] for name, values in vars(self).items()})


def clock_years(legs: Legs, by_hours: ArrayLike = False) -> Floats:
    """Length of every leg on the clock that counts.

    Parameters
    ----------
    legs : Legs
    by_hours : array_like of bool
        For all legs or per leg: run hours instead of the calendar.

    Returns
    -------
    ndarray, shape (n,)
        Years of 365.25 days or of 8,766 run hours. [year]

    Raises
    ------
    ForecastError
        A leg is to be counted by run hours that are not known.

    References
    ----------
    Common practice.
    """
    years = np.where(by_hours, legs.hours / YEAR_HOURS, legs.days / YEAR_DAYS)
    if not np.isfinite(years).all():
        raise ForecastError("hours", "The run hours of a leg are not known: count it by the calendar.")
    return years


def chains(legs: Legs, years: Floats | None = None) -> Chains:
    """Lay out legs for `filtered`.

    Parameters
    ----------
    legs : Legs
        By coupling and time.
    years : ndarray, shape (n,), optional
        Of `clock_years`; otherwise the calendar's. [year]

    Returns
    -------
    Chains
        Only couplings that have a leg.

    References
    ----------
    Common practice.
    """
    years = clock_years(legs) if years is None else years
    couplings, begins, counts = np.unique(legs.coupling, return_index=True, return_counts=True)
    rank = np.argsort(-counts, kind="stable")
    begins, counts = begins[rank], counts[rank]
    places = []
    move, noise = legs.moves, legs.start_variance + legs.end_variance + legs.extra
    for k in range(int(counts.max(initial=0))):
        m = int(np.searchsorted(-counts, -k, side="left"))
        row = begins[:m] + k
        places.append(_place(legs, row, years[row], move[row].T, noise[row].T))
    return Chains(couplings[rank], tuple(places))


def nothing(n: int, components: int = 4) -> Filtered:
    """What is known of couplings before their first leg.

    Parameters
    ----------
    n, components : int

    Returns
    -------
    Filtered

    References
    ----------
    Common practice.
    """
    zero = np.zeros((components, n))
    return Filtered(zero, zero, zero, zero, zero, np.ones((components, n)), zero, zero, zero)


def advanced(state: Filtered, leg: Place, diffusion: ArrayLike) -> Filtered:
    """One more leg for every coupling; for one coupling or a fleet.

    Parameters
    ----------
    state : Filtered
        shape (4, n)
    leg : Place
        Of the same couplings in the same order, n legs.
    diffusion : array_like
        q of the coupling's group, broadcast to (4, n). [mm^2/year, mrad^2/year]

    Returns
    -------
    Filtered

    References
    ----------
    Kalman filter in innovations form with a diffuse first position: J. Durbin and S. J. Koopman, Time Series Analysis
    by State Space Methods, ch. 4 and 5 (from memory); for a banded covariance it is the L D L' factorisation.
    """
    # Where the leg before was not read in a component, there is nothing to share an error with.
    link = np.where(state.end > 0, leg.link, 0.0)
    share = link / state.pivot
    spread = np.asarray(diffusion) * leg.years + leg.noise - share * link
    pivot = np.where(leg.known, np.maximum(spread, LEAST), 1.0)
    move = leg.move - share * state.move
    years = np.where(leg.known, leg.years, 0.0) - share * state.years
    weighted = years / pivot
    return Filtered(
        state.tt + weighted * years,
        state.td + weighted * move,
        state.dd + move * move / pivot,
        state.log + np.log(pivot),
        state.count + leg.known,
        pivot,
        move,
        years,
        leg.end,
    )


def filtered(laid: Chains, diffusion: ArrayLike) -> Filtered:
    """All legs of all couplings.

    Parameters
    ----------
    laid : Chains
        n couplings.
    diffusion : array_like
        Above zero, broadcast to (4, n) in the order of `laid.couplings`. [mm^2/year, mrad^2/year]

    Returns
    -------
    Filtered
        In the order of `laid.couplings`.

    References
    ----------
    As `advanced`.
    """
    components = len(laid.places[0].move) if laid.places else 4
    q = np.broadcast_to(np.asarray(diffusion, dtype=float), (components, len(laid)))
    state = nothing(len(laid), components)
    parts = {name: np.array(values) for name, values in vars(state).items()}
    for leg in laid.places:
        m = len(leg.years)
        step = advanced(Filtered(**{name: values[:, :m] for name, values in parts.items()}), leg, q[:, :m])
        for name, values in vars(step).items():
            parts[name][:, :m] = values
    return Filtered(**parts)


def log_likelihood(state: Filtered, rate: ArrayLike, rate_variance: ArrayLike) -> Floats:
    """Marginal log-likelihood of the moves of each coupling, its own rate integrated out.

    Parameters
    ----------
    state : Filtered
    rate : array_like
        Mean m of the group's rates, broadcast to (4, n). [mm/year, mrad/year]
    rate_variance : array_like
        tau^2 among the group's couplings.

    Returns
    -------
    ndarray, shape (4, n)
        With v ~ N(m, tau^2) and moves ~ N(v t, S): ``-(log det S + log(1 + tau^2 tt) + k log 2 pi + (d - m t)'S^-1
        (d - m t) - tau^2 B^2 / (1 + tau^2 tt)) / 2``, B = td - m tt.

    References
    ----------
    Normal random-effects model, integrated by completing the square; C. E. Rasmussen and C. K. I. Williams use the same
    identity (matrix inversion lemma), from memory.
    """
    m, tau2 = np.asarray(rate, dtype=float), np.asarray(rate_variance, dtype=float)
    pull = state.td - m * state.tt
    square = state.dd - 2 * m * state.td + m * m * state.tt
    wider = 1 + tau2 * state.tt
    return np.asarray(-0.5 * (state.count * LOG_2PI + state.log + np.log(wider) + square - tau2 * pull**2 / wider))


def leg_place(legs: Legs, row: int, years: float) -> Place:
    """One leg of one coupling, to `advanced` a kept state with.

    Parameters
    ----------
    legs : Legs
    row : int
    years : float
        On the coupling's clock. [year]

    Returns
    -------
    Place
        One leg.

    References
    ----------
    Common practice.
    """
    noise = legs.start_variance[row] + legs.end_variance[row] + legs.extra[row]
    move = legs.end[row] - legs.start[row]
    return _place(legs, np.array([row]), np.array([years]), move[:, None], noise[:, None])


def _place(legs: Legs, row: Ints, years: Floats, move: Floats, noise: Floats) -> Place:
    known = np.isfinite(move + noise)
    return Place(
        years,
        np.where(known, move, 0.0),
        np.where(known, noise, 0.0),
        np.where(known & legs.shared[row], -legs.start_variance[row].T, 0.0),
        np.where(known, legs.end_variance[row].T, 0.0),
        known,
        row,
    )
