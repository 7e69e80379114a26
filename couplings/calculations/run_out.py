"""`run-out`: a surface swept by a dial, a vertical unit, an upright or flange-mounted machine by compass, end float.

method sweep           readings: [{clock or angle, value}], diameter with table, or limit
method vertical-unit   run_out_upright.py
method compass         run_out_upright.py
method end-float       run_out_float.py
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from couplings.calculations import run_out_float, run_out_upright
from couplings.calculations.alignment_answer import measured
from couplings.calculations.alignment_sets import TRAVEL, WIDE, read_angle
from couplings.calculations.judged import (
    DIAL_U_MM,
    Judging,
    answer_judgement,
    judging_rows,
    no_limit,
    read_judging,
    stated,
)
from couplings.calculations.plain_form import Row, Variant, form_of, row
from couplings.calculations.request import Request
from couplings.engineering.conformity import Judgement
from couplings.engineering.one_figure import judge_figure
from couplings.engineering.runout import Eccentricity, RunOutError, eccentricity, limit_by_diameter_mm, run_out_mm
from couplings.engineering.tables.runouts import STARTER_TABLES
from plant import units
from plant.calculations import Calculation
from plant.refusals import Refused

READINGS_AT_MOST = 400
METHODS = ("sweep", "vertical-unit", "compass", "end-float")
NO_LIMIT = "No limit is given, so there is nothing to judge by: give a limit, or the diameter and a table."


@dataclass(frozen=True)
class SweepRequest:
    """One sweep of a dial. [deg], [mm]"""

    angles_deg: tuple[float, ...]
    readings_mm: tuple[float, ...]
    judging: Judging


@dataclass(frozen=True)
class SweepResult:
    """Total run-out, eccentricity where three positions or more were read, and the verdict. [mm]"""

    request: SweepRequest
    run_out_mm: float
    run_out_u_mm: float
    eccentricity: Eccentricity | None
    judgement: Judgement


Asked = SweepRequest | run_out_upright.UnitRequest | run_out_upright.CompassRequest | run_out_float.FloatRequest
Found = SweepResult | run_out_upright.UnitResult | run_out_upright.CompassResult | run_out_float.FloatResult


def read_run_out(payload: Mapping[str, Any]) -> Asked:
    """Read the request; raises Refused with every error by field path."""
    request = Request(payload)
    method = request.choice("method", METHODS, missing=f"Say what was measured: {', '.join(METHODS)}.")
    if method == "vertical-unit":
        return run_out_upright.read_unit(request)
    if method == "compass":
        return run_out_upright.read_compass(request)
    if method == "end-float":
        return run_out_float.read_float(request)
    if method is None:
        request.raise_errors()
    return _read_sweep(request)


def _read_sweep(request: Request) -> SweepRequest:
    angles: list[float] = []
    values: list[float] = []
    rows = list(request.rows("readings", READINGS_AT_MOST, "Readings are missing: two positions or more."))
    for each in rows:
        angle = read_angle(each, "Say where it was read: clock (12, 3, 6, 9) or angle in degrees.")
        value = each.quantity("value", "gap", "A value is missing.", within=TRAVEL)
        each.finish()
        if angle is not None and any(abs(angle - other) < 1e-6 for other in angles):
            each.refuse("clock" if each.has("clock") else "angle", "This position is there twice.")
        angles += [] if angle is None else [angle]
        values += [] if value is None else [value]
    if len(rows) == 1:
        request.refuse("readings", "A run-out needs two readings or more.")
    limit, source = _limit(request)
    judging = read_judging(request, limit, source, DIAL_U_MM)
    if judging.limit_stated and request.has("diameter"):
        request.refuse("limit", "Give the limit, or the diameter with a table, not both.")
    request.finish()
    request.raise_errors()
    return SweepRequest(tuple(angles), tuple(values), judging)


def _limit(request: Request) -> tuple[float | None, str]:
    name = request.choice("table", tuple(STARTER_TABLES))
    diameter = request.quantity("diameter", "size", above=0, within=WIDE)
    if request.has("diameter") and not request.has("table"):
        request.refuse("table", f"Say which table: {', '.join(STARTER_TABLES)}.")
    if request.has("table") and not request.has("diameter"):
        request.refuse("diameter", "A table gives its limit by the diameter: give it.")
    if name is None or diameter is None:
        return None, ""
    table = STARTER_TABLES[name]
    try:
        return limit_by_diameter_mm(diameter, table), table.source
    except RunOutError as error:
        request.refuse("diameter", error.message)
        return None, ""


def compute_run_out(request: Asked) -> Found:
    """Whatever was asked."""
    if isinstance(request, run_out_upright.UnitRequest):
        return run_out_upright.compute_unit(request)
    if isinstance(request, run_out_upright.CompassRequest):
        return run_out_upright.compute_compass(request)
    if isinstance(request, run_out_float.FloatRequest):
        return run_out_float.compute_float(request)
    judging = request.judging
    total, u = float(run_out_mm(request.readings_mm)), judging.u_mm * math.sqrt(2.0)
    try:
        several = len(request.angles_deg) > 2
        centre = eccentricity(request.angles_deg, request.readings_mm, judging.u_mm) if several else None
    except RunOutError as error:
        raise Refused(error.errors) from error
    judgement = no_limit(NO_LIMIT)
    if judging.limit_mm is not None:
        judgement = judge_figure(
            total,
            u,
            judging.limit_mm,
            "run-out",
            source=judging.limit_source,
            confidence=judging.confidence,
            decision=judging.decision,
        )
    return SweepResult(request, total, u, centre, judgement)


def answer_run_out(result: Found, system: str) -> dict[str, Any]:
    """The answer in the units asked for."""
    if isinstance(result, run_out_upright.UnitResult):
        return run_out_upright.answer_unit(result, system)
    if isinstance(result, run_out_upright.CompassResult):
        return run_out_upright.answer_compass(result, system)
    if isinstance(result, run_out_float.FloatResult):
        return run_out_float.answer_float(result, system)
    centre, judging = result.eccentricity, result.request.judging
    return {
        "method": "sweep",
        "run_out": measured(result.run_out_mm, result.run_out_u_mm, "gap", system),
        "eccentricity": None
        if centre is None
        else {
            **(measured(centre.size_mm, centre.u_mm, "gap", system) or {}),
            "direction": units.quantity(centre.direction_deg, "angle", system),
        },
        "not_eccentricity": None if centre is None else units.quantity(centre.other_mm, "gap", system),
        **answer_judgement(result.judgement, system),
        "decision": judging.decision,
        "confidence": judging.confidence,
        "standard_uncertainty": units.quantity(judging.u_mm, "gap", system),
        "standard_uncertainty_from": stated(judging.u_stated),
    }


def drawn(result: Found, system: str) -> dict[str, Any]:
    """The readings as points round a circle."""
    if isinstance(result, SweepResult):
        return {"ring": dict(zip(result.request.angles_deg, result.request.readings_mm, strict=True))}
    return {}


def _positions() -> tuple[Row, ...]:
    return tuple(
        row(
            f"sweep.position{place}",
            f"{45 * place}°",
            "gap",
            f"readings.angle={45 * place}.value",
            group="Dial at each position of the shaft",
        )
        for place in range(8)
    )


_FORM = form_of(
    {
        "sweep": Variant(
            "a dial on a shaft or hub",
            (
                *_positions(),
                row(
                    "table",
                    "Limit from",
                    "choice",
                    group="Limit",
                    choices=tuple((name, table.title) for name, table in STARTER_TABLES.items()),
                ),
                row("diameter", "Diameter there", "size", group="Limit"),
                *judging_rows("Your own, instead of a table."),
            ),
        ),
        **run_out_upright.VARIANTS,
        **run_out_float.VARIANTS,
    }
)

RUN_OUT = Calculation(
    name="run-out",
    title="Run-out, upright machines and end float",
    summary="Run-out and where its high side is, limits by diameter; vertical units; compass points; axial float.",
    reader=read_run_out,
    function=compute_run_out,
    writer=answer_run_out,
    template="couplings/calculations/run_out.html",
    form=_FORM,
    drawn=drawn,
    example={
        "method": "sweep",
        "readings": [
            {"clock": clock, "value": {"value": value, "unit": "mm"}}
            for clock, value in zip((12, 3, 6, 9), (0, 0.02, 0.05, 0.03), strict=True)
        ],
        "diameter": {"value": 48, "unit": "mm"},
        "table": "iec",
        "standard_uncertainty": {"value": 0.005, "unit": "mm"},
    },
)
