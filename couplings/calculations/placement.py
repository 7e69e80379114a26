"""`placement`: where two hubs can stand on their shafts, every way round and with every element, ranked.

dbse                            distance between the shaft ends, cold
hubs: [2]                       name, bore_length, flange (plane behind the flange-side face), reversible,
                                shaft_length (straight), shaft_diameter, protrusion (how far the shaft may stand
                                proud), growth (of the shaft towards the other)
elements: [{name, length}]      the element's width, or the spacer's positions
float                           both rotors towards each other
rules                           engagement_share, one_diameter, clearance (running, of the shaft ends), gap
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from couplings.calculations.placement_form import FORM
from couplings.calculations.placement_words import answer_placement, drawn
from couplings.calculations.request import Request
from couplings.engineering.orientations import (
    STARTER_SHARE,
    Element,
    Hub,
    Placement,
    Range,
    Rules,
    Running,
    placements,
    ranges,
)
from couplings.engineering.placement import PlacementError
from plant.calculations import Calculation
from plant.refusals import Refused

ELEMENTS_AT_MOST = 12
LONGEST = (20_000.0, "No coupling is longer than 20 m: look for a slipped decimal.")
MOVEMENT = (1_000.0, "No shaft grows or floats by more than 1 m: look for a slipped decimal.")


@dataclass(frozen=True)
class PlacementRequest:
    """[mm]"""

    names: tuple[str, str]
    hubs: tuple[Hub, Hub]
    dbse_mm: float
    elements: tuple[Element, ...]
    rules: Rules
    running: Running


@dataclass(frozen=True)
class PlacementResult:
    """Ranked placements, and the DBSE that each orientation serves."""

    request: PlacementRequest
    found: tuple[Placement, ...]
    served: tuple[Range, ...]


def read_placement(payload: Mapping[str, Any]) -> PlacementRequest:
    """Read the request; raises Refused with every error by field path."""
    request = Request(payload)
    dbse = request.quantity("dbse", "size", "Give the distance between the shaft ends.", at_least=0, within=LONGEST)
    hubs, names, growths = _hubs(request)
    elements = _elements(request)
    inward = request.quantity("float", "gap", at_least=0, within=MOVEMENT)
    rules = _rules(request)
    if rules.one_diameter:
        for place, hub in enumerate(hubs):
            if hub.diameter_mm is None:
                request.refuse(f"hubs.{place}.shaft_diameter", "The rule of one diameter needs the shaft's diameter.")
    request.finish()
    request.raise_errors()
    assert dbse is not None  # a missing one has been refused
    return PlacementRequest(
        names=(names[0], names[1]),
        hubs=(hubs[0], hubs[1]),
        dbse_mm=dbse,
        elements=elements,
        rules=rules,
        running=Running(growths[0], growths[1], inward or 0.0),
    )


def compute_placement(request: PlacementRequest) -> PlacementResult:
    """Every orientation with every element, and the ranges; Refused names the field that cannot be used."""
    try:
        found = placements(request.hubs, request.dbse_mm, request.elements, request.rules, request.running)
        served = ranges(request.hubs, request.elements, request.rules, request.running)
    except PlacementError as error:
        raise Refused({error.field: error.message}) from error
    return PlacementResult(request, found, served)


def _hubs(request: Request) -> tuple[list[Hub], list[str], list[float]]:
    rows = list(request.rows("hubs", 2, "Give both hubs."))
    hubs, names, growths = [], [], []
    for number, row in enumerate(rows):
        names.append(row.text("name") or f"side {number + 1}")
        length = row.quantity("bore_length", "size", "Give the length of the bore.", above=0, within=LONGEST)
        flange = row.quantity("flange", "size", within=LONGEST)
        shaft = row.quantity("shaft_length", "size", above=0, within=LONGEST)
        diameter = row.quantity("shaft_diameter", "size", above=0, within=LONGEST)
        protrusion = row.quantity("protrusion", "size", at_least=0, within=LONGEST)
        reversible = row.flag("reversible") if row.has("reversible") else True
        growths.append(row.quantity("growth", "gap", within=MOVEMENT) or 0.0)
        row.finish()
        hubs.append(Hub(length or 1.0, flange or 0.0, shaft, diameter, protrusion, reversible))
    if len(rows) == 1:
        request.refuse("hubs.1.bore_length", "Give both hubs: the length of the second one's bore is missing.")
    return hubs, names, growths


def _elements(request: Request) -> tuple[Element, ...]:
    found = []
    missing = "Give the element's length from flange plane to flange plane, or the spacer's positions."
    rows = list(request.rows("elements", ELEMENTS_AT_MOST, missing))
    for number, row in enumerate(rows):
        name = row.text("name") or ("element" if len(rows) == 1 else f"position {number + 1}")
        length = row.quantity("length", "size", missing, at_least=0, within=LONGEST)
        row.finish()
        found.append(Element(name, length or 0.0))
    return tuple(found)


def _rules(request: Request) -> Rules:
    rules = request.part("rules")
    if rules is None:
        return Rules()
    share = rules.quantity("engagement_share", "share", at_least=0)
    if share is not None and share > 1:
        rules.refuse("engagement_share", "A share of the bore is at most 100 %.")
    clearance = rules.quantity("clearance", "gap", at_least=0, within=MOVEMENT)
    gap = rules.quantity("gap", "size", at_least=0, within=LONGEST)
    one_diameter = rules.flag("one_diameter")
    rules.finish()
    return Rules(STARTER_SHARE if share is None else share, clearance, gap, one_diameter)


def _mm(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "mm"}


EXAMPLE: dict[str, Any] = {
    "dbse": _mm(50),
    "hubs": [
        {"name": "motor", "bore_length": _mm(60), "flange": _mm(8), "shaft_length": _mm(110), "growth": _mm(0.8)},
        {"name": "pump", "bore_length": _mm(60), "flange": _mm(8), "shaft_length": _mm(110), "growth": _mm(0.5)},
    ],
    "elements": [{"name": "element", "length": _mm(46)}],
    "float": _mm(3),
    "rules": {"engagement_share": {"value": 80, "unit": "%"}, "clearance": _mm(1)},
}

PLACEMENT = Calculation(
    name="placement",
    title="Placement of hubs",
    summary="Every way two hubs can stand with an element or spacer: engagement, gap, shaft-end clearance, ranked.",
    reader=read_placement,
    function=compute_placement,
    writer=answer_placement,
    template="couplings/calculations/placement.html",
    form=FORM,
    drawn=drawn,
    example=EXAMPLE,
)
