"""The `moves` request: a train of two to six machines, from JSON to the dataclasses of the engineering room.

    machines   [{name, fixed, feet: [{name, x, at_most: {down, up, left, right, sideways}}]}], from the driver end on
    couplings  [{x, stationary, offset, angularity, target, flex_planes or flex_distance, limits}], one between each
               two; each component of offset and angularity may carry its standard_uncertainty
    objective  least-total, least-largest or fewest-feet
    share      of the limits that may be used, 0 to 1
    confidence  with which every coupling is to be in after the moves: less of the limits is then used, as it takes
    shim_stock  step of the site's shims, to which the moves up and down are rounded

`x` runs from the driver end along the train; right is as seen from the driver end. Offset and angularity are those of
the record, driver-side shaft relative to driven-side shaft; with `stationary` driver they are as a crew measured them
that moved the driven machine and stood behind it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from couplings.calculations.alignment_direct import STEEP
from couplings.calculations.alignment_sets import FAR, TRAVEL, WIDE
from couplings.calculations.alignment_terms import read_flex_planes, read_limits, read_target
from couplings.calculations.request import Request
from couplings.engineering.alignment import Misalignment, to_record
from couplings.engineering.alignment.frames import swapped_planes
from couplings.engineering.conformity import Limits
from couplings.engineering.trains import OBJECTIVES, FootPlane, Train, TrainCoupling, TrainMachine
from couplings.engineering.trains_geometry import Four

SIDES = ("driven", "driver")
FEET_AT_MOST = 4
MACHINES_AT_MOST = 6
ORDINALS = ("first", "second", "third", "fourth")
THICK = (25.0, "This is more than 25 mm for one step of shims: is the unit right?")
AXIAL = "Moves of the feet serve offset, angularity and flex angles: set the gap by itself."


@dataclass(frozen=True)
class MovesRequest:
    """A train and what its moves are to serve."""

    train: Train
    objective: str = OBJECTIVES[0]
    share: float = 1.0
    confidence: float | None = None
    shim_stock_mm: float | None = None


def read_moves(payload: Mapping[str, Any]) -> MovesRequest:
    """Read the request of `POST /api/v1/calculations/moves/`; raises Refused with every error by field path."""
    request = Request(payload)
    objective = request.choice("objective", OBJECTIVES, OBJECTIVES[0]) or OBJECTIVES[0]
    share = request.number("share")
    if share is not None and not 0.0 <= share <= 1.0:
        request.refuse("share", "A share between 0 and 1 is expected, such as 0.8.")
    confidence = request.number("confidence")
    if confidence is not None and not 0.5 < confidence < 1.0:
        request.refuse("confidence", "A probability between 0.5 and 1 is expected, such as 0.95.")
    stock = request.quantity("shim_stock", "gap", above=0, within=THICK)
    missing = "Give the machines from the driver end on, two to six."
    machines = tuple(_machine(row, n) for n, row in enumerate(request.rows("machines", MACHINES_AT_MOST, missing)))
    missing = "Give the coupling between every two machines, from the driver end on."
    couplings = tuple(_coupling(row) for row in request.rows("couplings", MACHINES_AT_MOST - 1, missing))
    request.finish()
    request.raise_errors()
    return MovesRequest(Train(machines, couplings), objective, 1.0 if share is None else share, confidence, stock)


def _machine(row: Request, place: int) -> TrainMachine:
    name = row.text("name") or f"machine {place + 1}"
    fixed = row.flag("fixed")
    feet = []
    for number, foot in enumerate(row.rows("feet", FEET_AT_MOST, "Give the machine's foot planes, two to four.")):
        x = foot.quantity("x", "size", "Say where the foot plane stands along the train.", within=FAR)
        named = foot.text("name") or f"{ORDINALS[number]} feet"
        bounds = _bounds(foot)
        foot.finish()
        feet.append(FootPlane(named, math.nan if x is None else x, **bounds))
    row.finish()
    return TrainMachine(name, tuple(feet), fixed)


def _bounds(foot: Request) -> dict[str, float]:
    """How far the foot may go each way; what is not said is free."""
    part = foot.part("at_most")
    if part is None:
        return {}
    found = {
        way: part.quantity(way, "gap", at_least=0, within=WIDE) for way in ("down", "up", "left", "right", "sideways")
    }
    both = found.pop("sideways")
    for way in ("left", "right"):
        if both is not None and found[way] is not None:
            part.refuse("sideways", "Give sideways for both ways, or left and right, not both.")
        found[way] = both if found[way] is None else found[way]
    part.finish()
    return {f"{way}_mm": most for way, most in found.items() if most is not None}


def _coupling(row: Request) -> TrainCoupling:
    x = row.quantity("x", "size", "Say where the coupling's centre stands along the train.", within=FAR)
    stationary = row.choice("stationary", SIDES, SIDES[0]) or SIDES[0]
    offset, offset_u = _vector(row, "offset", "gap", TRAVEL)
    slope, slope_u = _vector(row, "angularity", "slope", STEEP)
    target = read_target(row)
    planes = _flex_planes(row)
    if row.has("axial"):
        row.refuse("axial", AXIAL)
    judged = read_limits(row, None)
    if judged and any(limit.quantity == "axial" for limit in judged.limits):
        row.refuse("limits.axial", AXIAL)
    if judged and planes is None and any(limit.quantity == "flex-angle" for limit in judged.limits):
        row.refuse("flex_distance", "A limit on the flex angle needs the flex planes, or the distance between them.")
    row.finish()
    if stationary == "driver":
        planes = swapped_planes(planes) if planes else None
    found = _recorded((*offset, *slope), stationary)
    return TrainCoupling(
        math.nan if x is None else x,
        found,
        _recorded(target, stationary),
        Limits(judged.limits, judged.rule, judged.combined) if judged else None,
        planes,
        _covariance(row, found, (*offset_u, *slope_u)),
    )


Pair = tuple[float, float]


def _vector(row: Request, key: str, kind: str, within: tuple[float, str]) -> tuple[Pair, Pair]:
    """(vertical, horizontal) and their standard uncertainties; nan where a plane was not measured, or nothing said."""
    part = row.part(key, "Give what was measured at this coupling, vertical and horizontal, or one of them.")
    if part is None:
        return (math.nan, math.nan), (math.nan, math.nan)
    found = [_component(part, word, kind, within) for word in ("vertical", "horizontal")]
    part.given("magnitude")  # an answer may be sent back as it came; its magnitude follows from the components
    part.finish()
    (vertical, vertical_u), (horizontal, horizontal_u) = found
    return (vertical, horizontal), (vertical_u, horizontal_u)


def _component(part: Request, word: str, kind: str, within: tuple[float, str]) -> Pair:
    given = part.given(word)
    stated = given.get("standard_uncertainty") if isinstance(given, Mapping) else None
    if isinstance(given, Mapping):
        given = {key: item for key, item in given.items() if key != "standard_uncertainty"}
    value = Request({word: given}, part.path, part.errors).quantity(word, kind, within=within)
    about = Request({"standard_uncertainty": stated}, part.at(word), part.errors)
    u = about.quantity("standard_uncertainty", kind, above=0, within=within)
    return (math.nan if value is None else value), (math.nan if u is None else u)


def _covariance(row: Request, found: Four, stated: tuple[float, ...]) -> tuple[Four, Four, Four, Four] | None:
    """From uncertainties of independent components; signs of a frame do not touch a diagonal."""
    if not any(math.isfinite(u) for u in stated):
        return None
    for number, (value, u) in enumerate(zip(found, stated, strict=True)):
        if math.isfinite(value) and not math.isfinite(u):
            word = ("vertical", "horizontal")[number % 2]
            row.refuse(
                f"{('offset', 'angularity')[number // 2]}.{word}.standard_uncertainty",
                "Give the standard uncertainty of every figure of this coupling, or of none.",
            )
    a, b, c, d = (u * u if math.isfinite(u) else math.nan for u in stated)
    return ((a, 0.0, 0.0, 0.0), (0.0, b, 0.0, 0.0), (0.0, 0.0, c, 0.0), (0.0, 0.0, 0.0, d))


def _recorded(numbers: tuple[float, ...], stationary: str) -> Four:
    return to_record(Misalignment.of(numbers, np.zeros((4, 4))), stationary).mean


def _flex_planes(row: Request) -> tuple[float, float] | None:
    """Where they lie about the centre, or how far apart when they lie evenly about it."""
    long = row.quantity("flex_distance", "size", above=0, within=FAR)
    if long is not None and row.has("flex_planes"):
        row.refuse("flex_distance", "Give the flex planes or the distance between them, not both.")
    return read_flex_planes(row) if row.has("flex_planes") else (None if long is None else (-long / 2, long / 2))
