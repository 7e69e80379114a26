"""The `moves` calculation: its row in the registry, and the request that its documentation shows."""

from __future__ import annotations

from typing import Any

from couplings.calculations.moves_answer import answer_moves, compute_moves
from couplings.calculations.moves_form import MOVES_FORM
from couplings.calculations.moves_page import drawn
from couplings.calculations.moves_request import read_moves
from plant.calculations import Calculation


def _mm(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "mm"}


def _coupling(x: float, right: float) -> dict[str, Any]:
    return {
        "x": _mm(x),
        "offset": {"vertical": _mm(0), "horizontal": _mm(right)},
        "angularity": {"vertical": {"value": 0, "unit": "mm/m"}, "horizontal": {"value": 0, "unit": "mm/m"}},
        "limits": {"offset": _mm(0.05), "angularity": {"value": 0.5, "unit": "mm/m"}},
    }


def _machine(name: str, first: float, second: float) -> dict[str, Any]:
    bounds = {"down": _mm(1.0), "sideways": _mm(2.0)}
    return {"name": name, "feet": [{"x": _mm(x), "at_most": bounds} for x in (first, second)]}


# A gear that stands 0.2 mm to the left of both its neighbours, which are in line with each other.
EXAMPLE: dict[str, Any] = {
    "objective": "fewest-feet",
    "share": 0.5,
    "machines": [_machine("motor", 0, 500), _machine("gear", 900, 1200), _machine("compressor", 1600, 2400)],
    "couplings": [_coupling(700, 0.2), _coupling(1400, -0.2)],
}

MOVES = Calculation(
    name="moves",
    title="Moves of a train",
    summary="Two to six machines on one datum: the least that brings every coupling in, or what stands in the way.",
    reader=read_moves,
    function=compute_moves,
    writer=answer_moves,
    template="couplings/calculations/moves.html",
    form=MOVES_FORM,
    drawn=drawn,
    example=EXAMPLE,
)
