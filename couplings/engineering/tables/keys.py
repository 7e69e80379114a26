"""Sizes of parallel keys by shaft diameter, over and up to and including. Starters; a site may hand in its own rows."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

INCH_MM = 25.4
DIN_SOURCE = "DIN 6885-1 / ISO 773, as restated in three public tables that agree"
DIN_LARGE = "DIN 6885-1, as restated in public tables"
ASME_SOURCE = "ASME B17.1 Table 1, as restated in Shigley, 9th ed., Table 7-6 p. 391"


@dataclass(frozen=True)
class MetricKey:
    """A key by DIN 6885-1: width, height, depth of the keyway in shaft and hub (t1, t2). [mm]"""

    over_mm: float
    up_to_mm: float
    width_mm: float
    height_mm: float
    shaft_depth_mm: float
    hub_depth_mm: float
    source: str = DIN_SOURCE
    mark: str = "published"


@dataclass(frozen=True)
class InchKey:
    """A key by ASME B17.1 as the table prints it: side of the square key, height of the rectangular one. [inch]

    `rectangle` is "-" where the table has no rectangular key.
    """

    over_in: float
    up_to_in: float
    square: str
    rectangle: str
    source: str = ASME_SOURCE
    mark: str = "published"

    @property
    def width_mm(self) -> float:
        """Width of either key. [mm]"""
        return inches(self.square) * INCH_MM

    def height_mm(self, shape: str) -> float | None:
        """Height of the 'square' or 'rectangular' key; None where the table has none. [mm]"""
        printed = self.square if shape == "square" else self.rectangle
        return None if printed == "-" else inches(printed) * INCH_MM


def inches(printed: str) -> float:
    """A printed fraction as a number.

    Parameters
    ----------
    printed : str
        Such as "3/32", "1", "1 1/2". [inch]

    Returns
    -------
    float
        [inch]

    References
    ----------
    The trade's way of writing inches: common practice.
    """
    return float(sum(Fraction(part) for part in printed.split()))


DIN_6885: tuple[MetricKey, ...] = (
    MetricKey(6, 8, 2, 2, 1.2, 1.0),
    MetricKey(8, 10, 3, 3, 1.8, 1.4),
    MetricKey(10, 12, 4, 4, 2.5, 1.8),
    MetricKey(12, 17, 5, 5, 3.0, 2.3),
    MetricKey(17, 22, 6, 6, 3.5, 2.8),
    MetricKey(22, 30, 8, 7, 4.0, 3.3),
    MetricKey(30, 38, 10, 8, 5.0, 3.3),
    MetricKey(38, 44, 12, 8, 5.0, 3.3),
    MetricKey(44, 50, 14, 9, 5.5, 3.8),
    MetricKey(50, 58, 16, 10, 6.0, 4.3),
    MetricKey(58, 65, 18, 11, 7.0, 4.4),
    MetricKey(65, 75, 20, 12, 7.5, 4.9),
    MetricKey(75, 85, 22, 14, 9.0, 5.4),
    MetricKey(85, 95, 25, 14, 9.0, 5.4),
    MetricKey(95, 110, 28, 16, 10.0, 6.4),
    MetricKey(110, 130, 32, 18, 11.0, 7.4),
    MetricKey(130, 150, 36, 20, 12.0, 8.4),
    MetricKey(150, 170, 40, 22, 13.0, 9.4, DIN_LARGE),
    MetricKey(170, 200, 45, 25, 15.0, 10.4, DIN_LARGE),
    MetricKey(200, 230, 50, 28, 17.0, 11.4, DIN_LARGE),
)

ASME_B17_1: tuple[InchKey, ...] = (
    InchKey(0.3125, 0.4375, "3/32", "-"),
    InchKey(0.4375, 0.5625, "1/8", "3/32"),
    InchKey(0.5625, 0.875, "3/16", "1/8"),
    InchKey(0.875, 1.25, "1/4", "3/16"),
    InchKey(1.25, 1.375, "5/16", "1/4"),
    InchKey(1.375, 1.75, "3/8", "1/4"),
    InchKey(1.75, 2.25, "1/2", "3/8"),
    InchKey(2.25, 2.75, "5/8", "7/16"),
    InchKey(2.75, 3.25, "3/4", "1/2"),
    InchKey(3.25, 3.75, "7/8", "5/8"),
    InchKey(3.75, 4.5, "1", "3/4"),
    InchKey(4.5, 5.5, "1 1/4", "7/8"),
    InchKey(5.5, 6.5, "1 1/2", "1"),
)


@dataclass(frozen=True)
class BearingRange:
    """Allowable bearing stress of the weakest of key, shaft and hub. [MPa]"""

    material: str
    low_mpa: float
    high_mpa: float
    source: str = "Jiang, Analysis and Design of Machine Elements, p. 95"


# The low end is for shock, the high end for a steady load. No public range for key shear was found: give it yourself.
BEARING_RANGES: tuple[BearingRange, ...] = (
    BearingRange("steel", 60, 150),
    BearingRange("cast iron", 30, 80),
)
