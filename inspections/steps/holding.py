"""What the set screws step tells: what the screws of each hub hold against the shaft's torque, as advice."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from couplings.selectors import HoldingAdvice, holding_advice
from inspections.models import Visit
from inspections.models.findings import SIDES
from inspections.steps.registry import Typed
from plant import units


@dataclass(frozen=True)
class HoldingTold:
    """What the set screws of each side hold against the shaft's torque, as advice."""

    sides: tuple[tuple[str, HoldingAdvice], ...]
    sentences: tuple[str, ...]
    above: str = ""
    below: str = "inspections/fragments/holding.html"

    def answer(self, system: str) -> dict[str, Any]:
        return {"sides": [_held(side, one, system) for side, one in self.sides]}


def holding_told(visit: Visit, typed: Typed) -> HoldingTold:
    sides = []
    for side, _words in SIDES:
        text = typed.get(f"{side}_count", "").strip()
        count = int(text) if text.isascii() and text.isdigit() and len(text) <= 2 else None
        sides.append((side, holding_advice(visit.sheet_version, visit.coupling, count)))
    sentences = tuple(
        f"{words[0].upper()}{words[1:]}: {one.sentence(visit.site.units)}"
        for (_side, one), (_key, words) in zip(sides, SIDES, strict=True)
    )
    return HoldingTold(tuple(sides), sentences)


def _held(side: str, one: HoldingAdvice, system: str) -> dict[str, Any]:
    held = one.held
    return {
        "side": side,
        "count": one.count,
        "axial": units.quantity(held.axial_n, "force", system) if held is not None else None,
        "torsional": units.quantity(held.torsional_nm, "torque", system) if held is not None else None,
        "torsional_allowed": units.quantity(held.torsional_allowed_nm, "torque", system) if held is not None else None,
        "shaft_torque": units.quantity(one.torque_nm, "torque", system),
        "share": units.quantity(one.share, "share", system),
        "design_factor": one.design_factor,
        "source": one.source,
        "sentence": one.sentence(system),
    }
