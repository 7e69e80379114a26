"""From an alignment request to its result, and from the result to the answer in the units asked for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from couplings.calculations.alignment_request import AlignmentRequest
from couplings.calculations.alignment_temperatures import Corrected, correct
from couplings.calculations.figures import coefficient_row
from couplings.engineering.alignment import (
    AlignmentError,
    Misalignment,
    SetQuality,
    Solution,
    closure_refused,
    direct,
    flex_angles,
    from_flex_angles,
    minus_target,
    solve,
)
from couplings.engineering.conformity import Judgement, LimitLine, Limits, judge
from couplings.engineering.moves import FootMove, foot_moves
from plant import units
from plant.refusals import Refused

# Starter of the site's limit on a closure: 0.002 in, U.S. Bureau of Reclamation FIST 2-1, p. 22.
CLOSURE_LIMIT_MM = 0.05


@dataclass(frozen=True)
class AlignmentResult:
    """An alignment computed, in mm and mrad; `from_target` is what was judged and what the moves take away.

    `position` is where the shaft lies: as measured, or at the reference state where temperatures were given.
    """

    request: AlignmentRequest
    solution: Solution
    from_target: Misalignment
    moves: tuple[FootMove, ...]
    judgement: Judgement
    correction: Corrected | None = None

    @property
    def position(self) -> Misalignment:
        return self.correction.position if self.correction else self.solution.misalignment


def compute_alignment(request: AlignmentRequest, closure_limit_mm: float = CLOSURE_LIMIT_MM) -> AlignmentResult:
    """Solve, correct, take the target off, judge and find the moves; Refused says which field cannot be and why."""
    try:
        solution = solve_alignment(request)
        correction = correct(solution.misalignment, request.temperatures) if request.temperatures else None
        found = correction.position if correction else solution.misalignment
        left = minus_target(found, request.target)
        moves = tuple(foot_moves(found, request.feet, request.target)) if request.feet else ()
        judgement = _judged(request, solution, left, closure_limit_mm)
    except AlignmentError as error:
        raise Refused(error.errors) from error
    return AlignmentResult(request, solution, left, moves, judgement, correction)


def solve_alignment(request: AlignmentRequest) -> Solution:
    """The position alone, before any limit: what a survey stores."""
    if request.direct is None:
        return solve(request.sets, flex_planes_mm=request.flex_planes_mm, viewed_from=request.viewed_from)
    given = request.direct
    if given.flex_angles:
        assert request.flex_planes_mm is not None  # the reader refused flex angles without planes
        return from_flex_angles(
            given.first,
            given.second,
            a_u_mrad=given.first_u,
            b_u_mrad=given.second_u,
            flex_planes_mm=request.flex_planes_mm,
            viewed_from=request.viewed_from,
        )
    return direct(
        given.first,
        given.second,
        offset_u_mm=given.first_u,
        slope_u_mrad=given.second_u,
        viewed_from=request.viewed_from,
    )


def _judged(request: AlignmentRequest, solution: Solution, left: Misalignment, closure_limit_mm: float) -> Judgement:
    by = request.judged_by
    axial = request.axial
    return judge(
        left,
        Limits(by.limits, by.rule, by.combined) if by else None,
        flex_planes_mm=request.flex_planes_mm,
        axial=axial.from_nominal_mm if axial else None,
        confidence=request.confidence,
        decision=request.decision,
        closure_refused=closure_refused(solution, closure_limit_mm),
        solution=solution,
    )


def answer_alignment(result: AlignmentResult, system: str) -> dict[str, Any]:
    """The answer of `POST /api/v1/calculations/alignment/`; null for a plane that was not solved."""
    request, judgement = result.request, result.judgement
    return {
        "method": request.method,
        **position(result.solution.misalignment, request.flex_planes_mm, system),
        "correction": _correction(result, system),
        "from_target": position(result.from_target, request.flex_planes_mm, system),
        "moves": [_move(move, system) for move in result.moves],
        "axial": _axial(request, system),
        "quality": _quality(result, system),
        "limits": [limit_line(line, system) for line in judgement.lines],
        "tolerance_used": _plain(judgement.tolerance_used),
        "probability_in_tolerance": _plain(judgement.probability),
        "decision": request.decision,
        "confidence": request.confidence,
        "verdict": judgement.verdict,
        "reason_code": judgement.reason_code,
        "reason": judgement.reason,
        "needs": list(judgement.needs),
    }


def _correction(result: AlignmentResult, system: str) -> dict[str, Any] | None:
    """What growth added and where the shaft lies with it; null where no temperatures were given."""
    made = result.correction
    if made is None:
        return None
    added = position(made.added, None, system)
    return {
        "applied": True,
        "added": {name: added[name]["vertical"] for name in ("offset", "angularity")},
        "corrected": position(made.position, result.request.flex_planes_mm, system),
        "coefficients": [coefficient_row(one, system) for one in made.coefficients],
    }


def position(found: Misalignment, planes: tuple[float, float] | None, system: str) -> dict[str, Any]:
    """Offset, angularity and, where there are flex planes, the angles at them; null where a plane is not known."""
    mean, covariance = found.mean_array, found.covariance_array
    answer: dict[str, Any] = {
        "offset": _vector(mean[:2], covariance[:2, :2], "gap", system),
        "angularity": _vector(mean[2:], covariance[2:, 2:], "slope", system),
        "flex_angles": None,
    }
    if planes is not None:
        angles, spread = flex_angles(found, *planes)
        answer["flex_angles"] = [
            {
                "plane": plane,
                **_vector(angles[first : first + 2], spread[first : first + 2, first : first + 2], "slope", system),
            }
            for plane, first in (("A", 0), ("B", 2))
        ]
    return answer


def _vector(mean: NDArray[np.float64], covariance: NDArray[np.float64], kind: str, system: str) -> dict[str, Any]:
    magnitude, magnitude_u = magnitude_of(mean, covariance)
    return {
        "vertical": measured(float(mean[0]), math.sqrt(covariance[0, 0]), kind, system),
        "horizontal": measured(float(mean[1]), math.sqrt(covariance[1, 1]), kind, system),
        "magnitude": measured(magnitude, magnitude_u, kind, system),
    }


def magnitude_of(mean: NDArray[np.float64], covariance: NDArray[np.float64]) -> tuple[float, float]:
    """Length of a (vertical, horizontal) vector and its standard uncertainty, in the vector's unit.

    Linear propagation along the vector (JCGM 100, 5.1); of a vector of no length, the largest spread in any direction.
    nan where a plane is not known.
    """
    length = float(np.hypot(mean[0], mean[1]))
    if not math.isfinite(length):
        return math.nan, math.nan
    if length < 1e-12:
        return length, math.sqrt(max(0.0, float(np.linalg.eigvalsh(covariance)[-1])))
    along = mean / length
    return length, math.sqrt(max(0.0, float(along @ covariance @ along)))


def measured(value: float | None, u: float | None, kind: str, system: str) -> dict[str, Any] | None:
    """A quantity with its standard uncertainty, or null where it is not known."""
    answer = units.quantity(value, kind, system)
    if answer is None:
        return None
    return {**answer, "standard_uncertainty": units.quantity(u, kind, system)}


def _move(move: FootMove, system: str) -> dict[str, Any]:
    return {
        "name": move.name,
        "x": units.quantity(move.x_mm, "size", system),
        "up": measured(move.up_mm, move.up_u_mm, "gap", system),
        "right": measured(move.right_mm, move.right_u_mm, "gap", system),
    }


def _axial(request: AlignmentRequest, system: str) -> dict[str, Any] | None:
    axial = request.axial
    if axial is None:
        return None
    return {
        "gap_in_place": measured(*axial.in_place_mm, "gap", system),
        "nominal": units.quantity(axial.nominal_mm, "gap", system),
        "from_nominal": measured(*axial.from_nominal_mm, "gap", system) if axial.from_nominal_mm else None,
        "float": units.quantity(axial.float_mm, "gap", system),
        "standard_uncertainty_from": _origin(request, "axial.standard_uncertainty"),
    }


def _quality(result: AlignmentResult, system: str) -> dict[str, Any]:
    solution, request = result.solution, result.request
    starters = sorted(path for path in request.starters if not path.startswith(("reading_sets.", "axial.")))
    return {
        "sets": [_set(request, place, one, system) for place, one in enumerate(solution.sets)],
        "starter_uncertainties": starters,
        "degrees_of_freedom": solution.dof,
        "scatter": _plain(math.sqrt(solution.factor)),
        "warnings": list(solution.warnings),
    }


def _set(request: AlignmentRequest, place: int, one: SetQuality, system: str) -> dict[str, Any]:
    return {
        "name": one.name or f"set {place + 1}",
        "kind": request.sets[place].kind,
        "closure": measured(one.closure_mm, one.closure_sd_mm, "gap", system),
        "return_to_zero": units.quantity(one.return_to_zero_mm, "gap", system),
        "root_mean_square_residual": units.quantity(one.rms_mm, "gap", system),
        "arc": units.quantity(one.arc_deg, "angle", system),
        "times_less_certain": {"vertical": _plain(one.inflation_v), "horizontal": _plain(one.inflation_h)},
        "standard_uncertainty": units.quantity(request.sets[place].u_mm, "gap", system),
        "standard_uncertainty_from": _origin(request, f"reading_sets.{place}.standard_uncertainty"),
        "warnings": list(one.warnings),
    }


def _origin(request: AlignmentRequest, path: str) -> str:
    return "starter" if path in request.starters else "stated"


def limit_line(line: LimitLine, system: str) -> dict[str, Any]:
    """One figure against one limit; the sum of ratios is a plain number with the limit 1, so it has no quantities."""
    kind = {"offset": "gap", "axial": "gap"}.get(line.quantity, "slope")
    summed = line.quantity == "combined"
    return {
        "quantity": line.quantity,
        "plane": line.plane or None,
        "family": line.family,
        "source": line.source or None,
        "measured": None if summed else measured(line.value, line.u, kind, system),
        "limit": None if summed else units.quantity(line.limit, kind, system),
        "tolerance_used": _plain(line.share),
        "probability_in_tolerance": _plain(line.probability),
        "verdict": line.verdict,
    }


def _plain(number: float | None) -> float | None:
    """A number without unit; null where it is not known, without the dust of binary fractions."""
    return None if number is None or math.isnan(number) else units.without_dust(number)
