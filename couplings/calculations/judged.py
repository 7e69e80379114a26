"""What every judged figure shares in a request and its answer: limit, uncertainty, decision; verdict and lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from couplings.calculations.alignment_answer import limit_line, measured
from couplings.calculations.alignment_request import CONFIDENCE, DECISIONS
from couplings.calculations.alignment_sets import TRAVEL
from couplings.calculations.plain_form import Row, probability, row
from couplings.calculations.request import Request
from couplings.engineering.conformity import (
    IN_TOLERANCE,
    NOT_KNOWN,
    OUT_OF_TOLERANCE,
    TOO_CLOSE,
    Judgement,
    LimitLine,
)
from plant import units

WORST_FIRST = (OUT_OF_TOLERANCE, NOT_KNOWN, TOO_CLOSE, IN_TOLERANCE)
# Starter, common practice: a dial repeats to about one division of 0.01 mm.
DIAL_U_MM = 0.01
# Below these a slip of the unit is certain, and a ratio to them would lose its meaning.
LEAST_LIMIT_MM, LEAST_U_MM = 1e-4, 1e-6


@dataclass(frozen=True)
class Judging:
    """How a figure is judged; `u_stated` and `limit_stated` tell what was given from what is a starter. [mm]"""

    limit_mm: float | None
    limit_source: str
    u_mm: float
    confidence: float
    decision: str
    u_stated: bool
    limit_stated: bool


def read_judging(request: Request, limit_mm: float | None, source: str, u_mm: float) -> Judging:
    """`limit`, `standard_uncertainty` of one reading, `confidence`, `decision`; the arguments are the starters."""
    limit, u = read_limit(request, "limit"), read_u(request)
    confidence, decision = read_decision(request)
    return Judging(
        limit_mm=limit if limit is not None else limit_mm,
        limit_source="as given" if limit is not None else source,
        u_mm=u if u is not None else u_mm,
        confidence=confidence,
        decision=decision,
        u_stated=u is not None,
        limit_stated=limit is not None,
    )


def read_limit(request: Request, key: str) -> float | None:
    """A limit on a length. [mm]"""
    limit = request.quantity(key, "gap", above=0, within=TRAVEL)
    if limit is not None and limit < LEAST_LIMIT_MM:
        request.refuse(key, "This is less than a ten-thousandth of a millimetre: is the unit right?")
        return None
    return limit


def read_u(request: Request) -> float | None:
    """`standard_uncertainty` of one reading. [mm]"""
    u = request.quantity("standard_uncertainty", "gap", above=0, within=TRAVEL)
    if u is not None and u < LEAST_U_MM:
        request.refuse("standard_uncertainty", "No instrument is as certain as this: is the unit right?")
        return None
    return u


def read_decision(request: Request) -> tuple[float, str]:
    """`confidence` and `decision` as every judged calculation takes them."""
    decision = request.choice("decision", DECISIONS, "guarded") or "guarded"
    confidence = request.number("confidence")
    if confidence is not None and not 0.5 < confidence < 1:
        request.refuse("confidence", "A probability between 0.5 and 1 is expected, such as 0.95.")
    return CONFIDENCE if confidence is None else confidence, decision


def judging_rows(hint: str = "") -> tuple[Row, ...]:
    """The same in a form."""
    return (
        row("limit", "Limit", "gap", group="Judged", hint=hint),
        row("u", "Standard uncertainty of one reading", "gap", "standard_uncertainty", group="Judged"),
        *decision_rows(),
    )


def decision_rows() -> tuple[Row, ...]:
    """The decision alone, in a form."""
    ways = (("", "with the uncertainty, as work is left"), ("simple", "by the value alone, as it was found"))
    return (
        row("decision", "Decided", "choice", group="Judged", choices=ways),
        row("confidence", "Confidence", "text", group="Judged", read=probability, hint="Such as 95 %."),
    )


def no_limit(reason: str) -> Judgement:
    """Not known, for want of a limit."""
    return Judgement(NOT_KNOWN, "no-limits", reason, None, None)


def worst_of(judgements: Sequence[Judgement]) -> Judgement:
    """Several figures judged one by one, as one: the worst verdict, all lines. Their joint probability is not known."""
    if len(judgements) == 1:
        return judgements[0]
    worst = min(judgements, key=lambda one: (WORST_FIRST.index(one.verdict), -(one.tolerance_used or 0.0)))
    used = [one.tolerance_used for one in judgements if one.tolerance_used is not None]
    return Judgement(
        worst.verdict,
        worst.reason_code,
        f"{worst.lines[0].quantity.replace('-', ' ').capitalize()}: {worst.reason[0].lower()}{worst.reason[1:]}",
        max(used, default=None),
        None,
        tuple(line for one in judgements for line in one.lines),
        worst.needs,
        worst.numbers,
    )


def answer_judgement(judgement: Judgement, system: str) -> dict[str, Any]:
    """The verdict and its lines in the units asked for."""
    probability_in = judgement.probability
    return {
        "limits": [_line(one, system) for one in judgement.lines],
        "tolerance_used": None if judgement.tolerance_used is None else units.without_dust(judgement.tolerance_used),
        "probability_in_tolerance": None if probability_in is None else units.without_dust(probability_in),
        "verdict": judgement.verdict,
        "reason_code": judgement.reason_code,
        "reason": judgement.reason,
        "needs": list(judgement.needs),
    }


def _line(line: LimitLine, system: str) -> dict[str, Any]:
    """As an alignment's line; a figure that is neither offset nor angularity is a length, and has no family."""
    answer = limit_line(line, system)
    del answer["family"]
    if line.quantity in ("offset", "angularity"):
        return answer
    return answer | {
        "measured": measured(line.value, line.u, "gap", system),
        "limit": units.quantity(line.limit, "gap", system),
    }


def stated(is_stated: bool) -> str:
    """Where a number came from."""
    return "stated" if is_stated else "starter"
