"""Starter rows of the table of thermal expansion coefficients; a site's own table goes in as an argument.

Published values for cast iron run from 10.6 to 11.4 millionths per kelvin, 6 to 7 % apart, and a table rarely says what
its sample was. So a coefficient from any of them is taken to lie within that spread of the truth, all values alike:
7 % / sqrt(3) = 4 % standard uncertainty, also for the materials whose spread no source gives.
"""

from __future__ import annotations

from dataclasses import dataclass

SPREAD = 0.07
RELATIVE_U = 0.04


@dataclass(frozen=True)
class Coefficient:
    """Linear thermal expansion of a material and its standard uncertainty. [1e-6/K]

    `printed_per_f` is the figure per degree Fahrenheit where the source prints one. [1e-6/F]
    """

    material: str
    alpha: float
    alpha_u: float
    source: str
    mark: str = "published"
    printed_per_f: float | None = None


_TEXTBOOK = "W. D. Callister and D. G. Rethwisch, Materials Science and Engineering, table B.6"
_HANDBOOK = "R. B. McMillan, Rotating Machinery, Fairmont Press 2004, p. 134"
_MAGAZINE = "a maintenance trade magazine, 2003"


def _row(material: str, alpha: float, source: str, printed_per_f: float | None) -> Coefficient:
    return Coefficient(material, alpha, RELATIVE_U * alpha, source, "published", printed_per_f)


STARTER_COEFFICIENTS = (
    _row("carbon steel", 11.7, _TEXTBOOK, 6.5),
    _row("carbon steel 1040", 11.3, _TEXTBOOK, 6.3),
    _row("gray iron", 11.4, _TEXTBOOK, 6.3),
    _row("ductile iron", 11.2, _TEXTBOOK, 6.2),
    _row("cast iron, low value", 5.9 * 1.8, _MAGAZINE, 5.9),
    _row("cast iron, handbook value", 6.3 * 1.8, _HANDBOOK, 6.3),
    _row("stainless steel 304", 17.2, _TEXTBOOK, 9.6),
    _row("stainless steel 405", 10.8, _TEXTBOOK, 6.0),
    _row("aluminium 6061", 23.6, _TEXTBOOK, 13.1),
    _row("aluminium 356.0, cast", 21.5, _TEXTBOOK, 11.9),
)
