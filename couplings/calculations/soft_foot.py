"""`soft-foot`: the rises of all feet, the corner gaps under one foot, or the heights of four pads.

method rises         feet: [{name, rise}], judged: rise or difference
method corner-gaps   foot, corner_gaps: [4], resolution
method pad-heights   pad_heights: [4]
all                  limit, standard_uncertainty of one reading, confidence, decision
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from couplings.calculations.alignment_answer import measured
from couplings.calculations.alignment_sets import TRAVEL
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
from couplings.engineering.one_figure import judge_figure
from couplings.engineering.softfoot import (
    CORNERS,
    FEET_AT_LEAST,
    FEET_AT_MOST,
    STARTER_LIMIT_MM,
    CornerGaps,
    Pads,
    Rises,
    from_corner_gaps,
    from_pad_heights,
    from_rises,
)
from plant import units
from plant.calculations import Calculation

METHODS = ("rises", "corner-gaps", "pad-heights")
SOURCE = "starter, common practice"
# Starters, common practice: feeler leaves come in steps of 0.05 mm, 0.05/sqrt(12) = 0.014 mm, taken as 0.02 mm.
FEELER_U_MM = 0.02
FEELER_STEP_MM = 0.05


@dataclass(frozen=True)
class SoftFootRequest:
    """[mm]"""

    method: str
    names: tuple[str, ...]
    values_mm: tuple[float, ...]
    judging: Judging
    by_difference: bool = False
    resolution_mm: float = FEELER_STEP_MM


@dataclass(frozen=True)
class SoftFootResult:
    """What was found, and the verdict."""

    request: SoftFootRequest
    found: Rises | CornerGaps | Pads
    judgement: Judgement

    @property
    def name(self) -> str:
        """The foot with the highest rise, or the corner with the widest gap."""
        if isinstance(self.found, Rises):
            return self.request.names[self.found.foot]
        return CORNERS[self.found.widest] if isinstance(self.found, CornerGaps) else ""

    @property
    def corners(self) -> list[tuple[str, float, float]]:
        """Each corner with its gap and its shim. [mm]"""
        if not isinstance(self.found, CornerGaps):
            return []
        return list(zip(CORNERS, self.request.values_mm, self.found.shims_mm, strict=True))


def read_soft_foot(payload: Mapping[str, Any]) -> SoftFootRequest:
    """Read the request; raises Refused with every error by field path."""
    request = Request(payload)
    method = request.choice("method", METHODS, missing=f"Say what was measured: {', '.join(METHODS)}.") or ""
    names: tuple[str, ...] = CORNERS
    values: tuple[float, ...] = ()
    by_difference, resolution = False, None
    if method == "rises":
        names, values = _feet(request)
        by_difference = request.choice("judged", ("rise", "difference"), "rise") == "difference"
    elif method == "corner-gaps":
        names = (request.text("foot") or "foot",)
        values = _four(request, "corner_gaps", "Give the gap at all four corners of the foot.", at_least=0)
        resolution = request.quantity("resolution", "gap", at_least=0, within=TRAVEL)
    elif method == "pad-heights":
        values = _four(request, "pad_heights", "Give the height of all four pads.")
    judging = read_judging(request, STARTER_LIMIT_MM, SOURCE, FEELER_U_MM if method == "corner-gaps" else DIAL_U_MM)
    if method:
        request.finish()
    request.raise_errors()
    return SoftFootRequest(
        method, names, values, judging, by_difference, FEELER_STEP_MM if resolution is None else resolution
    )


def _feet(request: Request) -> tuple[tuple[str, ...], tuple[float, ...]]:
    missing = f"Give the rise of every foot, {FEET_AT_LEAST} to {FEET_AT_MOST}."
    rows = list(request.rows("feet", FEET_AT_MOST, missing))
    names: list[str] = []
    rises: list[float] = []
    for place, each in enumerate(rows):
        name = each.text("name") or f"foot {place + 1}"
        rise = each.quantity("rise", "gap", "A value is missing.", at_least=0, within=TRAVEL)
        each.finish()
        if name in names:
            each.refuse("name", "Two feet have this name.")
        names.append(name)
        rises += [] if rise is None else [rise]
    if rows and len(rows) < FEET_AT_LEAST:
        request.refuse("feet", missing)
    return tuple(names), tuple(rises)


def _four(request: Request, key: str, missing: str, at_least: float | None = None) -> tuple[float, ...]:
    given = request.given(key)
    if not isinstance(given, list | tuple) or len(given) > 4 or not given:
        request.refuse(key, missing if given is None or isinstance(given, list | tuple) else "A list is expected here.")
        return ()
    each = Request({str(place): item for place, item in enumerate(given)}, request.at(key), request.errors)
    found = [
        each.quantity(str(place), "gap", "A value is missing.", at_least=at_least, within=TRAVEL) for place in range(4)
    ]
    return tuple(value for value in found if value is not None)


def compute_soft_foot(request: SoftFootRequest) -> SoftFootResult:
    """Find the foot and judge it."""
    judging, values = request.judging, request.values_mm
    found: Rises | CornerGaps | Pads
    if request.method == "rises":
        found = from_rises(values, judging.u_mm)
        if request.by_difference:
            quantity, value, u = "difference-between-feet", found.spread_mm, found.spread_u_mm
        else:
            quantity, value, u = "largest-rise", found.largest_mm, judging.u_mm
    elif request.method == "corner-gaps":
        found = from_corner_gaps(values, request.resolution_mm)
        quantity, value, u = "widest-gap", found.largest_mm, judging.u_mm
    else:
        found = from_pad_heights(values, judging.u_mm)
        quantity, value, u = "gap-when-rocking", found.rocking_gap_mm, found.u_mm
    assert judging.limit_mm is not None  # there is a starter
    judgement = judge_figure(
        value,
        u,
        judging.limit_mm,
        quantity,
        source=judging.limit_source,
        confidence=judging.confidence,
        decision=judging.decision,
    )
    return SoftFootResult(request, found, judgement)


def answer_soft_foot(result: SoftFootResult, system: str) -> dict[str, Any]:
    """The answer in the units asked for."""
    request, found, judging = result.request, result.found, result.request.judging
    return {
        "method": request.method,
        **_found(result, found, system),
        **answer_judgement(result.judgement, system),
        "decision": judging.decision,
        "confidence": judging.confidence,
        "standard_uncertainty": units.quantity(judging.u_mm, "gap", system),
        "standard_uncertainty_from": stated(judging.u_stated),
        "limit_from": stated(judging.limit_stated),
    }


def _found(result: SoftFootResult, found: Rises | CornerGaps | Pads, system: str) -> dict[str, Any]:
    u = result.request.judging.u_mm
    if isinstance(found, Rises):
        return {
            "foot": result.name,
            "largest_rise": measured(found.largest_mm, u, "gap", system),
            "common_rise": units.quantity(found.common_mm, "gap", system),
            "shim": measured(found.shim_mm, found.shim_u_mm, "gap", system),
            "difference": measured(found.spread_mm, found.spread_u_mm, "gap", system),
            "judged": "difference" if result.request.by_difference else "rise",
        }
    if isinstance(found, CornerGaps):
        return {
            "foot": result.request.names[0],
            "kind": found.kind,
            "corners": [
                {
                    "name": name,
                    "gap": units.quantity(gap, "gap", system),
                    "shim": units.quantity(shim, "gap", system),
                }
                for name, gap, shim in result.corners
            ],
            "wider_outboard_by": units.quantity(found.along_mm, "gap", system),
            "wider_right_by": units.quantity(found.across_mm, "gap", system),
            "twist": units.quantity(found.twist_mm, "gap", system),
        }
    return {
        "twist": measured(found.twist_mm, found.u_mm, "gap", system),
        "plane_residual": units.quantity(found.residual_mm, "gap", system),
        "gap_when_rocking": measured(found.rocking_gap_mm, found.u_mm, "gap", system),
    }


_STARTER = "Blank: 0.05 mm, common practice."
_FOUR = tuple(zip(CORNERS, ("in_left", "in_right", "out_right", "out_left"), strict=True))
_FORM = form_of(
    {
        "rises": Variant(
            "the rise of each foot",
            (
                *[
                    row(f"rise_{short}", name.capitalize(), "gap", f"feet.{place}.rise", group="Rise when loosened")
                    for place, (name, short) in enumerate(_FOUR)
                ],
                row(
                    "judged",
                    "Judged by",
                    "choice",
                    group="Judged",
                    choices=(("", "the largest rise"), ("difference", "the difference between feet")),
                ),
                *judging_rows(_STARTER),
            ),
            # All four stand there from the start: a foot left blank is missing, and not a machine on three feet.
            beside={"feet": [{"name": name} for name in CORNERS]},
        ),
        "corner-gaps": Variant(
            "gaps at the corners of one foot",
            (
                row("foot", "Foot", "text", hint="Such as inboard left."),
                *[
                    row(f"gap_{short}", name.capitalize(), "gap", f"corner_gaps.{place}", group="Gap at each corner")
                    for place, (name, short) in enumerate(_FOUR)
                ],
                row("resolution", "Smallest step of the feeler", "gap", group="Gap at each corner"),
                *judging_rows(_STARTER),
            ),
        ),
        "pad-heights": Variant(
            "heights of the four pads",
            (
                *[
                    row(f"pad_{short}", name.capitalize(), "gap", f"pad_heights.{place}", group="Height from any level")
                    for place, (name, short) in enumerate(_FOUR)
                ],
                *judging_rows(_STARTER),
            ),
        ),
    },
    lists=("corner_gaps", "pad_heights"),
)

SOFT_FOOT = Calculation(
    name="soft-foot",
    title="Soft foot",
    summary="Which foot the base does not carry, how much, and whether a flat shim or a step shim fills it.",
    reader=read_soft_foot,
    function=compute_soft_foot,
    writer=answer_soft_foot,
    template="couplings/calculations/soft_foot.html",
    form=_FORM,
    example={
        "method": "rises",
        "feet": [
            {"name": "inboard left", "rise": {"value": 5, "unit": "mil"}},
            {"name": "inboard right", "rise": {"value": 2, "unit": "mil"}},
            {"name": "outboard right", "rise": {"value": 2, "unit": "mil"}},
            {"name": "outboard left", "rise": {"value": 2, "unit": "mil"}},
        ],
        "limit": {"value": 2, "unit": "mil"},
        "standard_uncertainty": {"value": 0.005, "unit": "mm"},
    },
)
