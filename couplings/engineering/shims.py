"""What to do with the shims that lie under a foot, so that it comes up or down by a given amount."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from couplings.engineering.alignment import AlignmentError

# Starter of the site's limit; published practice is 3 to 5 shims under one foot.
STARTER_MOST = 4
MOST_KNOWN = 12
DUST_MM = 1e-6  # sums of converted thicknesses


class ShimError(AlignmentError):
    """Shims or changes that cannot be used."""


@dataclass(frozen=True)
class ShimChange:
    """What to take out, then what to put in. [mm]

    `put_in_mm` is to be made up as one shim where the stock has it, so `count` is the least there can be afterwards.
    `short_mm` is what cannot be taken out because it is not there; zero where the change can be made.
    """

    take_out_mm: tuple[float, ...]
    put_in_mm: float
    count: int
    short_mm: float = 0.0

    @property
    def change_mm(self) -> float:
        """What the foot comes up by; negative: down. [mm]"""
        return self.put_in_mm - math.fsum(self.take_out_mm)


def shim_change(there_mm: Sequence[float], change_mm: float, most: int = STARTER_MOST) -> ShimChange:
    """Which shims to take out from under a foot, and what to put in after.

    Parameters
    ----------
    there_mm : sequence of floats
        Thickness of every shim under the foot now. [mm]
    change_mm : float
        Positive: the foot is to come up. [mm]
    most : int
        Shims that may lie under one foot.

    Returns
    -------
    ShimChange
        Of all ways that make the change: one that keeps the limit before one that does not, then the one with the
        fewest shims handled, then the fewest left, then the thinnest taken out. Where more is to come out than there
        is, everything comes out and `short_mm` says what is still missing. [mm]

    Raises
    ------
    ShimError
        A thickness that is not above zero, more shims than can be meant, a change that is not finite, a limit below
        one.

    References
    ----------
    Common practice: take out before you put in. Every choice of shims is tried, so the result is the best there is.
    """
    errors = {
        f"shims.{place}": "A shim's thickness must be a number above zero."
        for place, thickness in enumerate(there_mm)
        if not (math.isfinite(thickness) and thickness > 0)
    }
    if len(there_mm) > MOST_KNOWN:
        errors["shims"] = f"More than {MOST_KNOWN} shims under one foot cannot be meant."
    if not math.isfinite(change_mm):
        errors["change"] = "The change is missing or not a finite number."
    if most < 1:
        errors["most"] = "At least one shim must be allowed under a foot."
    if errors:
        raise ShimError(errors)
    total = math.fsum(there_mm)
    if change_mm < -total - DUST_MM:
        return ShimChange(tuple(sorted(there_mm, reverse=True)), 0.0, 0, -change_mm - total)
    ways = [
        _way(there_mm, taken, change_mm)
        for size in range(len(there_mm) + 1)
        for taken in combinations(range(len(there_mm)), size)
        if math.fsum(there_mm[place] for place in taken) + change_mm >= -DUST_MM
    ]
    return min(ways, key=lambda way: _rank(way, most))


def _way(there_mm: Sequence[float], taken: Sequence[int], change_mm: float) -> ShimChange:
    out = tuple(sorted((there_mm[place] for place in taken), reverse=True))
    put_in = math.fsum(out) + change_mm
    put_in = put_in if put_in > DUST_MM else 0.0
    return ShimChange(out, put_in, len(there_mm) - len(out) + (put_in > 0))


def _rank(way: ShimChange, most: int) -> tuple[float, ...]:
    handled = len(way.take_out_mm) + (way.put_in_mm > 0)
    return (max(0, way.count - most), handled, way.count, round(math.fsum(way.take_out_mm), 6))
