"""What dials, feelers and instruments show of shafts whose position is known, typed as a mechanic would type it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from random import Random

import numpy as np

from couplings.engineering.alignment import Misalignment, at, clock_angle_deg, flex_angles, from_record
from couplings.engineering.alignment.readings import directions

Four = tuple[float, float, float, float]
MM_PER_THOU = 0.0254
MM_PER_INCH = 25.4
HOURS = (12, 3, 6, 9)


@dataclass(frozen=True)
class Way:
    """How one coupling is read.

    Parameters
    ----------
    method : str
        Of couplings.engineering.alignment.METHODS.
    stationary : {'driver', 'driven'}
    arms : sequence of floats
        For each set of the method: x of a rim or step, swing radius of a face or gap, distance on a spool. [mm]
    sag_mm : float
        Of every bracket.
    instruments : sequence of str
        Serial numbers, one for each set; one for an instrument that reports.
    flex_planes_mm : (A, B), optional
        Needed for readings on a spool.
    """

    method: str
    stationary: str = "driven"
    arms: Sequence[float] = ()
    sag_mm: float = 0.0
    instruments: Sequence[str] = ()
    flex_planes_mm: tuple[float, float] | None = None


@dataclass
class Hand:
    """The small errors of one hand and the units it writes in; the same seed gives the same hand."""

    seed: str
    system: str = "metric"
    noise_mm: float = 0.003
    chance: Random = field(init=False)

    def __post_init__(self) -> None:
        self.chance = Random(self.seed)

    def gap(self, value_mm: float, step_mm: float | None = None) -> str:
        """A reading of dial or feeler, to the dial's half division or to `step_mm`."""
        unit = MM_PER_THOU if self.system == "us" else 1.0
        step = (step_mm or (0.5 * MM_PER_THOU if self.system == "us" else 0.01)) / unit
        shown = round((value_mm + self.chance.gauss(0, self.noise_mm)) / unit / step) * step
        return f"{shown + 0.0:.{1 if self.system == 'us' else 2}f}"

    def size(self, value_mm: float) -> str:
        """A length on a rule or caliper, as it is."""
        return f"{value_mm / MM_PER_INCH:.3f}" if self.system == "us" else f"{value_mm:.1f}"

    def shim(self, thickness_mm: float) -> str:
        """A shim by its nominal thickness: hundredths of a millimetre, or thousandths of an inch."""
        return f"{thickness_mm / MM_PER_THOU:.0f}" if self.system == "us" else f"{thickness_mm:g}"

    def slope(self, value_mrad: float) -> str:
        return f"{value_mrad + self.chance.gauss(0, self.noise_mm * 4) + 0.0:.2f}"


def typed(record: Four, way: Way, hand: Hand) -> dict[str, str]:
    """The fields of an alignment step for shafts that stand so.

    Parameters
    ----------
    record : 4 floats
        Offset and slope, each vertical and horizontal, in the record's frame. [mm, mrad]
    way, hand : Way, Hand

    Returns
    -------
    dict
        The flat names of couplings.calculations.typed with text. Dials are set to zero at 12 o'clock.

    References
    ----------
    The signs of each kind of reading are those of the solver it is read back with (`solve`), turned round.
    """
    working = from_record(Misalignment.of(record, np.zeros((4, 4))), way.stationary)
    fields = {"method": way.method, "stationary": way.stationary, "viewed_from": "movable"}
    if way.method == "direct":
        return fields | _reported(working, way, hand)
    kinds = {
        "reverse-rim": (("rim", 1.0), ("rim", -1.0)),
        "rim-and-face": (("rim", 1.0), ("face", 1.0)),
        "face-face": (("A", 1.0), ("B", 1.0)),
        "straightedge": (("step", 1.0), ("gap", -1.0)),
    }[way.method]
    for number, ((kind, sign), arm) in enumerate(zip(kinds, way.arms, strict=True)):
        fields |= _set(f"set{number}.", kind, sign * _along(working, kind, arm, way), arm, way, hand)
        if way.instruments:
            fields[f"set{number}.instrument"] = way.instruments[number]
    return fields


def _along(working: Misalignment, kind: str, arm: float, way: Way) -> np.ndarray:
    """What a full turn of this kind of reading swings by, (vertical, horizontal). [mm]"""
    if kind in ("rim", "step"):
        return at(working, arm)[0]
    if kind in ("face", "gap"):
        return working.mean_array[2:] * arm / 1000
    assert way.flex_planes_mm is not None
    angles = flex_angles(working, *way.flex_planes_mm)[0]
    return (angles[:2] if kind == "A" else angles[2:]) * arm / 1000


def _set(at_: str, kind: str, swing: np.ndarray, arm: float, way: Way, hand: Hand) -> dict[str, str]:
    fields = {at_ + ("x" if kind in ("rim", "step") else "swing_radius"): hand.size(arm)}
    dial = kind not in ("step", "gap")
    sag = way.sag_mm if dial else 0.0
    if sag:
        fields[at_ + "sag"] = Hand(hand.seed, hand.system, noise_mm=0.0).gap(sag)
    # A gap between hubs is a width, a step starts from the difference of the hubs; a dial is set to zero at 12.
    base = {"step": 0.05, "gap": 4.0}.get(kind, 0.0)
    for hour in HOURS:
        cosine, sine = (float(one) for one in directions(clock_angle_deg(hour)))
        value = base + float(swing @ np.array([cosine, sine])) + sag * (1 - cosine) / 2
        if dial:
            value -= float(swing[0])
        if dial and hour == 12:
            fields[f"{at_}12"] = "0"
        else:
            fields[f"{at_}{hour}"] = hand.gap(value, None if dial else 0.05)
    if dial:
        fields[at_ + "return_to_zero"] = "0"
    return fields


def _reported(working: Misalignment, way: Way, hand: Hand) -> dict[str, str]:
    offset_v, offset_h, slope_v, slope_h = working.mean
    fields = {
        "offset_v": hand.gap(offset_v), "offset_h": hand.gap(offset_h),
        "slope_v": hand.slope(slope_v), "slope_h": hand.slope(slope_h),
    }  # fmt: skip
    return fields | ({"instrument": way.instruments[0]} if way.instruments else {})
