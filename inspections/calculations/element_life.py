"""`element-life`: lives of elements and how each ended, to shape, scale, B10 and the share that reaches an age.

lives [{age, ended, sound_at, count, entry}]
    ended: failed        at that age, as it happened
           found-failed  at that age by a look; sound_at is the look before, absent if there was none
           removed       for another reason; it might have run on
           running       still
    entry                age when its record began
confidence               of the two-sided limits, starter 0.9
family_shape             what the family's shape is believed to be; needed where nothing has failed
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from couplings.calculations.request import Request
from inspections.calculations.element_life_form import FORM
from inspections.calculations.words import between, finite, hours
from inspections.forecasting.legs import ForecastError
from inspections.forecasting.life import BOUND, COUNTS, FAMILY, FEW, OWN, Estimate, bounded, by_itself, counted
from inspections.forecasting.lives import Lives, lives
from inspections.forecasting.survival import Curve as Survival
from inspections.forecasting.weibull import shape_prior
from plant import units
from plant.calculations import Calculation
from plant.drawings.curve import Curve, curve_plot
from plant.refusals import Refused

ENDED = ("failed", "found-failed", "removed", "running")
AT_MOST = 1000
COUNT_AT_MOST = 100_000
LONGEST = (1e6, "This is longer than a hundred years of running: look for a slipped decimal.")
ROWS_SHOWN = 60


@dataclass(frozen=True)
class LifeRequest:
    """[hour]"""

    lives: Lives
    confidence: float
    family_shape: float | None


@dataclass(frozen=True)
class LifeResult:
    """What the lives say, and of whom it is."""

    request: LifeRequest
    estimate: Estimate


def read_element_life(payload: Mapping[str, Any]) -> LifeRequest:
    """Read the request; raises Refused with every error by field path."""
    request = Request(payload)
    rows = []
    for row in request.rows("lives", AT_MOST, "Give the lives of the elements and how each ended."):
        rows.append(_life(row))
    confidence = request.number("confidence")
    if confidence is not None and not 0.5 <= confidence <= 0.999:
        request.refuse("confidence", "A probability between 0.5 and 0.999 is expected, such as 0.9.")
    shape = request.number("family_shape")
    if shape is not None and not 0.2 <= shape <= 20:
        request.refuse("family_shape", "A shape between 0.2 and 20 is expected; 1 does not wear, 3 wears much.")
    request.finish()
    request.raise_errors()
    try:
        known = lives(*(list(column) for column in zip(*rows, strict=True)))
    except ForecastError as error:
        raise Refused({"lives": "; ".join(error.errors.values())}) from None
    return LifeRequest(known, 0.9 if confidence is None else confidence, shape)


def _life(row: Request) -> tuple[float, float, float, float]:
    """low, high, count and entry of one row; an error noted beside its field where there is one."""
    age = row.quantity("age", "hours", "Give the age.", above=0, within=LONGEST)
    ended = row.choice("ended", ENDED, missing=f"Say how it ended: {', '.join(ENDED)}.")
    sound = row.quantity("sound_at", "hours", at_least=0, within=LONGEST)
    entry = row.quantity("entry", "hours", at_least=0, within=LONGEST) or 0.0
    number = row.number("count")
    if number is not None and (number != int(number) or not 1 <= number <= COUNT_AT_MOST):
        row.refuse("count", f"A whole number from 1 to {COUNT_AT_MOST} is expected.")
        number = None
    row.finish()
    if row.has("sound_at") and ended not in ("found-failed", None):
        row.refuse("sound_at", "The look before counts only where a failure was found by a look.")
    if age is None:
        return 0.0, 1.0, 1.0, 0.0
    if sound is not None and sound >= age:
        row.refuse("sound_at", "It was found failed after it was last seen sound: this age must be the smaller.")
    low = age if ended != "found-failed" else sound or 0.0
    if entry and entry >= (age if ended == "failed" else low if ended == "found-failed" else age + 1e-9):
        row.refuse("entry", "The record began before the last look that found it sound: this age must be the smaller.")
    high = age if ended in ("failed", "found-failed") else math.inf
    return low, high, number or 1.0, entry


def compute_element_life(asked: LifeRequest) -> LifeResult:
    """The law where the lives and the shape given allow one, else a bound, else counts and the curve."""
    given, shape = asked.lives, asked.family_shape
    try:
        if given.failures == 0 and shape is not None:
            return LifeResult(asked, bounded(given, shape, share=asked.confidence))
        if given.failures and (shape is not None or given.failures >= FEW):
            prior = None if shape is None else shape_prior(shape)
            return LifeResult(asked, by_itself(given, prior, asked.confidence))
    except ForecastError:
        return LifeResult(asked, counted(given, given.failures, asked.confidence, left_open=True))
    return LifeResult(asked, counted(given, given.failures, asked.confidence))


def answer_element_life(result: LifeResult, system: str) -> dict[str, Any]:
    """The answer of `POST /api/v1/calculations/element-life/`; null for what the lives do not say."""
    found = result.estimate

    def pair(limits: tuple[float, float] | None) -> list[Any] | None:
        return None if limits is None else [finite(one, "hours", system) for one in limits]

    shapes = found.beta_limits
    return {
        "basis": found.basis,
        "elements": found.elements,
        "failures": found.failures,
        "observed": finite(found.observed, "hours", system),
        "confidence": result.request.confidence,
        "shape": None if found.beta is None else units.without_dust(found.beta),
        "shape_limits": None if shapes is None else [one if math.isfinite(one) else None for one in shapes],
        "scale": finite(found.eta, "hours", system),
        "scale_limits": pair(found.eta_limits),
        "b10": finite(found.b10, "hours", system),
        "b10_limits": pair(found.b10_limits),
        "at_least": found.basis == BOUND,
        "limits_by": found.limits_by or None,
        "covariance": None if found.covariance is None else list(found.covariance),
        "says": said(found),
        "survival": [
            {
                "age": finite(age, "hours", system),
                "at_risk": float(risk),
                "failed": float(failed),
                "survival": units.without_dust(float(share)),
                "low": float(low) if math.isfinite(low) else None,
                "high": float(high) if math.isfinite(high) else None,
            }
            for age, risk, failed, share, low, high in rows_of(found.curve)
        ],
    }


def rows_of(curve: Survival) -> list[tuple[float, float, float, float, float, float]]:
    """The curve as rows: age, at risk, failed, survival and its limits."""
    columns = (curve.age, curve.at_risk, curve.failed, curve.survival, curve.low, curve.high)
    return [tuple(float(one) for one in row) for row in zip(*columns, strict=True)]  # type: ignore[misc]


def said(found: Estimate) -> str:
    """On what the figures rest, or why there is no B10, in a sentence."""
    counts = f"{found.failures:g} of {found.elements:g} failed"
    if found.open:
        return f"{counts}, at ages that leave the law open: there is no B10."
    if found.basis == COUNTS and not found.failures:
        return f"{counts}: with the shape of the family a bound from below could be given."
    if found.basis == COUNTS:
        return f"{counts}: too few for a law, so there are counts and a curve and no B10."
    if found.basis == BOUND:
        return f"{counts}: the figures are bounds from below, by the shape of the family."
    by = "their own lives" if found.basis == OWN else "their own lives and the shape of the family"
    if found.beta_limits is not None and found.beta_limits[0] <= 1 and found.basis in (OWN, FAMILY):
        return f"{counts}; the law follows from {by}. That they wear at all is not sure: the shape may be 1 or less."
    return f"{counts}; the law follows from {by}."


def picture_of(found: Estimate, label: str, most: float | None = None) -> str:
    """The survival curve in hours, the fitted law dashed; "" where no age is known."""
    longest = max([*(float(one) for one in found.curve.age), most or 0.0], default=0.0) * 1.05
    if longest <= 0:
        return ""
    steps = [(0.0, 1.0), *((float(a), float(s)) for a, s in zip(found.curve.age, found.curve.survival, strict=True))]
    if len(steps) > 1:
        steps.append((longest, steps[-1][1]))
    law: list[tuple[float, float]] = []
    if found.eta is not None and found.beta is not None and found.basis != BOUND:
        ages = np.linspace(0, longest, 60)
        law = [(float(a), float(math.exp(-((a / found.eta) ** found.beta)))) for a in ages]
    band = [(0.0, 1.0, 1.0)] + [
        (float(a), float(low), float(high))
        for a, low, high in zip(found.curve.age, found.curve.low, found.curve.high, strict=True)
        if math.isfinite(low)
    ]
    if len(band) == len(steps) - 1:
        band.append((longest, *band[-1][1:]))  # the last limits stand as the last share does
    marks = [(found.b10, "B10")] if found.b10 is not None and found.basis != BOUND else []
    return curve_plot(
        Curve(longest, 1.0, steps if len(steps) > 1 else (), law, band, marks, steps=True, percent=True),
        label, says=said(found),
    )  # fmt: skip


def drawn(result: LifeResult, system: str) -> dict[str, Any]:
    """Plot, sentences and rows of the page."""
    found, shapes = result.estimate, result.estimate.beta_limits
    most = float(result.request.lives.seen_at.max())
    least = "at least " if found.basis == BOUND else ""
    share = units.written(result.request.confidence, "share", system)
    rows = [
        ("Shape", "" if found.beta is None else f"{found.beta:.2f}",
         "" if shapes is None else f"{shapes[0]:.2f} to {'no end' if math.isinf(shapes[1]) else f'{shapes[1]:.2f}'}"),
        ("Scale", "" if found.eta is None else least + hours(found.eta, system), between(found.eta_limits, system)),
        ("B10", "" if found.b10 is None else least + hours(found.b10, system), between(found.b10_limits, system)),
    ]  # fmt: skip
    table = [
        (hours(a, system), f"{n:g}", f"{d:g}", units.written(s, "share", system), _limits(low, high, system))
        for a, n, d, s, low, high in rows_of(found.curve)
    ]
    return {
        "plot": picture_of(found, "Share that reaches an age in hours, in per cent", most),
        "says": said(found),
        "rows": rows,
        "share": share,
        "table": table[:ROWS_SHOWN],
        "more": max(0, len(table) - ROWS_SHOWN),
        "between_looks": not result.request.lives.known_to_the_day,
    }


def _limits(low: float, high: float, system: str) -> str:
    if not math.isfinite(low):
        return ""
    return f"{units.written(low, 'share', system)} to {units.written(high, 'share', system)}"


ELEMENT_LIFE = Calculation(
    name="element-life",
    title="Life of elements",
    summary="Shape, scale and B10 of a kind of element from how long each lived, those still running included.",
    reader=read_element_life,
    function=compute_element_life,
    writer=answer_element_life,
    template="inspections/calculations/element_life.html",
    form=FORM,
    drawn=drawn,
    example={
        "lives": [
            *({"age": {"value": age, "unit": "hour"}, "ended": "failed"} for age in (9100, 14500, 18200, 21000)),
            {"age": {"value": 16000, "unit": "hour"}, "ended": "found-failed",
             "sound_at": {"value": 12000, "unit": "hour"}},
            {"age": {"value": 8000, "unit": "hour"}, "ended": "removed"},
            {"age": {"value": 20000, "unit": "hour"}, "ended": "running", "count": 6},
            {"age": {"value": 26000, "unit": "hour"}, "ended": "running", "entry": {"value": 9000, "unit": "hour"}},
        ],
    },
)  # fmt: skip
