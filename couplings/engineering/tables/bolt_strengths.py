"""Starter rows of bolt strength by property class and grade: each with its source and mark.

Figures are as printed: MPa for ISO 898-1, ksi for SAE J429. A superseded row is kept, because old torque tables were
made from it, and is never chosen unless it is asked for. Set-screw classes (14H to 45H, ISO 898-5) are not here: they
are for compression only. `bolts.strength_of` takes another table in the place of this one; a site's own come later.
"""

from __future__ import annotations

from dataclasses import dataclass

KSI_MPA = 6.894757293168361  # 1000 lbf/in^2, exact by definition of pound and inch (NIST SP 811, App. B)
_IN = 25.4


@dataclass(frozen=True)
class StrengthRow:
    """One row: the diameters it holds for [mm], the figures as printed, and in which unit.

    `over` says that the smallest diameter itself belongs to the row below. `mark`: published or from memory.
    """

    standard: str
    name: str
    from_mm: float
    to_mm: float
    proof: float
    yield_: float | None
    tensile: float | None
    unit: str
    source: str
    mark: str = "published"
    over: bool = False
    superseded: bool = False

    @property
    def proof_mpa(self) -> float:
        return self._mpa(self.proof)

    @property
    def yield_mpa(self) -> float | None:
        return None if self.yield_ is None else self._mpa(self.yield_)

    @property
    def tensile_mpa(self) -> float | None:
        return None if self.tensile is None else self._mpa(self.tensile)

    def holds(self, diameter_mm: float) -> bool:
        """Whether the row covers a diameter, apart from the dust of a conversion from inches."""
        dust = 1e-6
        above = diameter_mm > self.from_mm + dust if self.over else diameter_mm >= self.from_mm - dust
        return above and diameter_mm <= self.to_mm + dust

    def _mpa(self, printed: float) -> float:
        return printed * KSI_MPA if self.unit == "ksi" else printed


_ISO = "ISO 898-1:2013 Table 3; sizes: its scope, M1.6 to M39 (from memory)"
_ISO_LOW = "Shigley, 9th ed., Table 8-11 p. 435 (sizes of its rows from memory)"
_SAE = "SAE J429, as in Shigley, 9th ed., Table 8-9 p. 433"
_OLD = "SAE J429 before grade 5 was held at 85 ksi up to 1 in; still behind Army TM 10-6640-238-13 App. G"


def _iso(
    name: str, from_mm: float, to_mm: float, figures: tuple[float, float, float], source: str = _ISO, over: bool = False
) -> StrengthRow:
    return StrengthRow("ISO 898-1", name, from_mm, to_mm, *figures, "MPa", source, over=over)


def _sae(
    name: str, from_in: float, to_in: float, figures: tuple[float, float, float], over: bool = False
) -> StrengthRow:
    return StrengthRow("SAE J429", name, from_in * _IN, to_in * _IN, *figures, "ksi", _SAE, over=over)


STARTER_STRENGTHS = (
    _iso("4.6", 5, 36, (225, 240, 400), _ISO_LOW),
    _iso("4.8", 1.6, 16, (310, 340, 420), _ISO_LOW),
    _iso("5.8", 5, 24, (380, 420, 520), _ISO_LOW),
    _iso("8.8", 1.6, 16, (580, 640, 800)),
    _iso("8.8", 16, 39, (600, 660, 830), over=True),
    _iso("9.8", 1.6, 16, (650, 720, 900)),
    _iso("10.9", 1.6, 39, (830, 940, 1040)),
    _iso("12.9", 1.6, 39, (970, 1100, 1220)),
    _sae("1", 0.25, 1.5, (33, 36, 60)),
    _sae("2", 0.25, 0.75, (55, 57, 74)),
    _sae("2", 0.75, 1.5, (33, 36, 60), over=True),
    _sae("5", 0.25, 1, (85, 92, 120)),
    _sae("5", 1, 1.5, (74, 81, 105), over=True),
    _sae("8", 0.25, 1.5, (120, 130, 150)),
    # Only its proof strength is on record.
    StrengthRow("SAE J429", "5", 0.75 * _IN, 1 * _IN, 78, None, None, "ksi", _OLD, over=True, superseded=True),
)
