"""Labels with figures as a page prints them; fits need thousandths where misalignment needs hundredths."""

from __future__ import annotations

from typing import Any

from couplings.engineering.tables.coefficients import Coefficient
from plant import units

Figure = tuple[str, str]
# A fit is measured to a micrometre or a ten-thousandth of an inch.
FINE = {"metric": {"gap": 3, "size": 3}, "us": {"gap": 2, "size": 4}}


def fine(base: float | None, kind: str, system: str, signed: bool = False) -> str:
    """A length to the digits in which fits are measured."""
    return units.written(base, kind, system, signed=signed, decimals=FINE[system].get(kind))


def between(low: float, high: float, kind: str, system: str, signed: bool = False) -> str:
    """A range, such as from −0.021 mm to +0.028 mm."""
    return f"{fine(low, kind, system, signed)} to {fine(high, kind, system, signed)}"


def coefficient_row(used: Coefficient, system: str) -> dict[str, Any]:
    """A coefficient of thermal expansion as answers give it, per degree of the thermometer asked for."""
    per = 1.0 if system == units.METRIC else 1.8
    return {
        "name": used.material,
        "coefficient": units.without_dust(used.alpha / per),
        "standard_uncertainty": units.without_dust(used.alpha_u / per),
        "unit": "1e-6/degC" if system == units.METRIC else "1e-6/degF",
        "source": used.source,
        "source_mark": used.mark,
    }
