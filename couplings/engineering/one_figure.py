"""One measured figure against one limit: soft foot, run-out, pipe strain, plumb."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy import special

from couplings.engineering.alignment import Misalignment
from couplings.engineering.alignment.quality import times
from couplings.engineering.conformity import ConformityError, Judgement, Limit, LimitLine, Limits, judge, percent

HOPELESS = 10.0  # times finer than this no reading gets
_NONE = Misalignment.of(np.zeros(4), np.zeros((4, 4)))


def judge_figure(
    value: float,
    u: float,
    limit: float,
    quantity: str,
    *,
    source: str = "",
    confidence: float = 0.95,
    decision: str = "guarded",
) -> Judgement:
    """Verdict of a length that must not exceed a limit.

    Parameters
    ----------
    value : float
        Zero or above. [mm]
    u : float
        Its standard uncertainty; zero compares the value alone. [mm]
    limit : float
        Itself still in tolerance ("not more than"). [mm]
    quantity : str
        What is judged, for the line's name.
    source : str
        Whose limit it is.
    confidence, decision
        As `conformity.judge`.

    Returns
    -------
    Judgement
        With one line.

    Raises
    ------
    ConformityError
        As `conformity.judge`; a value that is negative or not finite.

    References
    ----------
    JCGM 106:2012, clauses 7 and 8; ISO 14253-1.
    """
    if not (math.isfinite(value) and value >= 0):
        raise ConformityError("value", "The figure must be a finite number, zero or above.")
    if not (math.isfinite(limit) and limit > 0):
        raise ConformityError("limit", "The limit must be a number above zero.")
    limits = Limits((Limit("axial", limit, "sheet", source),))
    found = judge(_NONE, limits, axial=(value, u), confidence=confidence, decision=decision)
    return _said(found, quantity, confidence)


def judge_vector(
    vector_mm: Sequence[float],
    u_mm: Sequence[float],
    limit_mm: float,
    quantity: str,
    *,
    rule: str = "vector",
    source: str = "",
    confidence: float = 0.95,
    decision: str = "guarded",
) -> Judgement:
    """Verdict of a movement in the vertical and horizontal plane.

    Parameters
    ----------
    vector_mm, u_mm : (vertical, horizontal)
        Movement and the standard uncertainty of each component. [mm]
    limit_mm : float
        [mm]
    quantity : str
        What is judged, for the lines' name.
    rule : {'vector', 'per-plane'}
        Whether the length is held against the limit, or each component.
    source, confidence, decision
        As `judge_figure`.

    Returns
    -------
    Judgement
        With a line for the length, or for each component. [mm]

    Raises
    ------
    ConformityError
        As `conformity.judge`; a component that is not finite.

    References
    ----------
    JCGM 106:2012, clauses 7 and 8; ISO 14253-1.
    """
    if not all(math.isfinite(part) for part in (*vector_mm, *u_mm)):
        raise ConformityError("movement", "A component is missing or not a finite number.")
    if not (math.isfinite(limit_mm) and limit_mm > 0):
        raise ConformityError("limit", "The limit must be a number above zero.")
    moved = Misalignment.of([*vector_mm, 0.0, 0.0], np.diag([*np.square(u_mm), 0.0, 0.0]))
    limits = Limits((Limit("offset", limit_mm, "sheet", source),), rule)
    return _said(judge(moved, limits, confidence=confidence, decision=decision), quantity, confidence)


def _said(found: Judgement, quantity: str, confidence: float) -> Judgement:
    """The judgement by this figure's name; what decides is another reading here, not another survey."""
    lines = tuple(replace(line, quantity=quantity) for line in found.lines)
    chance = percent(found.probability or 0.0)
    needs = _what_decides(lines, confidence) if found.reason_code == "too-close" else ()
    reason = f"The probability that the limit is kept is {chance}{': ' if needs else ''}{'; '.join(needs)}."
    if found.reason_code.startswith("value-"):
        reason = f"Judged by the value alone; the probability that the limit is kept is {chance}."
    numbers = {**found.numbers, "governing": quantity} if found.numbers else {}
    return replace(found, lines=lines, reason=reason, needs=needs, numbers=numbers)


def _what_decides(lines: Sequence[LimitLine], confidence: float) -> tuple[str, ...]:
    away = [abs(line.limit - line.value) / line.u for line in lines if line.value is not None and line.u]
    finer = float(special.ndtri(confidence)) / max(min(away, default=0.0), 1e-9)
    if finer > HOPELESS:
        return ("the value lies on the limit, so putting it right settles it sooner than measuring again",)
    repeats = math.ceil(finer**2)
    several = (f"the mean of {repeats} such readings could decide",) if 2 <= repeats <= 6 else ()
    return (*several, f"an instrument {times(max(finer, 1.1))} finer could decide")
