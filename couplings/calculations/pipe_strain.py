"""`pipe-strain`: movement of the shaft at the coupling while the piping is made up.

    method dials   before (left out: the dials were zeroed), after: {vertical, horizontal}
                   limit, rule: vector or per-plane, standard_uncertainty of one reading, confidence, decision

Up and right are positive, right as the observer at the movable machine sees it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from couplings.calculations.alignment_answer import measured
from couplings.calculations.alignment_sets import TRAVEL
from couplings.calculations.alignment_terms import RULES
from couplings.calculations.judged import (
    DIAL_U_MM,
    Judging,
    answer_judgement,
    judging_rows,
    read_judging,
    stated,
)
from couplings.calculations.plain_form import Variant, form_of, row
from couplings.calculations.request import Request
from couplings.engineering.conformity import Judgement
from couplings.engineering.one_figure import judge_vector
from couplings.engineering.pipestrain import STARTER_LIMIT_MM, STARTER_SOURCE, Movement, movement
from plant import units
from plant.calculations import Calculation

Pair = tuple[float, float]


@dataclass(frozen=True)
class PipeStrainRequest:
    """Readings (vertical, horizontal) before and after make-up. [mm]"""

    before_mm: Pair
    after_mm: Pair
    judging: Judging
    rule: str = "vector"


@dataclass(frozen=True)
class PipeStrainResult:
    """The movement and its verdict."""

    request: PipeStrainRequest
    movement: Movement
    judgement: Judgement


def read_pipe_strain(payload: Mapping[str, Any]) -> PipeStrainRequest:
    """Read the request; raises Refused with every error by field path."""
    request = Request(payload)
    request.choice("method", ("dials",), "dials")
    before = _pair(request, "before", "")
    after = _pair(request, "after", "Give the readings with the piping made up.")
    rule = request.choice("rule", RULES, "vector") or "vector"
    judging = read_judging(request, STARTER_LIMIT_MM, STARTER_SOURCE, DIAL_U_MM)
    request.finish()
    request.raise_errors()
    return PipeStrainRequest(before, after, judging, rule)


def _pair(request: Request, key: str, missing: str) -> Pair:
    part = request.part(key, missing)
    if part is None:
        return 0.0, 0.0
    vertical, horizontal = (
        part.quantity(plane, "gap", "A value is missing.", within=TRAVEL) for plane in ("vertical", "horizontal")
    )
    part.finish()
    return vertical or 0.0, horizontal or 0.0


def compute_pipe_strain(request: PipeStrainRequest) -> PipeStrainResult:
    """Movement and verdict."""
    judging = request.judging
    moved = movement(request.before_mm, request.after_mm, judging.u_mm)
    assert judging.limit_mm is not None  # there is a starter
    judgement = judge_vector(
        (moved.vertical_mm, moved.horizontal_mm),
        (moved.u_mm, moved.u_mm),
        judging.limit_mm,
        "shaft-movement",
        rule=request.rule,
        source=judging.limit_source,
        confidence=judging.confidence,
        decision=judging.decision,
    )
    return PipeStrainResult(request, moved, judgement)


def answer_pipe_strain(result: PipeStrainResult, system: str) -> dict[str, Any]:
    """The answer in the units asked for."""
    moved, judging = result.movement, result.request.judging
    return {
        "movement": {
            "vertical": measured(moved.vertical_mm, moved.u_mm, "gap", system),
            "horizontal": measured(moved.horizontal_mm, moved.u_mm, "gap", system),
            "magnitude": measured(moved.size_mm, moved.u_mm, "gap", system),
            "direction": units.quantity(moved.direction_deg, "angle", system),
        },
        "rule": result.request.rule,
        **answer_judgement(result.judgement, system),
        "decision": judging.decision,
        "confidence": judging.confidence,
        "standard_uncertainty": units.quantity(judging.u_mm, "gap", system),
        "standard_uncertainty_from": stated(judging.u_stated),
        "limit_from": stated(judging.limit_stated),
        "limit_source": judging.limit_source,
    }


_FORM = form_of(
    {
        "dials": Variant(
            "two dials at the coupling",
            (
                row("before_v", "Up or down", "gap", "before.vertical", group="Before, piping loose"),
                row("before_h", "Sideways, right is plus", "gap", "before.horizontal", group="Before, piping loose"),
                row("after_v", "Up or down", "gap", "after.vertical", required=True, group="After, piping made up"),
                row(
                    "after_h",
                    "Sideways, right is plus",
                    "gap",
                    "after.horizontal",
                    required=True,
                    group="After, piping made up",
                ),
                row(
                    "rule",
                    "Judged",
                    "choice",
                    group="Judged",
                    choices=(("", "as a vector"), ("per-plane", "each plane alone")),
                ),
                *judging_rows("Blank: 0.002 inch, from memory of API RP 686. Enter your site's own."),
            ),
        )
    }
)

PIPE_STRAIN = Calculation(
    name="pipe-strain",
    title="Pipe strain",
    summary="How far the shaft moves at the coupling while the piping is made up, and whether that may be left so.",
    reader=read_pipe_strain,
    function=compute_pipe_strain,
    writer=answer_pipe_strain,
    template="couplings/calculations/pipe_strain.html",
    form=_FORM,
    example={
        "before": {"vertical": {"value": 0, "unit": "mm"}, "horizontal": {"value": 0, "unit": "mm"}},
        "after": {"vertical": {"value": 0.03, "unit": "mm"}, "horizontal": {"value": -0.06, "unit": "mm"}},
        "limit": {"value": 0.05, "unit": "mm"},
        "standard_uncertainty": {"value": 0.005, "unit": "mm"},
    },
)
