"""The methods of `run-out` for shafts that stand upright or hang on a flange.

method vertical-unit   any of: orbit with shaft_length and runner_diameter; lean with length;
                       points: [{z, north, east}], the ends first and last
method compass         reading_sets: [{kind: rim, face or gap; readings: [{at: N, value}]}], limits as an alignment's
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from couplings.calculations.alignment_answer import magnitude_of, measured
from couplings.calculations.alignment_sets import CARRIERS, FAR, STARTER_U_MM, TRAVEL, WIDE
from couplings.calculations.alignment_terms import JudgedBy, read_limits
from couplings.calculations.judged import (
    DIAL_U_MM,
    LEAST_LIMIT_MM,
    Judging,
    answer_judgement,
    decision_rows,
    judging_rows,
    read_decision,
    read_judging,
    read_u,
    stated,
    worst_of,
)
from couplings.calculations.plain_form import Row, Variant, row
from couplings.calculations.request import Request
from couplings.engineering.alignment import AlignmentError, ReadingSet, Solution
from couplings.engineering.conformity import Judgement, Limits, judge
from couplings.engineering.one_figure import judge_figure
from couplings.engineering.runout import Bend, plumb_limit_mm, static_run_out_limit_mm, straightness
from couplings.engineering.tables.runouts import STRAIGHTNESS_MM, VERTICAL_SOURCE
from couplings.engineering.upright import COMPASS, KINDS, compass_angle_deg, compass_point, solve_upright
from plant import units
from plant.refusals import Refused

POINTS_AT_MOST = 40
SETS_AT_MOST = 8
LEAST_MM = 1.0  # no shaft, runner or swing radius is smaller; a ratio to nothing would have no meaning


@dataclass(frozen=True)
class UnitRequest:
    """A vertical unit; None or empty where it was not measured. [mm]"""

    judging: Judging
    orbit: tuple[float, float, float] | None  # diameter, shaft length, runner diameter
    plumb: tuple[float, float] | None  # lean, length
    z_mm: tuple[float, ...]
    points_mm: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class UnitResult:
    """Each figure judged by its own published limit."""

    request: UnitRequest
    bend: Bend | None
    judgement: Judgement


def read_unit(request: Request) -> UnitRequest:
    """Read a vertical unit; at least one of its three figures."""
    orbit = _together(request, (("orbit", "gap"), ("shaft_length", "size"), ("runner_diameter", "size")))
    plumb = _together(request, (("lean", "gap"), ("length", "size")))
    places: list[float] = []
    points: list[tuple[float, float]] = []
    rows = list(request.rows("points", POINTS_AT_MOST))
    for each in rows:
        z = each.quantity("z", "size", "Say where along the shaft this was read.", within=FAR)
        north, east = (each.quantity(key, "gap", within=TRAVEL) for key in ("north", "east"))
        if not each.has("north") and not each.has("east"):
            each.refuse("north", "A value is missing.")
        each.finish()
        places += [] if z is None else [z]
        points.append((north or 0.0, east or 0.0))
    _check_points(request, rows, places, points)
    if not rows and orbit is None and plumb is None and not request.errors:
        request.refuse("orbit", "Nothing is given: enter the orbit, the lean, or points along the shaft.")
    judging = read_judging(request, STRAIGHTNESS_MM, VERTICAL_SOURCE, DIAL_U_MM)
    request.finish()
    request.raise_errors()
    return UnitRequest(judging, orbit, plumb, tuple(places), tuple(points))  # type: ignore[arg-type]


def _together(request: Request, keys: Sequence[tuple[str, str]]) -> tuple[float, ...] | None:
    """The first is what was measured, the rest are the lengths its limit needs; all of them or none."""
    if not any([request.has(key) for key, _kind in keys]):  # asked of every key
        return None
    found = [
        request.quantity(key, kind, "A value is missing.", at_least=0, within=TRAVEL)
        if place == 0
        else request.quantity(key, kind, "The limit depends on this length: give it.", at_least=LEAST_MM, within=FAR)
        for place, (key, kind) in enumerate(keys)
    ]
    return tuple(value for value in found if value is not None)


def _check_points(
    request: Request, rows: Sequence[Request], places: Sequence[float], points: Sequence[tuple[float, float]]
) -> None:
    if not rows or len(places) != len(rows):
        return
    try:
        straightness(places, points)
    except AlignmentError as error:
        request.refuse("points", error.message)


def compute_unit(request: UnitRequest) -> UnitResult:
    """Judge whatever was measured."""
    judging, judgements = request.judging, []
    total_u = judging.u_mm * math.sqrt(2.0)

    def judged(value: float, u: float, limit: float, quantity: str, source: str = VERTICAL_SOURCE) -> None:
        judgements.append(
            judge_figure(
                value, u, limit, quantity, source=source, confidence=judging.confidence, decision=judging.decision
            )
        )

    bend = None
    if request.orbit is not None:
        orbit, length, diameter = request.orbit
        judged(orbit, total_u, static_run_out_limit_mm(length, diameter), "orbit-of-the-shaft")
    if request.plumb is not None:
        lean, length = request.plumb
        judged(lean, total_u, plumb_limit_mm(length), "lean")
    if request.points_mm:
        bend = straightness(request.z_mm, request.points_mm)
        assert judging.limit_mm is not None  # there is a starter
        # The point and, at most in full, the line between the ends: no worse than two readings.
        judged(bend.deviation_mm, total_u, judging.limit_mm, "bend", judging.limit_source)
    return UnitResult(request, bend, worst_of(judgements))


def answer_unit(result: UnitResult, system: str) -> dict[str, Any]:
    """The answer in the units asked for."""
    judging, bend = result.request.judging, result.bend
    return {
        "method": "vertical-unit",
        "bend": None
        if bend is None
        else {
            "z": units.quantity(result.request.z_mm[bend.place], "size", system),
            "deviation": units.quantity(bend.deviation_mm, "gap", system),
        },
        **answer_judgement(result.judgement, system),
        "decision": judging.decision,
        "confidence": judging.confidence,
        "standard_uncertainty": units.quantity(judging.u_mm, "gap", system),
        "standard_uncertainty_from": stated(judging.u_stated),
    }


@dataclass(frozen=True)
class CompassRequest:
    """Sets of readings by compass point, and the limits."""

    sets: tuple[ReadingSet, ...]
    judged_by: JudgedBy | None
    confidence: float
    decision: str
    starters: frozenset[str]


@dataclass(frozen=True)
class CompassResult:
    """The position, north in place of up and east in place of right, and the verdict."""

    request: CompassRequest
    solution: Solution
    judgement: Judgement

    @property
    def offset_to(self) -> str:
        """Compass point towards which the movable shaft stands off; empty where the answer is not known or nothing."""
        return _towards(self.solution.misalignment.mean[0], self.solution.misalignment.mean[1])

    @property
    def leans_to(self) -> str:
        """Compass point towards which the movable shaft leans, going away from the coupling."""
        return _towards(self.solution.misalignment.mean[2], self.solution.misalignment.mean[3])


def _towards(north: float, east: float) -> str:
    if not (math.isfinite(north) and math.isfinite(east)) or math.hypot(north, east) < 1e-9:
        return ""
    return compass_point(math.degrees(math.atan2(east, north)))


def read_compass(request: Request) -> CompassRequest:
    """Read sets of readings by compass point; what only a lying machine has is refused with its reason."""
    starters: set[str] = set()
    for key in ("feet", "moves", "temperatures"):
        if request.has(key):
            request.refuse(key, "An upright or flange-mounted machine has no feet to move: leave this out.")
    sets = [
        _set(each, starters) for each in request.rows("reading_sets", SETS_AT_MOST, "Readings are missing: enter sets.")
    ]
    judged_by = read_limits(request, None)
    if judged_by is not None and any(limit.quantity not in ("offset", "angularity") for limit in judged_by.limits):
        request.refuse("limits", "Here only limits on offset and angularity are held.")
    if judged_by is not None and any(limit.value < LEAST_LIMIT_MM for limit in judged_by.limits):
        request.refuse("limits", "A limit is too small to be meant: is its unit right?")
    confidence, decision = read_decision(request)
    request.finish()
    request.raise_errors()
    read = tuple(one for one in sets if one is not None)
    return CompassRequest(read, judged_by, confidence, decision, frozenset(starters))


def _set(each: Request, starters: set[str]) -> ReadingSet | None:
    before = len(each.errors)
    kind = each.choice("kind", KINDS, missing=f"Choose one of: {', '.join(KINDS)}.")
    rim = kind == "rim"
    carried_by = each.choice("carried_by", CARRIERS, missing="Say which shaft carries the dial." if rim else "")
    x = each.quantity("x", "size", "Say where along the shaft the dial reads." if rim else "", within=FAR)
    needed = "Say at which radius it is read." if kind in ("face", "gap") else ""
    radius = each.quantity("swing_radius", "size", needed, at_least=LEAST_MM, within=WIDE)
    surface = each.choice("surface", ("near", "far"), "near") or "near"
    for key in ("sag", "sag_standard_uncertainty"):
        if each.has(key):
            each.refuse(key, "A bracket on an upright shaft does not sag: leave it out.")
    u = read_u(each)
    if kind and not each.has("standard_uncertainty"):
        u = STARTER_U_MM[kind]
        starters.add(each.at("standard_uncertainty"))
    name = each.text("name") or ""
    angles: list[float] = []
    values: list[float] = []
    for reading in each.rows("readings", len(COMPASS), "Readings are missing in this set."):
        point = reading.choice("at", COMPASS, missing=f"Say where: {', '.join(COMPASS)}.")
        value = reading.quantity("value", "gap", "A value is missing.", within=WIDE if kind == "gap" else TRAVEL)
        reading.finish()
        if point is not None and compass_angle_deg(point) in angles:
            reading.refuse("at", "This position is there twice.")
        angles += [] if point is None else [compass_angle_deg(point)]
        values += [] if value is None else [value]
    each.finish()
    if len(each.errors) > before or kind is None:
        return None
    return ReadingSet(
        kind,
        tuple(angles),
        tuple(values),
        carried_by=carried_by,
        x_mm=x or 0.0,
        swing_radius_mm=radius,
        surface=surface,
        u_mm=u or 0.0,
        name=name,
    )


def compute_compass(request: CompassRequest) -> CompassResult:
    """Solve and judge; Refused says which field cannot be solved and why."""
    by = request.judged_by
    try:
        solution = solve_upright(request.sets)
        judgement = judge(
            solution.misalignment,
            Limits(by.limits, by.rule) if by else None,
            confidence=request.confidence,
            decision=request.decision,
            solution=solution,
        )
    except AlignmentError as error:
        raise Refused(error.errors) from error
    return CompassResult(request, solution, judgement)


def answer_compass(result: CompassResult, system: str) -> dict[str, Any]:
    """The answer in the units asked for; null for a direction that was not solved."""
    found, request = result.solution.misalignment, result.request
    mean, spread = found.mean_array, found.covariance_array
    return {
        "method": "compass",
        "offset": _vector(mean[:2], spread[:2, :2], "gap", result.offset_to, system),
        "angularity": _vector(mean[2:], spread[2:, 2:], "slope", result.leans_to, system),
        "quality": {
            "starter_uncertainties": sorted(request.starters),
            "warnings": [warning for one in result.solution.sets for warning in one.warnings]
            + list(result.solution.warnings),
        },
        **answer_judgement(result.judgement, system),
        "decision": request.decision,
        "confidence": request.confidence,
    }


def _vector(
    mean: NDArray[np.float64], spread: NDArray[np.float64], kind: str, towards: str, system: str
) -> dict[str, Any]:
    size, size_u = magnitude_of(mean, spread)
    return {
        "north": measured(float(mean[0]), math.sqrt(spread[0, 0]), kind, system),
        "east": measured(float(mean[1]), math.sqrt(spread[1, 1]), kind, system),
        "magnitude": measured(size, size_u, kind, system),
        "towards": towards or None,
    }


def _points() -> tuple[Row, ...]:
    rows: list[Row] = []
    for place, name in enumerate(("First end", "Next point", "Next point", "Last end")):
        group = f"{name}{f' {place}' if 0 < place < 3 else ''}"
        rows += [
            row(f"z{place}", "Along the shaft", "size", f"points.{place}.z", group=group),
            row(f"north{place}", "From the plumb line, north", "gap", f"points.{place}.north", group=group),
            row(f"east{place}", "From the plumb line, east", "gap", f"points.{place}.east", group=group),
        ]
    return tuple(rows)


def _compass_rows(number: int, group: str) -> tuple[Row, ...]:
    return tuple(
        row(f"set{number}_{point}", name, "gap", f"reading_sets.{number}.readings.at={point}.value", group=group)
        for point, name in (("N", "North"), ("E", "East"), ("S", "South"), ("W", "West"))
    )


_RIM, _FACE = "Dial on the rim", "On the face"
VARIANTS = {
    "vertical-unit": Variant(
        "a vertical unit: orbit, plumb, straightness",
        (
            row("orbit", "Diameter of the orbit", "gap", group="Orbit, turned slowly"),
            row("shaft_length", "Thrust bearing to the dial", "size", group="Orbit, turned slowly"),
            row("runner_diameter", "Diameter of the thrust runner", "size", group="Orbit, turned slowly"),
            row("lean", "Lean", "gap", group="Plumb"),
            row("length", "over the length", "size", group="Plumb"),
            *_points(),
            *judging_rows("On the bend. Blank: 0.003 inch, Reclamation FIST 2-1."),
        ),
    ),
    "compass": Variant(
        "an upright or flange-mounted machine, by compass points",
        (
            *_compass_rows(0, _RIM),
            row(
                "carried_by",
                "Dial carried by",
                "choice",
                "reading_sets.0.carried_by",
                required=True,
                group=_RIM,
                choices=(("stationary", "the stationary shaft"), ("movable", "the movable shaft")),
            ),
            row(
                "x",
                "Reads at, from the coupling's centre",
                "size",
                "reading_sets.0.x",
                required=True,
                group=_RIM,
                hint="Towards the movable machine is plus.",
            ),
            *_compass_rows(1, _FACE),
            row(
                "kind",
                "Read with",
                "choice",
                "reading_sets.1.kind",
                required=True,
                group=_FACE,
                choices=(("face", "a dial on the face"), ("gap", "a feeler between the hubs")),
            ),
            row("swing_radius", "Radius there", "size", "reading_sets.1.swing_radius", required=True, group=_FACE),
            row("limit_offset", "Offset", "gap", "limits.offset", group="Limits"),
            row("limit_angularity", "Angularity", "slope", "limits.angularity", group="Limits"),
            *decision_rows(),
        ),
        beside={"reading_sets": [{"kind": "rim"}, {}]},
    ),
}
