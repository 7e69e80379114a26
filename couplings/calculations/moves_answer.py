"""From a train's request to its moves, and from the moves to the answer in the units asked for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from couplings.calculations.moves_request import MovesRequest
from couplings.engineering.alignment import AlignmentError, Misalignment, flex_angles
from couplings.engineering.trains import CouplingLeft, Held, Relaxation, TrainCoupling, TrainMoves, train_moves
from couplings.engineering.trains_shims import RoundedMoves, rounded_moves
from couplings.engineering.trains_sure import enough, sure_moves
from plant import units
from plant.refusals import Refused

FRAME = "up, and right as seen from the driver end"


@dataclass(frozen=True)
class MovesResult:
    """The request with what was found."""

    request: MovesRequest
    found: TrainMoves
    rounded: RoundedMoves | None = None

    @property
    def touched(self) -> int:
        """Foot planes that have to be touched."""
        return sum(move.moves for move in self.found.moves)


def compute_moves(request: MovesRequest) -> MovesResult:
    """Search; Refused says which field of the train cannot be used and why."""
    train = request.train
    try:
        if request.confidence is None:
            found = train_moves(train, request.objective, request.share)
        else:
            found = sure_moves(train, request.objective, request.share, request.confidence)
        stock = request.shim_stock_mm
        return MovesResult(
            request, found, rounded_moves(train, found, stock) if stock is not None and found.feasible else None
        )
    except AlignmentError as error:
        raise Refused(error.errors) from error


def answer_moves(result: MovesResult, system: str) -> dict[str, Any]:
    """The answer of `POST /api/v1/calculations/moves/`; null for a plane that was not measured."""
    request, found = result.request, result.found
    train, sizes = request.train, found.sizes_mm
    counted = found.objective == "fewest-feet"
    return {
        "objective": found.objective,
        "share": units.without_dust(found.share),
        "confidence": request.confidence,
        "frame": FRAME,
        "feasible": found.feasible,
        "reason": reason(result, system),
        "value": _value(found.value, counted, system),
        "bound": _value(found.bound, counted, system),
        "gap": _value(found.gap, counted, system),
        "total": units.quantity(sum(sizes), "gap", system) if found.feasible else None,
        "largest": units.quantity(max(sizes), "gap", system) if found.feasible else None,
        "feet_moved": result.touched if found.feasible else None,
        "machines": [
            {
                "name": machine.name,
                "fixed": machine.fixed,
                "feet": [
                    {
                        "name": foot.name,
                        "x": units.quantity(foot.x_mm, "size", system),
                        **_move(found, place, n, system),
                    }
                    for n, foot in enumerate(machine.feet)
                ],
            }
            for place, machine in enumerate(train.machines)
        ],
        "couplings": [
            {
                "between": [train.machines[place].name, train.machines[place + 1].name],
                "x": units.quantity(coupling.x_mm, "size", system),
                "before": _left(coupling, found.before[place], system),
                "after": _left(coupling, found.after[place], system) if found.feasible else None,
            }
            for place, coupling in enumerate(train.couplings)
        ],
        "rounded": answer_rounded(result, system) if result.rounded is not None else None,
        "relaxations": [_relaxation(result, one, system) for one in found.relaxations],
        "nearest_share": None if found.nearest_share is None else units.without_dust(found.nearest_share),
    }


def _value(value: float | None, counted: bool, system: str) -> Any:
    """Of the objective: a number of foot planes, or a length."""
    if value is None:
        return None
    return units.without_dust(value) if counted else units.quantity(value, "gap", system)


def _move(found: TrainMoves, place: int, number: int, system: str) -> dict[str, Any]:
    move = next((one for one in found.moves if (one.machine, one.foot) == (place, number)), None)
    if move is None:
        return {"up": None, "right": None, "at_bound": []}
    return {
        "up": units.quantity(move.up_mm, "gap", system),
        "right": units.quantity(move.right_mm, "gap", system),
        "at_bound": list(move.at_bound),
    }


def _left(coupling: TrainCoupling, left: CouplingLeft, system: str) -> dict[str, Any]:
    """Misalignment in the record's frame, and measured from the target what it uses of the limits."""
    v, h, sv, sh = left.misalignment
    angles = None
    if coupling.flex_planes_mm is not None:
        a_v, a_h, b_v, b_h = flex_angles(
            Misalignment.of(left.misalignment, np.zeros((4, 4))), *coupling.flex_planes_mm
        )[0]
        angles = [
            {"plane": "A", **_vector(a_v, a_h, "slope", system)},
            {"plane": "B", **_vector(b_v, b_h, "slope", system)},
        ]
    return {
        "offset": _vector(v, h, "gap", system),
        "angularity": _vector(sv, sh, "slope", system),
        "flex_angles": angles,
        "tolerance_used": None if left.used is None else units.without_dust(left.used),
        "probability_in_tolerance": None if left.probability is None else units.without_dust(left.probability),
        "limits": [_held(one, system) for one in left.held],
    }


def _vector(vertical: float, horizontal: float, kind: str, system: str) -> dict[str, Any]:
    return {
        "vertical": units.quantity(vertical, kind, system),
        "horizontal": units.quantity(horizontal, kind, system),
        "magnitude": units.quantity(math.hypot(vertical, horizontal), kind, system),
    }


def _held(one: Held, system: str) -> dict[str, Any]:
    kind, summed = "gap" if one.quantity == "offset" else "slope", one.quantity == "combined"
    return {
        "quantity": one.quantity,
        "plane": one.plane or None,
        "value": None if summed else units.quantity(one.value, kind, system),
        "limit": None if summed else units.quantity(one.limit, kind, system),
        "tolerance_used": units.without_dust(one.share),
    }


def answer_rounded(result: MovesResult, system: str) -> dict[str, Any]:
    """The moves in whole shims, and what is then left at every coupling."""
    rounded, train = result.rounded, result.request.train
    assert rounded is not None
    return {
        "shim_stock": units.quantity(rounded.stock_mm, "gap", system),
        "keeps_limits": not rounded.broken,
        "nearest_steps_kept_limits": not rounded.nearest_broke,
        "reason": rounded_words(result, system),
        "machines": [
            {
                "name": machine.name,
                "feet": [
                    {
                        "name": machine.feet[one.foot].name,
                        "up": units.quantity(one.up_mm, "gap", system),
                        "right": units.quantity(one.right_mm, "gap", system),
                        "stands_off": units.quantity(one.stands_off_mm, "gap", system),
                    }
                    for one in rounded.feet
                    if one.machine == place
                ],
            }
            for place, machine in enumerate(train.machines)
        ],
        "couplings": [_left(one, rounded.after[place], system) for place, one in enumerate(train.couplings)],
    }


def rounded_words(result: MovesResult, system: str) -> str:
    """What rounding to the shim stock does, as a sentence or two."""
    rounded = result.rounded
    assert rounded is not None
    step = units.written(rounded.stock_mm, "gap", system)
    names = [machine.name for machine in result.request.train.machines]

    def listed(places: tuple[int, ...]) -> str:
        return "; ".join(f"{names[place]} to {names[place + 1]}" for place in places)

    if not rounded.nearest_broke:
        return f"Rounded to shims of {step}, every coupling stays within that share of its limits."
    broke = f"Each foot's nearest step of {step} puts a coupling beyond it: {listed(rounded.nearest_broke)}."
    if rounded.broken:
        return f"{broke} No whole steps keep every coupling: use thinner shims, or more of the limits."
    return f"{broke} Other whole steps were found that keep every coupling."


def _relaxation(result: MovesResult, one: Relaxation, system: str) -> dict[str, Any]:
    machine = result.request.train.machines[one.machine]
    return {
        "machine": machine.name,
        "foot": machine.feet[one.foot].name,
        "way": one.way,
        "bound": units.quantity(one.bound_mm, "gap", system),
        "by": units.quantity(one.by_mm, "gap", system),
        "words": relaxation_words(result, one, system),
    }


def relaxation_words(result: MovesResult, one: Relaxation, system: str) -> str:
    """Which bound of which foot would have to give, and by how much."""
    machine = result.request.train.machines[one.machine]
    by, bound = (units.written(value, "gap", system) for value in (one.by_mm, one.bound_mm))
    foot = f"{machine.name}, {machine.feet[one.foot].name}"
    if one.fixed:
        return f"{foot}: {by} {one.way}, and the machine may not be moved."
    if one.way == "down":
        return f"{foot}: {by} more to take out than the {bound} of shims that lie there."
    if one.way == "up":
        return f"{foot}: {by} more upwards than the {bound} allowed."
    return f"{foot}: {by} more to the {one.way} than the {bound} that the bolts leave."


def reason(result: MovesResult, system: str) -> str:
    """The answer as a sentence."""
    found = result.found
    goal = "exactly to its target" if _exact(result) else f"within {_percent(found.share)} of its limits"
    if not found.feasible:
        said = f"No set of moves within these bounds brings every coupling {goal}."
        if found.nearest_share is not None:
            said += f" The nearest they allow is {_percent(found.nearest_share, up=True)} of the limits."
        return said
    if not result.touched:
        goal = goal.replace("exactly to", "exactly on")
        return f"Nothing has to move: every coupling already lies {goal}.{_sure(result)}"
    total, largest = (units.written(of(found.sizes_mm), "gap", system) for of in (sum, max))
    feet = f"{result.touched} of {len(found.moves)} foot planes"
    return f"Moves of {total} in all, {largest} at most, at {feet}, bring every coupling {goal}.{_sure(result)}"


def _sure(result: MovesResult) -> str:
    """How sure that is, where the uncertainty of what was measured was given."""
    found, wanted = result.found, result.request.confidence
    known = [one.probability for one in found.after if one.probability is not None]
    if not known:
        return ""
    if wanted is None:
        return f" The least sure coupling is then in with a probability of {_percent(min(known), down=True)}."
    if enough(found, wanted):
        used = ""
        if found.share < result.request.share - 1e-9:
            used = f" That is why no more than {_percent(found.share)} of the limits is used."
        return f" Each is then in with a probability of {_percent(wanted)} or more.{used}"
    return (
        f" No moves reach the probability of {_percent(wanted)} that was asked for; the least sure coupling reaches "
        f"{_percent(min(known), down=True)}: read it again with less uncertainty."
    )


def _exact(result: MovesResult) -> bool:
    couplings = result.request.train.couplings
    return result.found.share == 0 or not any(coupling.limits for coupling in couplings)


def _percent(share: float, *, up: bool = False, down: bool = False) -> str:
    """Whole per cent; what was only just missed is not rounded to what would have been reached."""
    hundred = share * 100
    whole = math.ceil(hundred - 1e-6) if up else math.floor(hundred + 1e-6) if down else hundred
    return f"{whole:.0f}\u00a0%"
