"""The `moves` request: a train of two to six machines, from JSON to the dataclasses of the engineering room.

    machines   [{name, fixed, feet: [{name, x, at_most: {down, up, left, right, sideways}}]}], from the driver end on
    couplings  [{x, stationary, offset, angularity, target, flex_planes or flex_distance, limits}], one between each two
    objective  least-total, least-largest or fewest-feet
    share      of the limits that may be used, 0 to 1

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

SIDES = ("driven", "driver")
FEET_AT_MOST = 4
MACHINES_AT_MOST = 6
ORDINALS = ("first", "second", "third", "fourth")
AXIAL = "Moves of the feet serve offset, angularity and flex angles: set the gap by itself."


@dataclass(frozen=True)
class MovesRequest:
    """A train and what its moves are to serve."""

    train: Train
    objective: str = OBJECTIVES[0]
    share: float = 1.0


def read_moves(payload: Mapping[str, Any]) -> MovesRequest:
    """Read the request of `POST /api/v1/calculations/moves/`; raises Refused with every error by field path."""
    request = Request(payload)
    objective = request.choice("objective", OBJECTIVES, OBJECTIVES[0]) or OBJECTIVES[0]
    share = request.number("share")
    if share is not None and not 0.0 <= share <= 1.0:
        request.refuse("share", "A share between 0 and 1 is expected, such as 0.8.")
    missing = "Give the machines from the driver end on, two to six."
    machines = tuple(_machine(row, n) for n, row in enumerate(request.rows("machines", MACHINES_AT_MOST, missing)))
    missing = "Give the coupling between every two machines, from the driver end on."
    couplings = tuple(_coupling(row) for row in request.rows("couplings", MACHINES_AT_MOST - 1, missing))
    request.finish()
    request.raise_errors()
    return MovesRequest(Train(machines, couplings), objective, 1.0 if share is None else share)


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
    offset = _vector(row, "offset", "gap", TRAVEL)
    slope = _vector(row, "angularity", "slope", STEEP)
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
    return TrainCoupling(
        math.nan if x is None else x,
        _recorded((*offset, *slope), stationary),
        _recorded(target, stationary),
        Limits(judged.limits, judged.rule, judged.combined) if judged else None,
        planes,
    )


def _vector(row: Request, key: str, kind: str, within: tuple[float, str]) -> tuple[float, float]:
    """(vertical, horizontal); nan where a plane was not measured."""
    part = row.part(key, "Give what was measured at this coupling, vertical and horizontal, or one of them.")
    if part is None:
        return math.nan, math.nan
    found = [part.quantity(word, kind, within=within) for word in ("vertical", "horizontal")]
    part.finish()
    vertical, horizontal = (math.nan if value is None else value for value in found)
    return vertical, horizontal


def _recorded(numbers: tuple[float, ...], stationary: str) -> tuple[float, float, float, float]:
    return to_record(Misalignment.of(numbers, np.zeros((4, 4))), stationary).mean


def _flex_planes(row: Request) -> tuple[float, float] | None:
    """Where they lie about the centre, or how far apart when they lie evenly about it."""
    long = row.quantity("flex_distance", "size", above=0, within=FAR)
    if long is not None and row.has("flex_planes"):
        row.refuse("flex_distance", "Give the flex planes or the distance between them, not both.")
    return read_flex_planes(row) if row.has("flex_planes") else (None if long is None else (-long / 2, long / 2))
