"""`replacement-age`: shape and scale of a life, and what planned and unplanned replacement cost, to the best age.

shape, scale                        a number and an age
planned_cost, unplanned_cost        plain numbers in one currency, all that comes with each included
shape_error, scale_error            relative standard errors, optional: then it is said whether it surely pays
stops                               ages at the stops ahead, optional
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from couplings.calculations.one_form import one_form
from couplings.calculations.plain_form import plain_number, row
from couplings.calculations.request import Request
from inspections.calculations.lines import numbers
from inspections.calculations.words import finite, hours
from inspections.forecasting.replacement import Replacement, at_stops, cost_rate, replacement
from plant import units
from plant.calculations import Calculation
from plant.drawings.curve import Curve, curve_plot

LONGEST = (1e6, "This is longer than a hundred years of running: look for a slipped decimal.")
PER_H = 1000.0  # a cost per thousand hours is a number a person can read
STOPS_AT_MOST = 50


@dataclass(frozen=True)
class ReplacementRequest:
    """[hour], money"""

    eta: float
    beta: float
    planned: float
    unplanned: float
    covariance: tuple[float, float, float] | None = None
    stops: tuple[float, ...] = ()


@dataclass(frozen=True)
class ReplacementResult:
    """The best age, and the best stop beside it where stops were given."""

    request: ReplacementRequest
    found: Replacement
    at_stop: float | None


def read_replacement_age(payload: Mapping[str, Any]) -> ReplacementRequest:
    """Read the request; raises Refused with every error by field path."""
    request = Request(payload)
    eta = request.quantity("scale", "hours", "Give the scale of the life.", above=0, within=LONGEST)
    beta = _number(request, "shape", 0.2, 20, "Give the shape; 1 does not wear, 3 wears much.")
    planned = _number(request, "planned_cost", 1e-6, 1e9, "Give what one planned replacement costs.")
    unplanned = _number(request, "unplanned_cost", 1e-6, 1e9, "Give what one failure in service costs.")
    errors = [_error(request, name) for name in ("scale_error", "shape_error")]
    if planned is not None and unplanned is not None and unplanned / planned > 1e6:
        request.refuse("unplanned_cost", "This is a million planned replacements: look for a slipped decimal.")
    if (errors[0] is None) != (errors[1] is None) and not request.errors:
        request.refuse("shape_error" if errors[1] is None else "scale_error", "Give both errors, or neither.")
    given = request.given("stops")
    stops: list[float] = []
    if given is not None and (not isinstance(given, list | tuple) or len(given) > STOPS_AT_MOST):
        request.refuse("stops", f"A list of at most {STOPS_AT_MOST} ages is expected here.")
    elif given:
        each = Request({str(place): one for place, one in enumerate(given)}, request.at("stops"), request.errors)
        ages = [each.quantity(str(n), "hours", "Give an age.", above=0, within=LONGEST) for n in range(len(given))]
        stops = [one for one in ages if one is not None]
    request.finish()
    request.raise_errors()
    assert eta is not None  # missing ones have been refused
    assert beta is not None
    assert planned is not None
    assert unplanned is not None
    spread = None if errors[0] is None or errors[1] is None else (errors[0] ** 2, 0.0, errors[1] ** 2)
    return ReplacementRequest(eta, beta, planned, unplanned, spread, tuple(sorted(stops)))


def _number(request: Request, key: str, least: float, most: float, missing: str) -> float | None:
    value = request.number(key, missing)
    if value is not None and not least <= value <= most:
        request.refuse(key, f"A number from {least:g} to {most:g} is expected.")
        return None
    return value


def _error(request: Request, key: str) -> float | None:
    value = request.quantity(key, "share", at_least=0)
    if value is not None and value > 3:
        request.refuse(key, "An error of more than 300 % leaves nothing to go by.")
        return None
    return value


def compute_replacement_age(asked: ReplacementRequest) -> ReplacementResult:
    """The best age and what it saves."""
    law = asked.eta, asked.beta, asked.planned, asked.unplanned
    found = replacement(*law, asked.covariance)
    return ReplacementResult(asked, found, at_stops(found.age, asked.stops, *law))


def answer_replacement_age(result: ReplacementResult, system: str) -> dict[str, Any]:
    """The answer of `POST /api/v1/calculations/replacement-age/`; a null age is running to failure."""
    found = result.found
    return {
        "age": finite(found.age, "hours", system),
        "run_to_failure": math.isinf(found.age),
        "cost_per_1000_hours": units.without_dust(found.cost * PER_H),
        "cost_to_failure_per_1000_hours": units.without_dust(found.to_failure * PER_H),
        "saving": units.without_dust(found.saving),
        "band": [finite(one, "hours", system) for one in found.band],
        "age_interval": None if found.ages is None else [finite(one, "hours", system) for one in found.ages],
        "saving_lower_quartile": None if found.saving_low is None else units.without_dust(found.saving_low),
        "shape_lower_limit": found.wears,
        "recommended": found.recommended,
        "at_stop": finite(result.at_stop, "hours", system),
        "curve": [
            {"age": finite(age, "hours", system), "cost_per_1000_hours": units.without_dust(cost * PER_H)}
            for age, cost in costs_of(result.request)
        ],
        "says": said(result, system),
    }


def costs_of(asked: ReplacementRequest, points: int = 13) -> list[tuple[float, float]]:
    """Cost per hour of so many ages, from a tenth of the scale to twice it."""
    ages = np.linspace(0.1, 2.0, points) * asked.eta
    costs = cost_rate(ages, asked.eta, asked.beta, asked.planned, asked.unplanned)
    return [(float(a), float(c)) for a, c in zip(ages, costs, strict=True)]


def said(result: ReplacementResult, system: str) -> str:
    """The advice in a sentence."""
    found = result.found
    if math.isinf(found.age):
        return "Running to failure costs least: at no age does replacing a sound element pay."
    saving = units.written(found.saving, "share", system)
    advice = f"Replacing at {hours(found.age, system)} costs least and saves {saving} of what running to failure costs."
    if found.recommended is None:
        return advice
    if found.recommended:
        return f"{advice} It saves more than a tenth also if the law is less kind: planned replacement is recommended."
    why = "that it wears at all is not sure" if (found.wears or 0) <= 1 else "the saving is not sure enough"
    return f"{advice} It is not recommended: {why}."


def drawn(result: ReplacementResult, system: str) -> dict[str, Any]:
    """Plot, sentences and rows of the page."""
    found, asked = result.found, result.request
    finely = costs_of(asked, 80)
    most = max(min(max(cost for _, cost in finely), 4 * found.cost), found.to_failure) * PER_H
    marks = [] if math.isinf(found.age) or found.age > finely[-1][0] else [(found.age, "best age")]
    plot = curve_plot(
        Curve(
            finely[-1][0], most, [(age, min(cost * PER_H, most)) for age, cost in finely],
            marks=marks, levels=[found.to_failure * PER_H],
        ),
        "Cost per thousand hours over the age of replacement; dotted: running to failure", said(result, system),
    )  # fmt: skip
    ages = found.ages
    low, high = found.band
    rows = [
        ("Best age", hours(found.age, system)),
        ("Between, nine in ten", "" if ages is None else f"{hours(ages[0], system)} to {hours(ages[2], system)}"),
        ("Costs within a twentieth of the least", f"{hours(low, system)} to {hours(high, system)}"),
        ("Best of the stops", "" if not asked.stops else
         "none: run to failure" if result.at_stop is None else hours(result.at_stop, system)),
        ("Cost per thousand hours", f"{found.cost * PER_H:.4g}"),
        ("Running to failure", f"{found.to_failure * PER_H:.4g}"),
        ("Saved", units.written(found.saving, "share", system)),
        ("Saved at the lower quartile", "" if found.saving_low is None else
         units.written(found.saving_low, "share", system)),
    ]  # fmt: skip
    return {
        "plot": plot,
        "says": said(result, system),
        "rows": rows,
        "table": [(hours(age, system), f"{cost * PER_H:.4g}") for age, cost in costs_of(asked)],
    }


def _ages(text: str, _system: str) -> list[dict[str, Any]]:
    return [{"value": one.last, "unit": "hour"} for one in numbers(text)]


FORM = one_form(
    (
        row("scale", "Scale (63 in 100 have failed)", "hours", required=True, group="Life"),
        row("shape", "Shape", "count", required=True, group="Life", read=plain_number),
        row("scale_error", "Standard error of the scale", "share", group="Life", hint="Such as 12 %; blank: not said."),
        row("shape_error", "Standard error of the shape", "share", group="Life"),
        row("planned", "Planned replacement costs", "count", "planned_cost", required=True, group="Costs",
            read=plain_number, hint="Part, hours and what the stop costs, in any one currency."),
        row("unplanned", "A failure costs", "count", "unplanned_cost", required=True, group="Costs",
            read=plain_number, hint="The same with what breaks with it and the time down."),
        row("stops", "Age at the stops ahead, hours", "text", "stops", group="Costs", read=_ages,
            hint="Such as 8000; 16000. Blank: any time."),
    )
)  # fmt: skip

REPLACEMENT_AGE = Calculation(
    name="replacement-age",
    title="Replacement age",
    summary="The age at which replacing a sound element costs least, what it saves, and whether that is sure.",
    reader=read_replacement_age,
    function=compute_replacement_age,
    writer=answer_replacement_age,
    template="inspections/calculations/replacement_age.html",
    form=FORM,
    drawn=drawn,
    example={
        "scale": {"value": 20000, "unit": "hour"},
        "shape": 2.8,
        "scale_error": {"value": 0.12, "unit": "1"},
        "shape_error": {"value": 0.2, "unit": "1"},
        "planned_cost": 900,
        "unplanned_cost": 7500,
        "stops": [{"value": 8000, "unit": "hour"}, {"value": 16000, "unit": "hour"}],
    },
)
