"""What a shaft picture shows: positions, limits, names. Numbers in millimetres and milliradians, nothing drawn yet."""

from dataclasses import dataclass
from math import isfinite

from plant.drawings.feet import Foot


@dataclass(frozen=True)
class Position:
    """A shaft's line in one plane: offset at the coupling's centre and slope, up or right positive. [mm], [mrad]"""

    offset_mm: float
    slope_mrad: float

    def at(self, x_mm: float) -> float:
        """Height over x, x from the coupling's centre towards the movable machine. [mm]"""
        return self.offset_mm + self.slope_mrad * x_mm / 1000

    def known(self) -> bool:
        """Whether this plane was measured at all."""
        return isfinite(self.offset_mm) and isfinite(self.slope_mrad)


@dataclass(frozen=True)
class Limits:
    """What the tolerance leaves, as half widths about the target.

    With flex planes `gate_a_mm` and `gate_b_mm` bound the movable centreline at A and B (the angle allowed at the
    *other* plane times the distance between them); without, `offset_mm` bounds it at the coupling's centre and
    `slope_mrad` how it widens from there.
    """

    gate_a_mm: float | None = None
    gate_b_mm: float | None = None
    offset_mm: float | None = None
    slope_mrad: float | None = None

    def drawn(self, planes_mm: tuple[float, float] | None) -> bool:
        """Whether these limits bound the shaft of a coupling with, or without, these flex planes."""
        if planes_mm is None:
            return self.offset_mm is not None
        return self.gate_a_mm is not None and self.gate_b_mm is not None

    @classmethod
    def of_flex_angles(cls, at_a_mrad: float, at_b_mrad: float, planes_mm: tuple[float, float]) -> "Limits":
        """Gates from the angle allowed at each flex plane: angle at A = offset(B) / L, at B = -offset(A) / L."""
        span = planes_mm[1] - planes_mm[0]
        return cls(gate_a_mm=at_b_mrad * span / 1000, gate_b_mm=at_a_mrad * span / 1000)


@dataclass(frozen=True)
class ShaftPicture:
    """Everything one picture shows; a plane that was not measured is None (or a Position with NaN)."""

    stationary: str
    movable: str
    vertical: Position | None
    horizontal: Position | None
    target_vertical: Position = Position(0.0, 0.0)
    target_horizontal: Position = Position(0.0, 0.0)
    planes_mm: tuple[float, float] | None = None
    limits: Limits | None = None
    feet: tuple[Foot, ...] = ()
    system: str = "metric"
    allowed_by: str = "the limits"
    expected: str = ""  # "on 14 March 2027": then this is a forecast, and both captions say so


@dataclass(frozen=True)
class ShaftViews:
    """Two drawings (None: not measured in that plane), their captions and the sentence about the scale."""

    side: str | None
    above: str | None
    scale: str
    missing: str
    expected: str
