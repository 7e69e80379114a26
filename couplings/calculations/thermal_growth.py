"""`thermal-growth`: growth per foot and the cold target, or a survey taken warm brought to its reference state.

method target   thermal_request.py, temperatures cold and hot; with offset and angularity: also the moves
method survey   thermal_request.py, temperatures at_survey and reference; offset and angularity as measured
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from couplings.calculations.alignment_answer import measured, position
from couplings.calculations.figures import coefficient_row
from couplings.calculations.picture import picture_of
from couplings.calculations.thermal_form import FORM
from couplings.calculations.thermal_request import EXAMPLE, ThermalRequest, read_thermal_growth
from couplings.engineering.alignment import AlignmentError, Misalignment, at, direct
from couplings.engineering.moves import FootMove, foot_moves
from couplings.engineering.thermal import Growth, cold_target, corrected, growth_of, relative_growth
from plant import units
from plant.calculations import Calculation
from plant.refusals import Refused

NOTHING = (0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True)
class GrownFoot:
    """One foot plane: how much it rises, and for the movable machine how high it has to stand cold. [mm]"""

    name: str
    x_mm: float
    rise_mm: float
    rise_u_mm: float
    target_mm: float | None = None
    target_u_mm: float | None = None


@dataclass(frozen=True)
class ThermalResult:
    """Growth of both machines and what follows from it, in mm and mrad.

    `target` is what the movable shaft has to be cold (method target); `corrected` the survey in its reference state
    (method survey). `moves` bring the measured shaft to the target, or the corrected one to zero.
    """

    request: ThermalRequest
    stationary: tuple[GrownFoot, ...]
    movable: tuple[GrownFoot, ...]
    relative: Misalignment
    target: Misalignment | None
    measured: Misalignment | None
    corrected: Misalignment | None
    moves: tuple[FootMove, ...]


def compute_thermal_growth(request: ThermalRequest) -> ThermalResult:
    """Growth, then target or correction, then moves; Refused says which field cannot be used."""
    try:
        return _computed(request)
    except AlignmentError as error:
        raise Refused(error.errors) from error


def _computed(request: ThermalRequest) -> ThermalResult:
    stationary, movable = request.stationary, request.movable
    relative = relative_growth(stationary, movable)
    growth = growth_of([*stationary, *movable])
    surveyed = None
    if request.survey is not None:
        surveyed = direct(
            request.survey.first,
            request.survey.second,
            offset_u_mm=request.survey.first_u,
            slope_u_mrad=request.survey.second_u,
        ).misalignment
    planes = [(support.name, support.x_mm) for support in movable]
    target = cold_target(stationary, movable) if request.method == "target" else None
    now = corrected(surveyed, stationary, movable) if request.method == "survey" and surveyed is not None else None
    moves: tuple[FootMove, ...] = ()
    if target is not None and surveyed is not None and planes:
        # The target's own uncertainty belongs to the moves too.
        spread = surveyed.covariance_array + target.covariance_array
        moves = tuple(foot_moves(Misalignment.of(surveyed.mean, spread), planes, target.mean))
    elif now is not None and planes:
        moves = tuple(foot_moves(now, planes, NOTHING))
    return ThermalResult(
        request,
        _feet(request.stationary, growth, 0, None),
        _feet(request.movable, growth, len(stationary), target),
        relative,
        target,
        surveyed,
        now,
        moves,
    )


def _feet(supports: Any, growth: Growth, first: int, target: Misalignment | None) -> tuple[GrownFoot, ...]:
    feet = []
    for place, support in enumerate(supports, first):
        wanted = wanted_u = None
        if target is not None:
            mean, spread = at(target, support.x_mm)
            wanted, wanted_u = float(mean[0]) + 0.0, float(max(0.0, spread[0, 0])) ** 0.5
        rise, u = float(growth.rise_mm[place]), float(growth.u_mm[place])
        feet.append(GrownFoot(support.name, support.x_mm, rise, u, wanted, wanted_u))
    return tuple(feet)


def answer_thermal_growth(result: ThermalResult, system: str) -> dict[str, Any]:
    """The answer in the units asked for; null for what was not asked."""
    request = result.request
    return {
        "method": request.method,
        "stationary": [_foot(foot, system) for foot in result.stationary],
        "movable": [_foot(foot, system) for foot in result.movable],
        "relative_movement": _position(result.relative, system),
        "target": _position(result.target, system),
        "corrected": _position(result.corrected, system),
        "moves": [
            {
                "name": move.name,
                "x": units.quantity(move.x_mm, "size", system),
                "up": measured(move.up_mm, move.up_u_mm, "gap", system),
                "right": measured(move.right_mm, move.right_u_mm, "gap", system),
            }
            for move in result.moves
        ],
        "coefficients": [coefficient_row(used, system) for used in request.coefficients],
        "starter_uncertainties": sorted(request.starters),
    }


def _position(found: Misalignment | None, system: str) -> dict[str, Any] | None:
    if found is None:
        return None
    answer = position(found, None, system)
    del answer["flex_angles"]
    return answer


def _foot(foot: GrownFoot, system: str) -> dict[str, Any]:
    return {
        "name": foot.name,
        "x": units.quantity(foot.x_mm, "size", system),
        "growth": measured(foot.rise_mm, foot.rise_u_mm, "gap", system),
        "stands_cold": measured(foot.target_mm, foot.target_u_mm, "gap", system),
    }


def drawn(result: ThermalResult, system: str) -> dict[str, Any]:
    """The shafts: as measured against the target, or the target itself, or as corrected."""
    shown = result.corrected or result.measured or result.target
    if shown is None or not (shown.has_vertical or shown.has_horizontal):
        return {}
    picture = picture_of(
        shown,
        result.target.mean if result.target is not None else NOTHING,
        None,
        (),
        result.moves,
        stationary="stationary",
        movable="movable",
        system=system,
    )
    per = 1.0 if system == units.METRIC else 1.8
    used = [(one, f"{one.alpha / per:.2f}", f"{one.alpha_u / per:.2f}") for one in result.request.coefficients]
    return {"picture": picture, "used": used}


THERMAL_GROWTH = Calculation(
    name="thermal-growth",
    title="Thermal growth",
    summary="How far supports grow, how low to set a machine cold, and what a survey taken warm would be cold.",
    reader=read_thermal_growth,
    function=compute_thermal_growth,
    writer=answer_thermal_growth,
    template="couplings/calculations/thermal_growth.html",
    form=FORM,
    drawn=drawn,
    example=EXAMPLE,
)
