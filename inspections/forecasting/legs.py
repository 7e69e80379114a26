"""Legs: what a coupling did by itself between one survey it was left with and the next it was found with.

Everything is in the record's frame: the driver-side shaft relative to the driven-side shaft, seen from the driver end,
up and right positive, whichever machine was moved that day (`couplings.engineering.alignment.frames.to_record`). The
four components are vertical and horizontal offset [mm], vertical and horizontal slope [mrad].
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from couplings.engineering.alignment import AlignmentError

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

COMPONENTS = ("offset.vertical", "offset.horizontal", "slope.vertical", "slope.horizontal")
YEAR_DAYS = 365.25
YEAR_HOURS = 8766.0
# A figure copied from an old sheet, its readings gone: our own starter, about the limit of a fast machine.
LEGACY_U = (0.05, 0.05, 0.1, 0.1)

USED, NO_AS_LEFT, LOOSENED, SPELL, SAME_TIME, NOT_READ = "", "no-as-left", "loosened", "spell", "same-time", "not-read"


class ForecastError(AlignmentError):
    """Rows or parameters that cannot be used: where, and what is expected there."""


@dataclass(frozen=True, eq=False)
class Surveys:
    """Signed surveys of a fleet as plain rows, in any order; rounds in between may be left in.

    Attributes
    ----------
    coupling : ndarray of int, shape (n,)
        Couplings are numbered from 0.
    day : ndarray, shape (n,)
        When it was taken, with its fraction, on any one calendar of days. [day]
    position, variance : ndarray, shape (n, 4)
        In the record's frame, the target not subtracted, and the variance of each from the readings; nan where a plane
        was not read. [mm, mm, mrad, mrad] and its square
    as_found, as_left : ndarray of bool, shape (n,)
        Both where nothing was moved: the same reading then ends one leg and starts the next.
    loosened : ndarray of bool, shape (n,)
        Taken after the first foot, element or pipe was loosened.
    legacy : ndarray of bool, shape (n,)
        A figure without its readings; its variance is at least `LEGACY_U` squared.
    hours : ndarray, shape (n,)
        Run hours counted up to then, offsets of replaced meters added; nan where not known. [h]
    added, added_variance : ndarray, shape (n, 4)
        What brings the survey to the reference temperature where that is not in `position` yet.
    """

    coupling: Ints
    day: Floats
    position: Floats
    variance: Floats
    as_found: Bools
    as_left: Bools
    loosened: Bools
    legacy: Bools
    hours: Floats
    added: Floats
    added_variance: Floats


@dataclass(frozen=True, eq=False)
class Spells:
    """Times through which nothing can be compared: uncoupled, another machine unit, another fit, feet opened. [day]

    An instant is a spell that ends when it begins; it breaks a leg that has it strictly inside.
    """

    coupling: Ints
    begins: Floats
    ends: Floats


@dataclass(frozen=True, eq=False)
class Legs:
    """Legs by coupling and in order of time.

    Attributes
    ----------
    coupling : ndarray of int, shape (n,)
        Ascending.
    days, hours : ndarray, shape (n,)
        How long it lasted on the calendar [day] and on the hour meter [h], nan where the meter does not say.
    start, end : ndarray, shape (n, 4)
        Position less the coupling's target at both ends. [mm, mm, mrad, mrad]
    start_variance, end_variance : ndarray, shape (n, 4)
        Of the two readings.
    shared : ndarray of bool, shape (n,)
        The start is the very reading in which the leg before ended, so both have its error.
    extra : ndarray, shape (n, 4)
        Variance added because the leg is not explained by its history (`jumps`); 0 as built.
    start_row, end_row : ndarray of int, shape (n,)
        Which surveys.
    """

    coupling: Ints
    days: Floats
    hours: Floats
    start: Floats
    end: Floats
    start_variance: Floats
    end_variance: Floats
    shared: Bools
    extra: Floats
    start_row: Ints
    end_row: Ints

    def __len__(self) -> int:
        return len(self.coupling)

    @property
    def moves(self) -> Floats:
        """End less start. [mm, mm, mrad, mrad]"""
        return self.end - self.start

    def widened(self, extra: Floats) -> Legs:
        """The same legs with that much variance added. [mm^2, mrad^2]"""
        return replace(self, extra=extra)

    def taken(self, rows: Ints | Bools) -> Legs:
        """Some of the legs, in their order."""
        return Legs(**{name: values[rows] for name, values in vars(self).items()})


@dataclass(frozen=True, eq=False)
class Standing:
    """How each coupling was last left.

    `position` less its target and `variance`, shape (n, 4) [mm, mm, mrad, mrad]; `day`, `hours` (n,) [day], [h];
    `carried` (n,): it is the reading in which the coupling's last leg ended. nan where it was never left measured, or
    was found since and not measured again.
    """

    position: Floats
    variance: Floats
    day: Floats
    hours: Floats
    carried: Bools


def surveys(
    coupling: ArrayLike,
    day: ArrayLike,
    position: ArrayLike,
    variance: ArrayLike,
    as_found: ArrayLike,
    as_left: ArrayLike,
    *,
    loosened: ArrayLike = False,
    legacy: ArrayLike = False,
    hours: ArrayLike = np.nan,
    added: ArrayLike = 0.0,
    added_variance: ArrayLike = 0.0,
) -> Surveys:
    """Rows checked and brought to one shape; what is left out is spread over all.

    Parameters
    ----------
    coupling, day, position, variance, as_found, as_left, loosened, legacy, hours, added, added_variance : array_like
        As in `Surveys`. [day], [mm, mm, mrad, mrad], [h]

    Returns
    -------
    Surveys

    Raises
    ------
    ForecastError
        A coupling below zero, a time that is not finite, a variance below zero.

    References
    ----------
    Common practice: a reading is kept with its uncertainty.
    """
    which = np.atleast_1d(np.asarray(coupling, dtype=np.int64))
    n = len(which)

    def numbers(values: ArrayLike, *shape: int) -> Floats:
        return np.array(np.broadcast_to(np.asarray(values, dtype=float), shape))

    def marks(values: ArrayLike) -> Bools:
        return np.array(np.broadcast_to(np.asarray(values, dtype=bool), (n,)))

    found = Surveys(
        which, numbers(day, n), numbers(position, n, 4), numbers(variance, n, 4), marks(as_found), marks(as_left),
        marks(loosened), marks(legacy), numbers(hours, n), numbers(added, n, 4), numbers(added_variance, n, 4),
    )  # fmt: skip
    if n and which.min() < 0:
        raise ForecastError("coupling", "Couplings are numbered from 0.")
    if not np.isfinite(found.day).all():
        raise ForecastError("day", "A survey's time is missing or not a finite number.")
    if (found.variance < 0).any() or not (found.added_variance >= 0).all():
        raise ForecastError("variance", "A variance is never below zero.")
    return found


def at_reference(rows: Surveys) -> tuple[Floats, Floats]:
    """Position and variance of every survey at the reference temperature, old figures with their large variance.

    Parameters
    ----------
    rows : Surveys

    Returns
    -------
    position, variance : ndarray, shape (n, 4)
        nan in both where a plane was not read. [mm, mm, mrad, mrad] and squares

    References
    ----------
    Linear propagation of uncertainty, JCGM 100, 5.1; the correction shares no error with the readings.
    """
    least = np.where(rows.legacy[:, None], np.square(LEGACY_U), 0.0)
    given = np.where(rows.legacy[:, None] & ~np.isfinite(rows.variance), 0.0, rows.variance)
    position = rows.position + rows.added
    variance = np.maximum(given, least) + rows.added_variance
    known = np.isfinite(position) & np.isfinite(variance)
    return np.where(known, position, np.nan), np.where(known, variance, np.nan)


def legs_of(
    rows: Surveys, target: ArrayLike = 0.0, spells: Spells | None = None, couplings: int | None = None
) -> tuple[Legs, Standing, NDArray[np.str_]]:
    """Legs of every coupling, how each was last left, and why a survey ended no leg.

    Parameters
    ----------
    rows : Surveys
    target : array_like, shape (4,) or (couplings, 4)
        The target in force, in the record's frame; the same is subtracted from both ends, so that a new target is no
        movement. [mm, mm, mrad, mrad]
    spells : Spells, optional
    couplings : int, optional
        How many there are; otherwise the highest number among the rows and one.

    Returns
    -------
    legs : Legs
    standing : Standing
    reasons : ndarray of str, shape (n,)
        Per survey found: '' where it ends a leg, else 'no-as-left' (the survey before does not say how it was left),
        'loosened', 'spell', 'same-time' or 'not-read'.

    Raises
    ------
    ForecastError
        The target is not finite.

    References
    ----------
    Common practice: only an as-left and the as-found after it, untouched between, show what the machine did by itself.
    """
    total = couplings if couplings is not None else int(rows.coupling.max(initial=-1)) + 1
    wanted = np.array(np.broadcast_to(np.asarray(target, dtype=float), (total, 4)))
    if not np.isfinite(wanted).all():
        raise ForecastError("target", "A target is four finite numbers.")
    kept = np.flatnonzero(rows.as_found | rows.as_left)
    kept = kept[np.lexsort((~rows.as_found[kept], rows.day[kept], rows.coupling[kept]))]
    position, variance = at_reference(rows)
    position = position - wanted[rows.coupling] if len(rows.coupling) else position
    first, second = kept[:-1], kept[1:]
    same = rows.coupling[first] == rows.coupling[second]
    seen = np.isfinite(position[first] + position[second]).any(axis=1)
    reasons = np.full(len(rows.coupling), USED, dtype="<U12")
    reasons[rows.as_found] = NO_AS_LEFT
    code = np.select(
        [
            ~(same & rows.as_left[first]),
            rows.loosened[second],
            rows.day[second] <= rows.day[first],
            _crossed(rows, first, second, spells),
            ~seen,
        ],
        [NO_AS_LEFT, LOOSENED, SAME_TIME, SPELL, NOT_READ],
        USED,
    )
    found = rows.as_found[second]
    reasons[second[found]] = code[found]
    held = found & (code == USED)
    before = np.append(False, held[:-1]) if len(held) else held
    start, end = first[held], second[held]
    ran = rows.hours[end] - rows.hours[start]
    legs = Legs(
        rows.coupling[start], rows.day[end] - rows.day[start], np.where(ran >= 0, ran, np.nan), position[start],
        position[end], variance[start], variance[end], before[held], np.zeros((len(start), 4)), start, end,
    )  # fmt: skip
    return legs, _standing(rows, position, variance, kept, held, total), reasons


def _crossed(rows: Surveys, first: Ints, second: Ints, spells: Spells | None) -> Bools:
    """Whether a spell lies between: those begun before the end, less those over by the start."""
    if spells is None or not len(spells.coupling) or not len(first):
        return np.zeros(len(first), dtype=bool)
    origin = min(rows.day.min(), spells.begins.min())
    far = max(rows.day.max(), spells.ends[np.isfinite(spells.ends)].max(initial=origin)) - origin + 1.0

    def key(which: Ints, when: Floats) -> Floats:
        return which * (2 * far) + np.minimum(when - origin, far)

    begun = np.searchsorted(np.sort(key(spells.coupling, spells.begins)), key(rows.coupling[second], rows.day[second]))
    over = np.searchsorted(
        np.sort(key(spells.coupling, spells.ends)), key(rows.coupling[first], rows.day[first]), side="right"
    )
    return np.asarray(begun > over)


def _standing(rows: Surveys, position: Floats, variance: Floats, kept: Ints, held: Bools, total: int) -> Standing:
    place = np.full(total, -1)
    place[rows.coupling[kept]] = np.arange(len(kept))  # the last one written stays
    there = place >= 0
    there[there] = rows.as_left[kept[place[there]]]
    row = kept[place[there]]
    ended = np.append(False, held) if len(kept) else held

    def filled(values: Floats) -> Floats:
        out = np.full((total, *values.shape[1:]), np.nan)
        out[there] = values[row]
        return out

    carried = np.zeros(total, dtype=bool)
    carried[there] = ended[place[there]]
    return Standing(filled(position), filled(variance), filled(rows.day), filled(rows.hours), carried)
