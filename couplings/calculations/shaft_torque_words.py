"""What a shaft torque says: the answer to a program and the sentences of the page."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from couplings.engineering.shaft import NEAR
from plant import units

if TYPE_CHECKING:
    from couplings.calculations.shaft_torque import Nearness, ShaftTorqueResult

IN, OUT, UNKNOWN = "in tolerance", "out of tolerance", "not known"


def answer_shaft_torque(result: ShaftTorqueResult, system: str) -> dict[str, Any]:
    """The answer of `POST /api/v1/calculations/shaft-torque/`; null for what was not asked."""
    request, rating = result.request, result.rating
    return {
        "power": units.quantity(request.power_kw, "power", system),
        "speed": units.quantity(request.rpm, "speed", system),
        "torque": units.quantity(request.torque_nm, "torque", system),
        "factor": {
            "value": units.without_dust(request.factor),
            "kind": request.factor_kind or None,
            "source": request.factor_source or None,
        },
        "design_torque": units.quantity(result.design_nm, "torque", system),
        "rated_torque": units.quantity(request.rated_nm, "torque", system),
        "rating_used": None if rating is None else units.without_dust(rating.utilisation),
        # At rest nothing is used and the margin has no end.
        "margin": None if rating is None or math.isinf(rating.margin) else units.without_dust(rating.margin),
        "verdict": verdict(rating.utilisation if rating else None),
        "rim_speed": units.quantity(result.rim_m_s, "rim-speed", system),
        "rim_limit": units.quantity(request.rim_limit_m_s, "rim-speed", system),
        "rim_limit_source": request.rim_source or None,
        "rim_used": rim_used(result),
        "rim_verdict": verdict(rim_used(result)),
        "highest_speed": units.quantity(result.rim_rpm, "speed", system),
        "hoop_stress": units.quantity(result.hoop_mpa, "pressure", system),
        "shear_stress": units.quantity(result.shear_mpa, "pressure", system),
        "design_shear_stress": units.quantity(result.design_shear_mpa, "pressure", system),
        "natural_frequency": units.quantity(result.natural_hz, "frequency", system),
        "separation": [
            {
                "from": one.name,
                "frequency": units.quantity(one.hz, "frequency", system),
                "separation": units.without_dust(one.separation),
            }
            for one in result.near
        ],
        "warnings": list(warnings(result)),
    }


def drawn(result: ShaftTorqueResult, system: str) -> dict[str, Any]:
    """Shares, verdicts and sentences that the page shows beside the figures."""
    rating = result.rating
    return {
        "rating_verdict": verdict(rating.utilisation if rating else None),
        "rating_used": "" if rating is None else units.written(rating.utilisation, "share", system),
        "rim_used": rim_used(result),
        "rim_verdict": verdict(rim_used(result)),
        "factor": f"{result.request.factor:g}",
        "warnings": warnings(result),
        "near": [(one, _away(one, system)) for one in result.near],
    }


def verdict(share: float | None) -> str:
    """Plain acceptance: neither figure carries an uncertainty here."""
    return UNKNOWN if share is None else (IN if share <= 1 else OUT)


def rim_used(result: ShaftTorqueResult) -> float | None:
    """Rim speed over its limit."""
    limit = result.request.rim_limit_m_s
    return None if result.rim_m_s is None or limit is None else units.without_dust(result.rim_m_s / limit)


def warnings(result: ShaftTorqueResult) -> tuple[str, ...]:
    """What to look at, in words."""
    found = []
    if result.rating is not None and not result.request.factor_kind:
        found.append("No factor was given: the torque itself is held against the rating.")
    if result.request.factor_kind == "safety factor":
        found.append("A safety factor divides the strength; see that the rating does not hold one already.")
    for one in result.near:
        if abs(one.separation) < NEAR:
            found.append(
                f"The natural frequency lies within 10 % of the {one.name}: keep it further away (from memory)."
            )
    return tuple(found)


def _away(one: Nearness, system: str) -> str:
    side = "above" if one.separation >= 0 else "below"
    return f"{units.written(abs(one.separation), 'share', system)} {side}"
