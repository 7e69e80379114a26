"""`conformity`: one measured figure, or the resultant of two, against its limits.

of                      gap, slope, size, torque, hours or share: the kind of quantity
value                   with lower, upper or both
components [a, b]       instead of a value: two components of one vector, each with standard_uncertainty; upper only
standard_uncertainty    of the value, or of each component
confidence, decision    starters 0.95 and guarded
items {mean, spread}    what such items truly are: then how many are accepted or refused wrongly
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from couplings.calculations.judged import decision_rows, read_decision
from couplings.calculations.plain_form import Row, Variant, form_of, row
from couplings.calculations.request import Request
from couplings.engineering.decisions import conformance, decided, guard_band, risks
from couplings.engineering.probability import in_disc, percent
from inspections.calculations.words import cut
from plant import units
from plant.calculations import Calculation, Form, FormField

KINDS = {"gap": "a length", "slope": "an angularity", "torque": "a torque", "hours": "a time", "share": "a share"}
LARGEST = (1e9, "This is larger than anything measured here: look for a slipped decimal.")


@dataclass(frozen=True)
class ConformityRequest:
    """All in the base unit of the kind. [mm], [mrad], [N*m], [hour] or [1]"""

    of: str
    values: tuple[float, ...]
    u: tuple[float, ...]
    lower: float | None
    upper: float | None
    confidence: float
    decision: str
    mean: float | None = None
    spread: float | None = None


@dataclass(frozen=True)
class ConformityResult:
    """`value` is the length of the vector where two components were given; the zone is where values conform surely."""

    request: ConformityRequest
    value: float
    probability: float
    verdict: str
    guard: float | None
    zone: tuple[float | None, float | None] | None
    consumer: float | None
    producer: float | None


def read_conformity(payload: Mapping[str, Any]) -> ConformityRequest:
    """Read the request; raises Refused with every error by field path."""
    request = Request(payload)
    of = request.choice("of", tuple(KINDS), missing=f"Say what is measured: {', '.join(KINDS)}.")
    kind = of or "gap"
    values, spreads = _measured(request, kind)
    lower = request.quantity("lower", kind, within=LARGEST)
    upper = request.quantity("upper", kind, within=LARGEST)
    if not request.has("lower") and not request.has("upper"):
        request.refuse("upper", "Give at least one limit.")
    if lower is not None and upper is not None and not lower < upper:
        request.refuse("upper", "The upper limit must lie above the lower one.")
    if len(values) == 2:
        if request.has("lower"):
            request.refuse("lower", "A resultant has one limit, the largest it may be.")
        if upper is not None and upper <= 0:
            request.refuse("upper", "The largest resultant must be above zero.")
    confidence, decision = read_decision(request)
    mean = spread = None
    items = request.part("items")
    if items is not None:
        mean = items.quantity("mean", kind, "Give the mean of such items.", within=LARGEST)
        spread = items.quantity("spread", kind, "Give the standard deviation of such items.", above=0, within=LARGEST)
        items.finish()
        if request.has("components"):
            request.refuse("items", "How many are judged wrongly is worked out for one value, not for a resultant.")
    request.finish()
    request.raise_errors()
    return ConformityRequest(kind, values, spreads, lower, upper, confidence, decision, mean, spread)


def _measured(request: Request, kind: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    if not request.has("components"):
        value = request.quantity("value", kind, "Give the measured value.", within=LARGEST)
        u = request.quantity(
            "standard_uncertainty", kind, "Give its standard uncertainty.", at_least=0, within=LARGEST
        )  # fmt: skip
        return (value or 0.0,), (u or 0.0,)
    if request.has("value") or request.has("standard_uncertainty"):
        request.refuse("value", "Give a value or two components, not both.")
    values, spreads = [], []
    for one in request.rows("components", 2):
        value = one.quantity("value", kind, "Give this component.", within=LARGEST)
        u = one.quantity("standard_uncertainty", kind, "Give its standard uncertainty.", at_least=0, within=LARGEST)
        one.finish()
        values.append(value or 0.0)
        spreads.append(u or 0.0)
    if len(values) != 2:
        request.refuse("components", "Two components are expected.")
    return tuple(values), tuple(spreads)


def compute_conformity(asked: ConformityRequest) -> ConformityResult:
    """Probability, verdict, guard band, and both risks where such items are described."""
    if len(asked.values) == 2:
        assert asked.upper is not None
        length = math.hypot(*asked.values)
        chance = in_disc(asked.values, np.diag(np.square(asked.u)), asked.upper)
        inside = length <= asked.upper * (1 + 1e-12)
        verdict = decided(chance, inside, asked.confidence, asked.decision)
        return ConformityResult(asked, length, chance, verdict, None, None, None, None)
    value, u = asked.values[0], asked.u[0]
    chance = float(conformance(value, u, asked.lower, asked.upper))
    inside = bool(conformance(value, 0.0, asked.lower, asked.upper))
    guard = guard_band(u, asked.confidence) if asked.decision == "guarded" else 0.0
    low = None if asked.lower is None else asked.lower + guard
    high = None if asked.upper is None else asked.upper - guard
    zone = None if low is not None and high is not None and low > high else (low, high)
    consumer = producer = None
    if asked.mean is not None and asked.spread is not None and zone is not None:
        consumer, producer = risks(asked.mean, asked.spread, u, (asked.lower, asked.upper), zone)
    verdict = decided(chance, inside, asked.confidence, asked.decision)
    return ConformityResult(asked, value, chance, verdict, guard, zone, consumer, producer)


def answer_conformity(result: ConformityResult, system: str) -> dict[str, Any]:
    """The answer of `POST /api/v1/calculations/conformity/`."""
    asked = result.request

    def of(base: float | None) -> dict[str, Any] | None:
        return units.quantity(base, asked.of, system)

    zone = result.zone or (None, None)
    return {
        "value": of(result.value),
        "lower": of(asked.lower),
        "upper": of(asked.upper),
        "probability_of_conformity": units.without_dust(result.probability),
        "verdict": result.verdict,
        "confidence": asked.confidence,
        "decision": asked.decision,
        "guard_band": of(result.guard),
        "acceptance": {"lower": of(zone[0]), "upper": of(zone[1]), "exists": result.zone is not None},
        "consumer_risk": None if result.consumer is None else units.without_dust(result.consumer),
        "producer_risk": None if result.producer is None else units.without_dust(result.producer),
    }


def drawn(result: ConformityResult, system: str) -> dict[str, Any]:
    """The limit line and sentences of the page."""
    asked = result.request
    upper_only = asked.lower is None and asked.upper is not None and asked.upper > 0 and result.value >= 0
    share = result.value / asked.upper if upper_only and asked.upper else None
    of = asked.of
    zone = result.zone or (None, None)
    return {
        "share": share,
        # The whisker is twice the larger standard uncertainty.
        "share_u": 2 * max(asked.u) / asked.upper if upper_only and asked.upper else None,
        "chance": percent(result.probability),
        "confidence": units.written(asked.confidence, "share", system),
        "rows": [
            ("Measured", cut(result.value, of, system)),
            ("Lower limit", cut(asked.lower, of, system)),
            ("Upper limit", cut(asked.upper, of, system)),
            ("Guard band", cut(result.guard, of, system)),
            ("Accepted from", cut(zone[0], of, system)),
            ("Accepted up to", cut(zone[1], of, system)),
            ("Accepted and outside, of all", _share(result.consumer)),
            ("Refused and inside, of all", _share(result.producer)),
        ],
        "no_zone": result.zone is None and len(asked.values) == 1,
    }


def _share(value: float | None) -> str:
    return "" if value is None else f"{value * 100:.2g}\u00a0%"


_LIMITS = "Limits"
_WRONG = "Judged wrongly"


def _rows(kind: str) -> tuple[Row, ...]:
    return (
        row("value", "Measured", kind, required=True, group="Measured"),
        row("u", "Its standard uncertainty", kind, "standard_uncertainty", required=True, group="Measured"),
        *_limits(kind, lower=True),
        row("mean", "Mean of such items", kind, "items.mean", group=_WRONG, fold="group",
            hint="What is known of them from elsewhere; blank where nothing is."),
        row("spread", "Their standard deviation", kind, "items.spread", group=_WRONG),
    )  # fmt: skip


def _vector(kind: str) -> tuple[Row, ...]:
    parts = (("first", "Vertical"), ("second", "Horizontal"))
    made = []
    for place, (name, title) in enumerate(parts):
        made += [
            row(name, title, kind, f"components.{place}.value", required=True, group="Measured"),
            row(f"{name}_u", f"{title}, standard uncertainty", kind, f"components.{place}.standard_uncertainty",
                required=True, group="Measured"),
        ]  # fmt: skip
    return (*made, *_limits(kind, lower=False))


def _limits(kind: str, *, lower: bool) -> tuple[Row, ...]:
    low = (row("lower", "Lower limit", kind, group=_LIMITS, hint="Blank: there is none."),) if lower else ()
    return (
        *low,
        row("upper", "Upper limit", kind, group=_LIMITS),
        *decision_rows(),
    )


_PLAIN = form_of(
    {
        **{kind: Variant(f"one value, {title}", _rows(kind)) for kind, title in KINDS.items()},
        **{f"{kind}-vector": Variant(f"a resultant, {KINDS[kind]}", _vector(kind)) for kind in ("gap", "slope")},
    }
)


def _payload(variant: str, typed: Mapping[str, str], system: str) -> tuple[dict[str, Any], dict[str, str]]:
    made, errors = _PLAIN.payload(variant, typed, system)
    del made["method"]
    if variant.endswith("-vector"):
        parts = made.setdefault("components", [])
        parts += [{} for _ in range(2 - len(parts))]  # so that what is blank is asked for by its own name
    return {"of": variant.removesuffix("-vector"), **made}, errors


def _fields(variant: str) -> list[FormField]:
    return _PLAIN.fields(variant)


def _field_of(path: str, given: Mapping[str, Any]) -> str:
    variant = str(given.get("of")) + ("-vector" if given.get("components") is not None else "")
    return _PLAIN.field_of(path, {**given, "method": variant})


CONFORMITY = Calculation(
    name="conformity",
    title="Conformity",
    summary="How sure it is that a measured figure keeps its limits, with guard band and verdict.",
    reader=read_conformity,
    function=compute_conformity,
    writer=answer_conformity,
    template="inspections/calculations/conformity.html",
    form=Form(
        variants=_PLAIN.variants, fields=_fields, payload=_payload, field_of=_field_of, asks="What was measured is"
    ),
    drawn=drawn,
    example={
        "of": "gap",
        "value": {"value": 0.042, "unit": "mm"},
        "standard_uncertainty": {"value": 0.005, "unit": "mm"},
        "upper": {"value": 0.05, "unit": "mm"},
        "items": {"mean": {"value": 0.02, "unit": "mm"}, "spread": {"value": 0.015, "unit": "mm"}},
    },
)
