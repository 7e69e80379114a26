"""ISO 286 tolerances of holes H6 to H8 and shafts g6 to p6, over 3 up to 250 mm.

A figure of the table governs. The standard's formula is kept beside it only as a check: the standard rounds by its own
rules, so the formula differs by one or two micrometres in several bands and never replaces a row. Every band served has
a public figure; none is computed. A site may hand its own rows to the functions of `fits`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

REFERENCE = "ISO 286-1 Table 1 and ISO 286-2, as restated in public text"
TWO_TABLES = "ISO 286-1 and ISO 286-2, as restated in two public tabulations that agree"


@dataclass(frozen=True)
class SizeBand:
    """One band of nominal sizes, over `over_mm` up to and including `up_to_mm`. [mm], tolerances [um]

    `it_um` is the standard tolerance by grade, `shaft_um` the (lower, upper) deviation of each shaft class; a hole H
    lies from 0 to its standard tolerance.
    """

    over_mm: float
    up_to_mm: float
    it_um: Mapping[int, float]
    shaft_um: Mapping[str, tuple[float, float]]
    mark: str = "published"
    source: str = TWO_TABLES


def _band(
    over: float, up_to: float, it: tuple[int, int, int], g: int, j: tuple[int, int], kmnp: tuple[int, ...], source: str
) -> SizeBand:
    """Lower (k to p) and upper (g) deviations as the standard prints them; the other end lies one IT6 away."""
    six = it[0]
    shafts: dict[str, tuple[float, float]] = {
        "g6": (g - six, g),
        "h6": (-six, 0),
        "j6": j,
        "js6": (-six / 2, six / 2),
        **{f"{letter}6": (lower, lower + six) for letter, lower in zip("kmnp", kmnp, strict=True)},
    }
    return SizeBand(over, up_to, dict(zip((6, 7, 8), it, strict=True)), shafts, source=source)


# over, up to: IT6 IT7 IT8; upper deviation of g; j6 lower, upper; lower deviation of k m n p. [um]
# REFERENCE: IT6, IT7 and the shafts h6, k6, m6, n6, p6 of the band were read there; the rest as TWO_TABLES.
ISO_286: tuple[SizeBand, ...] = (
    _band(3, 6, (8, 12, 18), -4, (-2, 6), (1, 4, 8, 12), TWO_TABLES),
    _band(6, 10, (9, 15, 22), -5, (-2, 7), (1, 6, 10, 15), TWO_TABLES),
    _band(10, 18, (11, 18, 27), -6, (-3, 8), (1, 7, 12, 18), REFERENCE),
    _band(18, 30, (13, 21, 33), -7, (-4, 9), (2, 8, 15, 22), REFERENCE),
    _band(30, 50, (16, 25, 39), -9, (-5, 11), (2, 9, 17, 26), REFERENCE),
    _band(50, 80, (19, 30, 46), -10, (-7, 12), (2, 11, 20, 32), REFERENCE),
    _band(80, 120, (22, 35, 54), -12, (-9, 13), (3, 13, 23, 37), REFERENCE),
    _band(120, 180, (25, 40, 63), -14, (-11, 14), (3, 15, 27, 43), TWO_TABLES),
    _band(180, 250, (29, 46, 72), -15, (-13, 16), (4, 17, 31, 50), TWO_TABLES),
)
HOLES = ("H6", "H7", "H8")
SHAFTS = ("g6", "h6", "j6", "js6", "k6", "m6", "n6", "p6")


@dataclass(frozen=True)
class InchClass:
    """One band of a site's own inch class of fits: deviations of bore and shaft from the nominal size. [inch]"""

    name: str
    over_in: float
    up_to_in: float
    bore_in: tuple[float, float]
    shaft_in: tuple[float, float]
    source: str
    mark: str = "site"


# Empty on purpose: of AGMA 9002-C14 (inch) and 9112-B14 (metric) only the scope is public, and figures from memory are
# not shipped as a standard. A site fills the rows from its own copy and names it as their source.
INCH_CLASSES: tuple[InchClass, ...] = ()
