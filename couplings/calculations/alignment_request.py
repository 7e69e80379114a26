"""The `alignment` request: from JSON to the numbers of couplings.engineering, with the path of every refused field.

    method, viewed_from, decision, confidence
    reading_sets  alignment_sets.py
    offset, angularity or flex_angles, for the method direct   alignment_direct.py
    feet, flex_planes, target, axial, limits   alignment_terms.py
    temperatures  alignment_temperatures.py

Clock positions, and the horizontal values of the method direct, are as the observer of `viewed_from` sees them; the
target is always as the observer at the movable machine sees it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from couplings.calculations.alignment_direct import Direct, read_direct
from couplings.calculations.alignment_sets import read_sets
from couplings.calculations.alignment_temperatures import Temperatures, read_temperatures
from couplings.calculations.alignment_terms import (
    Axial,
    JudgedBy,
    read_axial,
    read_feet,
    read_flex_planes,
    read_limits,
    read_target,
)
from couplings.calculations.request import Request
from couplings.engineering.alignment import METHODS, ReadingSet

VIEWS = ("movable", "stationary")
DECISIONS = ("guarded", "simple")
CONFIDENCE = 0.95  # starter


@dataclass(frozen=True)
class AlignmentRequest:
    """Everything an alignment is computed from, in mm and mrad."""

    method: str
    viewed_from: str = "movable"
    decision: str = "guarded"
    confidence: float = CONFIDENCE
    sets: tuple[ReadingSet, ...] = ()
    direct: Direct | None = None
    feet: tuple[tuple[str, float], ...] = ()
    flex_planes_mm: tuple[float, float] | None = None
    judged_by: JudgedBy | None = None
    target: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    axial: Axial | None = None
    temperatures: Temperatures | None = None
    starters: frozenset[str] = frozenset()  # paths of the uncertainties that were not given


def read_alignment(payload: Mapping[str, Any]) -> AlignmentRequest:
    """Read the request of `POST /api/v1/calculations/alignment/`; raises Refused with every error by field path."""
    request = Request(payload)
    starters: set[str] = set()
    method = request.choice("method", tuple(METHODS), missing="Say by which method the readings were taken.")
    viewed_from = request.choice("viewed_from", VIEWS, "movable") or "movable"
    decision = request.choice("decision", DECISIONS, "guarded") or "guarded"
    confidence = _confidence(request)
    planes = read_flex_planes(request)
    sets: tuple[ReadingSet, ...] = ()
    direct: Direct | None = None
    if method == "direct":
        if request.has("reading_sets"):
            request.refuse("reading_sets", "The method direct takes offset and angularity, not readings.")
        direct = read_direct(request, starters)
    else:
        for key in ("offset", "angularity", "flex_angles"):
            if request.has(key):
                request.refuse(key, "Only the method direct takes this; the others compute it from readings.")
        sets = read_sets(request, method, starters)
    _planes_needed(request, method)
    feet = read_feet(request)
    axial = read_axial(request, starters)
    judged_by = read_limits(request, axial)
    target = read_target(request)
    temperatures = read_temperatures(request, starters)
    request.finish()
    request.raise_errors()
    assert method is not None  # a missing method has been refused
    return AlignmentRequest(
        method=method,
        viewed_from=viewed_from,
        decision=decision,
        confidence=confidence,
        sets=sets,
        direct=direct,
        feet=feet,
        flex_planes_mm=planes,
        judged_by=judged_by,
        target=target,
        axial=axial,
        temperatures=temperatures,
        starters=frozenset(starters),
    )


def _confidence(request: Request) -> float:
    confidence = request.number("confidence")
    if confidence is None:
        return CONFIDENCE
    if not 0.5 < confidence < 1:
        request.refuse("confidence", "A probability between 0.5 and 1 is expected, such as 0.95.")
    return confidence


def _planes_needed(request: Request, method: str | None) -> None:
    if request.has("flex_planes"):
        return
    if method in METHODS and METHODS[method].needs_flex_planes:
        request.refuse("flex_planes", "This method reads at the flex planes: say where they lie.")
    elif request.has("flex_angles"):
        request.refuse("flex_planes", "Flex angles need the positions of the flex planes.")
    elif isinstance(request.given("limits"), Mapping) and request.given("limits").get("flex_angle") is not None:
        request.refuse("flex_planes", "A limit on the flex angle needs the positions of the flex planes.")
