"""What a survey gave, in the units asked for: live for a draft, as stored for a signed visit."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from couplings.calculations import AlignmentResult, answer_alignment
from couplings.calculations.alignment_answer import limit_line, measured, position
from couplings.engineering.alignment import minus_target
from couplings.engineering.conformity import LimitLine
from couplings.selectors import flex_planes_of
from inspections.models import Reading, ReadingSet, Survey, SurveyResult
from inspections.selectors.surveys import misalignment_of
from inspections.steps.alignment import DIALS, Surveyed
from inspections.steps.judging import FootAdvice, Judged
from plant import units


def live_result(judged: Judged, system: str, confidence: float) -> dict[str, Any]:
    """A draft's survey: the answer of the calculation without a record, and what only the record knows.

    In the working frame: the movable machine's shaft relative to the stationary one's, as its observer sees it. Offset,
    angularity and flex angles are as read; what is less the target, moves, limits and verdict are at the reference
    temperature where `temperature_correction` was applied.
    """
    surveyed = judged.surveyed
    assert surveyed.request is not None
    assert surveyed.solution is not None
    request = replace(
        surveyed.request,
        flex_planes_mm=judged.flex_planes_mm,
        decision=judged.decision,
        confidence=confidence,
        target=judged.target,
    )
    judgement = replace(judged.judgement, lines=judged.lines)
    moves = tuple(advice.move for advice in judged.feet)
    shown = answer_alignment(AlignmentResult(request, surveyed.solution, judged.from_target, moves, judgement), system)
    del shown["axial"]
    for row, advice in zip(shown["moves"], judged.feet, strict=True):
        row |= _shims(advice, system)
    for place, row in enumerate(shown["quality"]["sets"]):
        row["standard_uncertainty_from"] = _origin(surveyed, place)
    expected = judged.expected
    return {
        "stationary": surveyed.stationary,
        "movable": surveyed.movable,
        "positions": "compass" if surveyed.compass else "clock",
        **shown,
        "temperature_correction": correction_of(judged.correction.as_json(), system),
        "moves_missing": judged.feet_missing,
        "sheet_verdict": judged.sheet_verdict,
        "grade_verdict": judged.grade_verdict,
        "closure_refused": judged.closure_refused,
        "after_moves": None
        if expected is None
        else {
            "verdict": expected.verdict,
            "tolerance_used": expected.tolerance_used,
            "probability_in_tolerance": expected.probability,
        },
    }


def signed_result(survey: Survey, system: str) -> dict[str, Any]:
    """A stored result in the record's frame: the driver-side shaft relative to the driven-side shaft, seen from the
    driver end, whichever machine was moved."""
    result = survey.result
    found, target = misalignment_of(result), target_of_result(result)
    planes = flex_planes_of(survey.visit.sheet_version)
    return {
        "rule_version": result.rule_version,
        **position(found, planes, system),
        "temperature_correction": correction_of(result.correction, system),
        "target": _target(target, system),
        "from_target": position(minus_target(found, target), planes, system),
        "limits": [limit_line(LimitLine(**line), system) for line in result.lines],
        "tolerance_used": result.tolerance_used,
        "probability_in_tolerance": result.probability,
        "confidence": result.confidence,
        "decision": result.decision,
        "verdict": result.verdict,
        "sheet_verdict": result.sheet_verdict,
        "grade_verdict": result.grade_verdict,
        "reason": result.reason,
        "quality": [_quality(row, system) for row in result.quality],
    }


def target_of_result(result: SurveyResult) -> tuple[float, float, float, float]:
    return (
        result.target_offset_v_mm,
        result.target_offset_h_mm,
        result.target_slope_v_mrad,
        result.target_slope_h_mrad,
    )


def shown_set(row: ReadingSet, system: str) -> dict[str, Any]:
    """One set of readings as stored; `typed` is what the crew wrote."""
    return {
        "number": row.number,
        "kind": row.kind,
        "carried_by": row.carried_by or None,
        "plane": row.plane or None,
        "surface": row.surface or None,
        "x": units.quantity(row.x_mm, "size", system),
        "swing_radius": units.quantity(row.swing_radius_mm, "size", system),
        "distance": units.quantity(row.distance_mm, "size", system),
        "sag": units.quantity(row.sag_mm, "gap", system),
        "sag_standard_uncertainty": units.quantity(row.sag_u_mm, "gap", system),
        "standard_uncertainty": units.quantity(row.u_mm, "gap", system),
        "readings_are": "half" if row.half else "full",
        "return_to_zero": units.quantity(row.return_to_zero_mm, "gap", system),
        "bracket": row.bracket or None,
        "instrument": str(row.instrument.uuid) if row.instrument is not None else None,
        "readings": [_reading(reading, system) for reading in row.readings.all()],
    }


def _reading(reading: Reading, system: str) -> dict[str, Any]:
    return {
        "angle": units.quantity(reading.angle_deg, "angle", system),
        "turned": reading.turned,
        "typed": reading.typed,
        "value": units.quantity(reading.mm, "gap", system),
        "opposed": units.quantity(reading.opposed_mm, "gap", system),
        "opposed_typed": reading.opposed_typed,
    }


def _shims(advice: FootAdvice, system: str) -> dict[str, Any]:
    """What the shim stock can do of a move (take out is negative), and what it leaves."""
    return {
        "shim": units.quantity(advice.shim_mm, "gap", system),
        "left": units.quantity(advice.left_mm, "gap", system),
        "not_there": units.quantity(advice.short_mm, "gap", system),
        "packs": [
            {
                "foot": pack.foot,
                "there": [units.quantity(mm, "gap", system) for mm in pack.there_mm],
                "known_from": pack.whence,
                "take_out": [units.quantity(mm, "gap", system) for mm in pack.change.take_out_mm],
                "put_in": units.quantity(pack.change.put_in_mm, "gap", system),
                "shims_after": pack.change.count,
                "shims_most": pack.most,
            }
            for pack in advice.packs
        ],
    }


def correction_of(stored: dict[str, Any] | None, system: str) -> dict[str, Any]:
    """What was added for temperature, in the record's frame, or why nothing was; `offset` and `angularity` vertical."""
    if stored is None:
        return {"applied": False, "reason": "not corrected: recorded before surveys were corrected"}
    if not stored["applied"]:
        return {"applied": False, "reason": stored["why"]}
    v, _both, s = stored["covariance"]
    return {
        "applied": True,
        "reason": "",
        "reference_temperature": units.quantity(stored["reference_degc"], "temperature", system),
        "material": stored["material"],
        "offset": measured(stored["offset_v_mm"], math.sqrt(v), "gap", system),
        "angularity": measured(stored["slope_v_mrad"], math.sqrt(s), "slope", system),
    }


def _origin(surveyed: Surveyed, place: int) -> str:
    """Whose uncertainty a set was weighed by."""
    assert surveyed.request is not None
    number = surveyed.owners[place]
    if (surveyed.typed or {}).get(f"set{number}.u", "").strip():
        return "stated"
    instrument = surveyed.instruments[number] if number < len(surveyed.instruments) else None
    if instrument is not None and instrument.standard_u_mm is not None:
        return "instrument"
    return "site" if surveyed.request.sets[place].kind in DIALS else "starter"


def _target(target: tuple[float, float, float, float], system: str) -> dict[str, Any]:
    return {
        name: {
            "vertical": units.quantity(target[first], kind, system),
            "horizontal": units.quantity(target[first + 1], kind, system),
        }
        for name, first, kind in (("offset", 0, "gap"), ("angularity", 2, "slope"))
    }


def _quality(row: dict[str, Any], system: str) -> dict[str, Any]:
    return {
        "name": row["name"],
        "closure": measured(row["closure_mm"], row["closure_sd_mm"], "gap", system),
        "return_to_zero": units.quantity(row["return_to_zero_mm"], "gap", system),
        "root_mean_square_residual": units.quantity(row["rms_mm"], "gap", system),
        "arc": units.quantity(row["arc_deg"], "angle", system),
        "times_less_certain": {"vertical": row["inflation_v"], "horizontal": row["inflation_h"]},
        "warnings": row["warnings"],
    }
