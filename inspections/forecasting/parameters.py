"""What the couplings of a group have in common, once per group and spread over couplings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from inspections.forecasting.legs import Bools, Floats, Ints

FLAT = (float("inf"),) * 4


@dataclass(frozen=True)
class GroupFit:
    """One group's parameters, each per component (vertical, horizontal offset; vertical, horizontal slope).

    Attributes
    ----------
    rate, rate_error : tuple of 4 floats
        Mean rate m and the variance of that mean. [mm/year, mrad/year] and squares
    rate_variance : tuple of 4 floats
        tau^2, among couplings.
    diffusion : tuple of 4 floats
        q. [mm^2/year, mrad^2/year]
    jumps_per_year : float
        Per train. [1/year]
    jump_variance : tuple of 4 floats
        Of one jump. [mm^2, mrad^2]
    by_hours : bool
        Years are of 8,766 run hours, not of the calendar.
    couplings, legs, flagged : int
        What it rests on.
    log_likelihood : float
        Marginal, with the prior, over the four components.
    left_variance : tuple of 4 floats
        Of the true positions in which crews leave couplings, around the target; infinite where nothing is assumed.
    """

    rate: tuple[float, ...]
    rate_error: tuple[float, ...]
    rate_variance: tuple[float, ...]
    diffusion: tuple[float, ...]
    jumps_per_year: float
    jump_variance: tuple[float, ...]
    by_hours: bool = False
    couplings: int = 0
    legs: int = 0
    flagged: int = 0
    log_likelihood: float = 0.0
    left_variance: tuple[float, ...] = FLAT


@dataclass(frozen=True, eq=False)
class Parameters:
    """The group's parameters at every coupling: as `GroupFit`, (4, n), `jumps_per_year` and `by_hours` (n,).

    [mm/year, mrad/year], [mm^2/year, mrad^2/year], [1/year]
    """

    rate: Floats
    rate_error: Floats
    rate_variance: Floats
    diffusion: Floats
    jumps_per_year: Floats
    jump_variance: Floats
    by_hours: Bools
    left_variance: Floats

    def taken(self, which: Ints | Bools) -> Parameters:
        """Some of the couplings."""
        return Parameters(**{name: values[..., which] for name, values in vars(self).items()})


def at_couplings(fits: Sequence[GroupFit], which: ArrayLike) -> Parameters:
    """Spread group parameters over couplings.

    Parameters
    ----------
    fits : sequence of GroupFit
    which : array_like of int, shape (n,)
        The place of each coupling's group among the fits.

    Returns
    -------
    Parameters
        As the fits have them. [mm/year, mrad/year]

    References
    ----------
    Common practice.
    """
    index = np.asarray(which, dtype=np.int64)

    def of(name: str) -> NDArray[np.float64]:
        return np.array([getattr(fit, name) for fit in fits], dtype=float)[index].T

    return Parameters(
        of("rate"), of("rate_error"), of("rate_variance"), of("diffusion"), of("jumps_per_year"), of("jump_variance"),
        np.array([fit.by_hours for fit in fits], dtype=bool)[index], of("left_variance"),
    )  # fmt: skip
