"""A survey judged by the coupling's limits and from its target, for a draft's page and for signing alike."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, field, replace
from typing import Any

import numpy as np

from couplings.engineering.alignment import (
    AlignmentError,
    Misalignment,
    closure_refused,
    flex_angles,
    from_record,
    minus_target,
    to_record,
)
from couplings.engineering.conformity import Judgement, LimitLine, Limits, judge
from couplings.engineering.moves import FootMove, after_moves, check_feet, foot_moves, shim_advice
from couplings.models import Coupling, SheetVersion
from couplings.selectors import feet_of, fit_at, flex_planes_of, limits_of, target_of
from inspections.steps.alignment import Surveyed
from inspections.steps.packs import DUST_MM, PackAdvice, Recorded, most_down_mm, pack_advice
from inspections.steps.temperatures import Correction, Ground, correct, ground_of
from inspections.steps.upright import CENTRED

# Named in every result: rises when the computation or the way of judging changes what a survey would be given.
RULE_VERSION = "alignment-2"
Four = tuple[float, float, float, float]


@dataclass(frozen=True)
class Yardstick:
    """What the surveys of one visit are held to. The target is in the record's frame. [mm, mrad]"""

    limits: Limits
    flex_planes_mm: tuple[float, float] | None
    target: Four
    confidence: float
    closure_limit_mm: float
    shim_stock_mm: float
    feet: dict[str, list[tuple[str, float]]]
    axial: tuple[float, float] | None = None
    axial_counts: bool = False
    ground: Ground | None = None
    shims: dict[str, Recorded] = field(default_factory=dict)
    shims_most: int = 4


@dataclass(frozen=True)
class FootAdvice:
    """One foot plane: its move and what the shim stock can do of it, take out being negative. [mm]

    `packs`: the same for each foot whose shims are on record; `short_mm` of what should come out is not there.
    """

    move: FootMove
    shim_mm: float | None
    left_mm: float | None
    packs: tuple[PackAdvice, ...] = ()
    short_mm: float = 0.0


@dataclass(frozen=True)
class Judged:
    """One survey with everything that follows from it.

    `misalignment`, `from_target`, `target`, `lines`, `flex_angles` and `feet` are in the working frame (the movable
    machine as its observer sees it), `record` and `record_target` in the record's frame. The verdict belongs to both.
    Both are at the reference temperature where `correction` says so, otherwise as read.
    """

    surveyed: Surveyed
    decision: str
    misalignment: Misalignment
    target: Four
    from_target: Misalignment
    judgement: Judgement
    lines: tuple[LimitLine, ...]
    sheet_verdict: str
    grade_verdict: str
    closure_refused: bool
    flex_planes_mm: tuple[float, float] | None
    flex_angles: tuple[float, ...] | None
    feet: tuple[FootAdvice, ...]
    feet_missing: str
    expected: Judgement | None
    record: Misalignment
    record_target: Four
    quality: tuple[dict[str, Any], ...]
    correction: Correction
    yardstick: Yardstick

    @property
    def verdict(self) -> str:
        return self.judgement.verdict


def yardstick_for(coupling: Coupling, version: SheetVersion) -> Yardstick:
    """Limits, target, flex planes and feet of a coupling, with its site's settings."""
    site, fit = coupling.site, fit_at(coupling)
    feet = {side: feet_of(coupling, side, fit) for side in ("driver", "driven")}
    return Yardstick(
        limits=limits_of(coupling, version),
        flex_planes_mm=flex_planes_of(version),
        target=target_of(coupling),
        confidence=site.confidence,
        closure_limit_mm=site.closure_limit_mm,
        shim_stock_mm=site.shim_stock_mm,
        feet=feet,
        ground=ground_of(coupling, feet),
        shims_most=site.shims_most,
    )


def judged(surveyed: Surveyed, by: Yardstick, decision: str) -> Judged:
    """Judge a survey.

    Judging is done in the record's frame, so that the same two shafts get the same numbers whichever machine was
    moved; the working frame only changes the names of the flex planes and the way right is seen.
    """
    assert surveyed.solution is not None
    assert surveyed.request is not None
    solution, stationary = surveyed.solution, surveyed.stationary
    record, correction = correct(
        to_record(solution.misalignment, stationary, compass=surveyed.compass),
        by.ground,
        surveyed.driver_support_degc,
        surveyed.driven_support_degc,
    )
    position = from_record(record, stationary) if correction.added is not None else solution.misalignment
    target = _turned(by.target, stationary, surveyed.compass)
    refused = closure_refused(solution, by.closure_limit_mm)
    planes = by.flex_planes_mm or surveyed.request.flex_planes_mm
    record_planes = _record_planes(planes, stationary)
    limits = _judgeable(by)

    def verdict_by(found: Limits, closed: bool = not refused) -> Judgement:
        return judge(
            minus_target(record, by.target),
            found,
            record_planes,
            by.axial,
            by.confidence,
            decision,
            closure_refused=not closed,
            solution=solution,
        )

    judgement = verdict_by(limits)
    families = {family: verdict_by(_family(limits, family)).verdict for family in ("sheet", "grade")}
    feet, missing, expected = _feet(surveyed, position, by, target)
    after = None
    if expected is not None and not refused:
        after = judge(
            minus_target(to_record(expected, stationary, compass=surveyed.compass), by.target),
            limits,
            record_planes,
            by.axial,
            by.confidence,
            decision,
            solution=solution,
        )
    return Judged(
        surveyed=surveyed,
        decision=decision,
        misalignment=position,
        target=target,
        from_target=minus_target(position, target),
        judgement=judgement,
        lines=tuple(_seen(line, stationary) for line in judgement.lines),
        sheet_verdict=families["sheet"],
        grade_verdict=families["grade"],
        closure_refused=refused,
        flex_planes_mm=planes,
        flex_angles=tuple(float(n) for n in flex_angles(position, *planes)[0]) if planes else None,
        feet=feet,
        feet_missing=missing,
        expected=after,
        record=record,
        record_target=by.target,
        quality=tuple(plain(asdict(one)) for one in solution.sets),
        correction=correction,
        yardstick=by,
    )


def expected_at(found: Judged, position: Misalignment) -> Judgement:
    """What the same survey would be given with the movable machine at another position, in the working frame."""
    by, stationary = found.yardstick, found.surveyed.stationary
    judgement = judge(
        minus_target(to_record(position, stationary, compass=found.surveyed.compass), by.target),
        _judgeable(by),
        _record_planes(found.flex_planes_mm, stationary),
        by.axial,
        by.confidence,
        found.decision,
        closure_refused=found.closure_refused,
        solution=found.surveyed.solution,
    )
    return replace(judgement, lines=tuple(_seen(line, stationary) for line in judgement.lines))


def _record_planes(planes: tuple[float, float] | None, stationary: str) -> tuple[float, float] | None:
    return planes if stationary == "driven" or planes is None else (-planes[1], -planes[0])


def _turned(target: Four, stationary: str, compass: bool) -> Four:
    """The record's target as the observer at the movable machine sees it."""
    return from_record(Misalignment.of(target, np.zeros((4, 4))), stationary, compass=compass).mean


def _judgeable(by: Yardstick) -> Limits:
    """The axial limit counts for as-left, where the hubs have been placed; a round or as-found has no placement yet."""
    if by.axial_counts:
        return by.limits
    return replace(by.limits, limits=tuple(limit for limit in by.limits.limits if limit.quantity != "axial"))


def _family(limits: Limits, family: str) -> Limits:
    kept = tuple(limit for limit in limits.limits if limit.family == family)
    return Limits(kept, limits.rule, limits.combined and family == "sheet")


def _seen(line: LimitLine, stationary: str) -> LimitLine:
    """The record's line by the name its flex plane has for the crew: A is on the stationary side."""
    other = {"flex-angle-a": "flex-angle-b", "flex-angle-b": "flex-angle-a"}
    if stationary == "driven" or line.quantity not in other:
        return line
    return replace(line, quantity=other[line.quantity])


def _feet(
    surveyed: Surveyed, found: Misalignment, by: Yardstick, target: Four
) -> tuple[tuple[FootAdvice, ...], str, Misalignment | None]:
    """Moves of the movable machine's feet, typed or from the register; and where rounding to shims would leave it."""
    assert surveyed.request is not None
    if surveyed.compass:
        return (), CENTRED, None
    feet = list(surveyed.request.feet) or by.feet[surveyed.movable]
    try:
        check_feet(feet)
    except AlignmentError as error:
        if not feet:
            side = f"{surveyed.movable}-side machine"
            return (), f"The feet of the {side} are not in the register: enter their distances to see moves.", None
        return (), error.message, None
    advice = [_advice(move, by, surveyed.movable) for move in foot_moves(found, feet, target)]
    if not (found.has_vertical and found.has_horizontal):
        return tuple(advice), "", None
    ups = [one.shim_mm or 0.0 for one in advice]
    return tuple(advice), "", after_moves(found, feet, ups, [one.move.right_mm for one in advice])


def _advice(move: FootMove, by: Yardstick, side: str) -> FootAdvice:
    """What the stock can do of a move, and no more taken out than lies there."""
    if not math.isfinite(move.up_mm):
        return FootAdvice(move, None, None)
    shim, left = shim_advice(move.up_mm, by.shim_stock_mm)
    recorded, short = by.shims.get(side, Recorded()), 0.0
    lowest = most_down_mm(move.name, recorded)
    if lowest is not None and shim < -lowest - DUST_MM:
        short = -shim - lowest
        shim, left = -lowest + 0.0, move.up_mm + lowest
    return FootAdvice(move, shim, left, pack_advice(move.name, shim, recorded, by.shims_most), short)


def plain(value: Any) -> Any:
    """Lists, dicts and numbers as JSON has them; what is not finite is null."""
    if isinstance(value, dict):
        return {str(name): plain(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [plain(one) for one in value]
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    return value
