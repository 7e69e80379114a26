"""Limits, and the verdict a misalignment gets against them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import special

from couplings.engineering.alignment import Misalignment, Solution
from couplings.engineering.alignment.misalignment import checked_planes
from couplings.engineering.alignment.quality import WORTH_A_WORD, times
from couplings.engineering.limits import (
    QUANTITIES,
    ConformityError,
    Limit,
    LimitLine,
    Limits,
    degrees_from_slope,
    gap_in_place,
    slope_from_degrees,
    slope_from_gap,
)
from couplings.engineering.probability import Region, in_disc, inside, length_quantile, percent

__all__ = [
    "IN_TOLERANCE",
    "NOT_KNOWN",
    "OUT_OF_TOLERANCE",
    "QUANTITIES",
    "TOO_CLOSE",
    "ConformityError",
    "Judgement",
    "Limit",
    "LimitLine",
    "Limits",
    "degrees_from_slope",
    "gap_in_place",
    "judge",
    "percent",
    "slope_from_degrees",
    "slope_from_gap",
]

IN_TOLERANCE = "in tolerance"
TOO_CLOSE = "too close to call"
OUT_OF_TOLERANCE = "out of tolerance"
NOT_KNOWN = "not known"

GROUPS = {"offset": "offset", "axial": "axial"}  # everything else is an angle
EDGE = 1.0 + 1e-9  # a value on its limit is inside; a unit's conversion must not push it out

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Judgement:
    """Verdict over all limits.

    `tolerance_used` is the largest share of a limit and `probability` that all are kept [1]; `reason_code` is for
    programs, `reason` the sentence for people, `numbers` what it was made from, `needs` what would decide a close case.
    """

    verdict: str
    reason_code: str
    reason: str
    tolerance_used: float | None
    probability: float | None
    lines: tuple[LimitLine, ...] = ()
    needs: tuple[str, ...] = ()
    numbers: dict[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True)
class _Figure:
    """Rows over (offset V, H, slope V, H, axial) whose length is held against a limit."""

    limit: Limit
    quantity: str
    plane: str
    rows: Floats


def judge(
    misalignment: Misalignment,
    limits: Limits | None,
    flex_planes_mm: Sequence[float] | None = None,
    axial: tuple[float, float] | None = None,
    confidence: float = 0.95,
    decision: str = "guarded",
    closure_refused: bool = False,
    *,
    solution: Solution | None = None,
) -> Judgement:
    """Verdict of a misalignment, measured from its target, against all its limits at once.

    Parameters
    ----------
    misalignment : Misalignment
        Less its target. [mm, mrad]
    limits : Limits or None
    flex_planes_mm : (x_A, x_B), optional
        Needed for limits on flex angles. [mm]
    axial : (deviation, standard uncertainty), optional
        Gap in place less the nominal gap, see `gap_in_place`. [mm]
    confidence : float
        Between 0.5 and 1; the site's setting, starter 0.95.
    decision : {'guarded', 'simple'}
        Guarded: in tolerance from a probability of `confidence` up, out of tolerance at 1 - `confidence` and below,
        between them too close to call. Simple: by the value alone; the probability is still given.
    closure_refused : bool
        The survey's closure was refused: figures stay, the verdict is not known.
    solution : Solution, optional
        The survey, to say what would decide a case that is too close to call.

    Returns
    -------
    Judgement
        `tolerance_used` is the largest ratio to its limit. `probability` is that all limits are kept: closed form for
        one figure in one plane, otherwise numeric with an error below 2e-4 (see `probability`). Both are None when
        the verdict is not known.

    Raises
    ------
    ConformityError
        A limit that is not above zero, an unknown quantity, rule, decision, a confidence outside (0.5, 1).

    References
    ----------
    JCGM 106:2012, clauses 7 and 8 (probability of conformity, simple acceptance, guard bands); ISO 14253-1.
    """
    _check(limits, confidence, decision)
    if limits is None or not limits.limits:
        return _unknown("no-limits", "No limits are set for this coupling, so there is nothing to judge by.")
    mean, covariance = _five(misalignment, axial)
    figures = [figure for limit in limits.limits for figure in _figures(limit, limits.rule, flex_planes_mm)]
    lines = [_line(figure, mean, covariance, confidence, decision) for figure in figures]
    if limits.combined:
        lines += _combined_line(figures, mean, covariance, confidence, decision)
    if closure_refused:
        return _unknown(
            "closure-refused",
            "The readings of a set do not close, beyond the site's limit and what their uncertainty explains: repeat.",
            tuple(_silenced(line) for line in lines),
        )
    missing = {line.quantity for line in lines if line.value is None}
    if "flex" in {quantity.split("-")[0] for quantity in missing} and flex_planes_mm is None:
        return _unknown("flex-planes-missing", "The flex planes of this coupling are not known.", tuple(lines))
    if missing - {"axial", "combined"}:
        return _unknown("plane-missing", _missing_plane(misalignment), tuple(lines))
    known = [figure for figure in figures if figure.quantity not in missing]
    summed = limits.combined and "combined" not in missing
    probability = _joint(known, mean, covariance, summed) if known else None
    if probability is None or (missing and _by(probability, confidence) != OUT_OF_TOLERANCE):
        reason = "There is an axial limit, and no gap was measured: measure it."
        return _unknown("axial-missing", reason, tuple(lines))
    return _decided(tuple(lines), probability, confidence, decision, solution)


def _check(limits: Limits | None, confidence: float, decision: str) -> None:
    errors: dict[str, str] = {}
    if not 0.5 < confidence < 1:
        errors["confidence"] = "The confidence must lie between 50 % and 100 %."
    if decision not in ("guarded", "simple"):
        errors["decision"] = "Say guarded or simple."
    if limits is not None:
        if limits.rule not in ("vector", "per-plane"):
            errors["limits.rule"] = "Say vector or per-plane."
        for limit in limits.limits:
            if limit.quantity not in QUANTITIES:
                errors[f"limits.{limit.quantity}"] = f"Not a limit here. Choose among: {', '.join(QUANTITIES)}."
            elif not (math.isfinite(limit.value) and limit.value > 0):
                errors[f"limits.{limit.quantity}"] = "The limit must be a number above zero."
    if errors:
        raise ConformityError(errors)


def _five(misalignment: Misalignment, axial: tuple[float, float] | None) -> tuple[Floats, Floats]:
    mean, covariance = np.full(5, np.nan), np.full((5, 5), np.nan)
    mean[:4], covariance[:4, :4] = misalignment.mean, misalignment.covariance
    if axial is not None:
        deviation, u = axial
        if not (math.isfinite(deviation) and math.isfinite(u) and u >= 0):
            raise ConformityError("axial", "The axial deviation and its uncertainty must be finite numbers.")
        mean[4] = deviation
        covariance[4, :], covariance[:, 4] = 0.0, 0.0  # a feeler between the faces shares nothing with the dials
        covariance[4, 4] = u**2
    return mean, covariance


def _figures(limit: Limit, rule: str, flex_planes_mm: Sequence[float] | None) -> list[_Figure]:
    if limit.quantity == "axial":
        return [_Figure(limit, "axial", "", np.array([[0.0, 0, 0, 0, 1]]))]
    found = []
    for quantity in ("flex-angle-a", "flex-angle-b") if limit.quantity == "flex-angle" else (limit.quantity,):
        y, s = _arm(quantity, flex_planes_mm)
        rows = np.array([[y, 0, s, 0, 0], [0, y, 0, s, 0]])
        if rule == "vector":
            found.append(_Figure(limit, quantity, "", rows))
        else:
            found += [_Figure(limit, quantity, plane, rows[[i]]) for i, plane in enumerate(("vertical", "horizontal"))]
    return found


def _arm(quantity: str, flex_planes_mm: Sequence[float] | None) -> tuple[float, float]:
    if quantity == "offset":
        return 1.0, 0.0
    if quantity == "angularity":
        return 0.0, 1.0
    if flex_planes_mm is None:
        return math.nan, math.nan
    xa, xb = checked_planes(flex_planes_mm)
    per_length = 1000.0 / (xb - xa)
    return (per_length, xb / (xb - xa)) if quantity == "flex-angle-a" else (-per_length, -xa / (xb - xa))


def _ratios(figures: Sequence[_Figure], mean: Floats, covariance: Floats) -> tuple[Floats, Floats]:
    """Mean and covariance of all rows over their limits; nan where a number that counts is missing."""
    table = np.vstack([figure.rows / figure.limit.value for figure in figures])
    used = (table != 0.0).any(axis=0)
    return table[:, used] @ mean[used], table[:, used] @ covariance[np.ix_(used, used)] @ table[:, used].T


def _line(figure: _Figure, mean: Floats, covariance: Floats, confidence: float, decision: str) -> LimitLine:
    limit = figure.limit
    ratio, spread = _ratios([figure], mean, covariance)
    if not (np.isfinite(ratio).all() and np.isfinite(spread).all()):
        return LimitLine(
            figure.quantity, None, None, limit.value, None, None, NOT_KNOWN, figure.plane, limit.family, limit.source
        )
    share = float(np.linalg.norm(ratio))
    # At the very centre a length has no direction; the larger axis is then the honest side to take.
    u = math.sqrt(float(ratio @ spread @ ratio)) / share if share > 1e-12 else math.sqrt(float(np.max(np.diag(spread))))
    probability = in_disc(tuple(ratio), spread, 1.0) if u > 0 else float(share <= EDGE)
    quantile = length_quantile(tuple(ratio), spread, confidence if share <= 1.0 else 1.0 - confidence)
    reach = max(0.0, quantile - share if share <= 1.0 else share - quantile)
    verdict = _by(probability, confidence) if decision == "guarded" else _by_value(share)
    return LimitLine(
        figure.quantity,
        share * limit.value,
        u * limit.value,
        limit.value,
        share,
        reach,
        verdict,
        figure.plane,
        limit.family,
        limit.source,
        probability,
    )


def _groups(figures: Sequence[_Figure]) -> tuple[tuple[tuple[int, ...], ...], ...]:
    """Rows of the data sheet's figures, by offset, angle and axial."""
    groups: dict[str, list[tuple[int, ...]]] = {}
    row = 0
    for figure in figures:
        rows = tuple(range(row, row + len(figure.rows)))
        row += len(rows)
        if figure.limit.family == "sheet":
            groups.setdefault(GROUPS.get(figure.quantity, "angle"), []).append(rows)
    return tuple(tuple(group) for group in groups.values())


def _region(figures: Sequence[_Figure], *, discs: bool, summed: bool) -> Region:
    rows, row = [], 0
    for figure in figures:
        rows.append(tuple(range(row, row + len(figure.rows))))
        row += len(figure.rows)
    return Region(tuple(rows) if discs else (), _groups(figures) if summed else ())


def _combined_line(
    figures: Sequence[_Figure], mean: Floats, covariance: Floats, confidence: float, decision: str
) -> list[LimitLine]:
    sheet = [figure for figure in figures if figure.limit.family == "sheet"]
    groups = _groups(sheet)
    if len(groups) < 2:
        return []
    ratio, spread = _ratios(sheet, mean, covariance)
    if not (np.isfinite(ratio).all() and np.isfinite(spread).all()):
        return [LimitLine("combined", None, None, 1.0, None, None, NOT_KNOWN)]
    slope, share = np.zeros(len(ratio)), 0.0
    for group in groups:
        rows = list(max(group, key=lambda found: float(np.linalg.norm(ratio[list(found)]))))
        size = float(np.linalg.norm(ratio[rows]))
        share += size
        slope[rows] = ratio[rows] / size if size > 0 else 1.0 / math.sqrt(len(rows))
    u = math.sqrt(max(0.0, float(slope @ spread @ slope)))
    probability = inside(ratio, spread, _region(sheet, discs=False, summed=True))
    verdict = _by(probability, confidence) if decision == "guarded" else _by_value(share)
    # The sum has no closed quantile: its linear reach, held to the side on which the probability puts it.
    reach, to_limit = float(special.ndtri(confidence)) * u, abs(1.0 - share)
    reach = max(reach, to_limit) if _by(probability, confidence) == TOO_CLOSE else min(reach, to_limit)
    return [LimitLine("combined", share, u, 1.0, share, reach, verdict, probability=probability)]


def _joint(figures: Sequence[_Figure], mean: Floats, covariance: Floats, summed: bool) -> float:
    ratio, spread = _ratios(figures, mean, covariance)
    if len(figures) == 1:
        return in_disc(tuple(ratio), spread, 1.0) if np.any(spread) else float(np.linalg.norm(ratio) <= EDGE)
    return inside(ratio, spread, _region(figures, discs=True, summed=summed))


def _by(probability: float, confidence: float) -> str:
    if probability >= confidence:
        return IN_TOLERANCE
    return OUT_OF_TOLERANCE if probability <= 1.0 - confidence else TOO_CLOSE


def _by_value(share: float) -> str:
    return IN_TOLERANCE if share <= EDGE else OUT_OF_TOLERANCE


def _decided(
    lines: tuple[LimitLine, ...], probability: float, confidence: float, decision: str, solution: Solution | None
) -> Judgement:
    known = [line for line in lines if line.share is not None]
    governing = max(known, key=lambda line: line.share or 0.0)
    used = governing.share or 0.0
    verdict = _by(probability, confidence) if decision == "guarded" else _by_value(used)
    chance = percent(probability)
    needs: tuple[str, ...] = ()
    if decision == "simple":
        code = "value-within" if verdict == IN_TOLERANCE else "value-beyond"
        reason = f"Judged by the value alone; the probability that all limits are kept is {chance}."
    elif verdict == TOO_CLOSE:
        code = "too-close"
        needs = _what_decides(lines, governing, confidence, solution)
        reason = f"The probability that all limits are kept is {chance}: {'; '.join(needs)}."
    else:
        code = "within" if verdict == IN_TOLERANCE else "beyond"
        reason = f"The probability that all limits are kept is {chance}."
    numbers: dict[str, float | str] = {
        "probability": probability,
        "confidence": confidence,
        "tolerance_used": used,
        "governing": governing.quantity,
        "governing_family": governing.family,
    }
    return Judgement(verdict, code, reason, used, probability, lines, needs, numbers)


def _what_decides(
    lines: Sequence[LimitLine], governing: LimitLine, confidence: float, solution: Solution | None
) -> tuple[str, ...]:
    said = []
    if solution is not None:
        if any(f is not None and f >= WORTH_A_WORD for s in solution.sets for f in (s.inflation_v, s.inflation_h)):
            said.append("turn the shafts through a full turn")
        if math.sqrt(solution.factor) >= WORTH_A_WORD:
            said.append("repeat the readings, they scatter more than their stated uncertainty")
    open_lines = [line for line in lines if line.verdict == TOO_CLOSE] or [governing]
    # The line that is hardest to settle says how much finer the reading would have to be.
    shares = [abs(1.0 - (line.share or 0.0)) * line.limit / line.u for line in open_lines if line.u]
    if shares:
        finer = float(special.ndtri(confidence)) / max(min(shares), 1e-9)
        if finer > 10:
            said.append("the value lies on the limit, so moving the machine settles it sooner than measuring again")
        else:
            repeats = math.ceil(finer**2)
            if 2 <= repeats <= 6:
                said.append(f"the mean of {repeats} such surveys could decide")
            said.append(f"an instrument {times(max(finer, 1.1))} finer could decide")
    return tuple(said)


def _missing_plane(misalignment: Misalignment) -> str:
    plane = "horizontal" if misalignment.has_vertical else "vertical"
    pair = "3 and 9" if misalignment.has_vertical else "12 and 6"
    return f"The {plane} plane was not measured: read {pair} too."


def _silenced(line: LimitLine) -> LimitLine:
    return LimitLine(**{**vars(line), "verdict": NOT_KNOWN, "probability": None})


def _unknown(code: str, reason: str, lines: tuple[LimitLine, ...] = ()) -> Judgement:
    return Judgement(NOT_KNOWN, code, reason, None, None, lines)
