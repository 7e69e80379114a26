"""Moves held against the shims that lie under the feet: what to take out, what to put in, and what is not there."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from couplings.engineering.shims import STARTER_MOST, ShimChange, shim_change

DUST_MM = 1e-6
HANDS = ("left", "right")


@dataclass(frozen=True)
class Recorded:
    """Shims under the feet of one machine by foot, "inboard left", and whence each is known. [mm]"""

    shims_mm: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    whence: Mapping[str, str] = field(default_factory=dict)

    def under(self, plane: str) -> dict[str, tuple[float, ...]]:
        """The packs of one foot plane that are known."""
        return {name: self.shims_mm[name] for hand in HANDS if (name := f"{plane} {hand}") in self.shims_mm}


@dataclass(frozen=True)
class PackAdvice:
    """One foot: what lies there, what to change, and how many shims it has then at the least. [mm]"""

    foot: str
    there_mm: tuple[float, ...]
    whence: str
    change: ShimChange
    most: int

    @property
    def total_mm(self) -> float:
        return math.fsum(self.there_mm)

    @property
    def too_many(self) -> bool:
        """Whether even the best way leaves more shims than the site allows."""
        return self.change.count > self.most


def most_down_mm(plane: str, recorded: Recorded) -> float | None:
    """How far this foot plane can come down on what lies under it; None where nothing is recorded. [mm]"""
    packs = recorded.under(plane)
    return min((math.fsum(pack) for pack in packs.values()), default=None)


def pack_advice(plane: str, change_mm: float, recorded: Recorded, most: int = STARTER_MOST) -> tuple[PackAdvice, ...]:
    """What to do under each foot of a plane that is to come up (or, negative, down) by `change_mm`. [mm]"""
    return tuple(
        PackAdvice(name, pack, recorded.whence.get(name, ""), shim_change(pack, change_mm, most), most)
        for name, pack in recorded.under(plane).items()
    )
