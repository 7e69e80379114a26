"""Measurement rows of one signed text as plain data: what is written into the text, and what it is compared with."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from django.db import models

from inspections.models import Reading, ReadingSet, RunUp, SignedRecord, Survey, SurveyResult
from inspections.steps import STEPS

# Which step writes which rows besides surveys.
FACTS: dict[str, tuple[type[models.Model], ...]] = {step.key: step.kept for step in STEPS.values() if step.kept} | {
    "run-up": (RunUp,)  # accepted later, by a record of its own
}
# Keys and references that hold for one row in one database say nothing about the measurement.
_LEFT_OUT = frozenset({"id", "site", "visit", "record", "survey", "set"})
# Columns that came later: left out where they are empty, so that texts signed before still agree with their rows.
_LATER = frozenset({"correction", "driver_orientation", "driven_orientation", "hub_face_gap_mm"})
# The same for columns whose name another table had from the beginning.
_LATER_IN = {
    "torque": frozenset({"found", "specified_nm", "first_nm", "u_nm", "verdict", "reason"}),
    "placement": frozenset(
        {
            "gaps",
            "gap_between",
            "rotor_from_place_mm",
            "rotor_float_mm",
            "axial_growth_mm",
            "gap_in_place_mm",
            "gap_hot_mm",
        }
    ),
    "pipestrain": frozenset({"positions", "north_is"}),
    "survey": frozenset({"positions", "north_is", "read_by"}),
    "readingset": frozenset({"bracket"}),
    "reading": frozenset({"opposed_typed", "opposed_mm"}),
    "wear": frozenset({"instrument", "u"}),
    "elementfact": frozenset({"removal_code", "removal_finding", "went", "lot"}),
    "mounting": frozenset({"advance_verdict", "pressure_verdict", "screw_verdict"}),
}


@dataclass
class PlannedSurvey:
    """A survey with its rows, saved or about to be; `step` and `round` say which entry it came from."""

    step: str
    round: int
    survey: Survey
    sets: list[tuple[ReadingSet, list[Reading]]]
    result: SurveyResult


@dataclass
class Plan:
    """All measurement rows of one signed text."""

    surveys: list[PlannedSurvey] = field(default_factory=list)
    facts: dict[str, list[Any]] = field(default_factory=dict)

    def survey_of(self, step: str, number: int) -> PlannedSurvey | None:
        return next((one for one in self.surveys if (one.step, one.round) == (step, number)), None)

    @property
    def as_left(self) -> PlannedSurvey | None:
        return next((one for one in self.surveys if one.survey.as_left), None)

    @property
    def rows(self) -> list[models.Model]:
        found: list[models.Model] = []
        for planned in self.surveys:
            found += [planned.survey, planned.result]
            for row, readings in planned.sets:
                found += [row, *readings]
        return found + [fact for facts in self.facts.values() for fact in facts]


def described(plan: Plan) -> dict[str, Any]:
    """The rows as they stand in the canonical text: the same before they are saved and when they are read back."""
    return {
        "surveys": [
            {
                "step": planned.step,
                "round": planned.round,
                **columns(planned.survey),
                "sets": [
                    {**columns(row), "readings": [columns(one) for one in sorted(readings, key=_position)]}
                    for row, readings in sorted(planned.sets, key=lambda pair: pair[0].number)
                ],
                "result": columns(planned.result),
            }
            for planned in sorted(plan.surveys, key=lambda one: one.survey.number)
        ],
        "facts": {
            step: sorted((columns(row) for row in rows), key=lambda row: json.dumps(row, sort_keys=True))
            for step, rows in sorted(plan.facts.items())
            if rows
        },
    }


def columns(row: models.Model) -> dict[str, Any]:
    """One row's own columns as JSON has them; people and instruments by their ids outside."""
    found = {}
    later = _LATER | _LATER_IN.get(row._meta.model_name or "", frozenset())
    for column in row._meta.concrete_fields:
        if column.name in _LEFT_OUT or (column.name in later and getattr(row, column.name) in (None, "")):
            continue
        found[column.name] = _plain(getattr(row, column.name), column)
    return found


def planned_of(record: SignedRecord) -> Plan:
    """The rows that lie in the database under a signed text, in a fixed number of queries."""
    came_from = {one["number"]: (one["step"], one["round"]) for one in json.loads(record.text)["surveys"]}
    surveys = (
        Survey.objects.filter(record=record)
        .select_related("result", "observer")
        .prefetch_related("sets__readings", "sets__instrument")
        .order_by("number")
    )
    plan = Plan()
    for survey in surveys:
        step, number = came_from.get(survey.number, ("none", 0))
        sets = [(row, list(row.readings.all())) for row in survey.sets.all()]
        result = getattr(survey, "result", None) or SurveyResult(survey=survey)
        plan.surveys.append(PlannedSurvey(step, number, survey, sets, result))
    for step, models_of_step in FACTS.items():
        for model in models_of_step:
            rows = model._default_manager.filter(record=record)
            tools = [one.name for one in model._meta.concrete_fields if one.name.endswith("instrument")]
            if tools:
                rows = rows.select_related(*tools)
            if found := list(rows):
                plan.facts.setdefault(step, []).extend(found)
    return plan


def _position(reading: Reading) -> tuple[float, bool]:
    return (reading.angle_deg, reading.turned)


def _plain(value: Any, column: Any) -> Any:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, models.Model):
        return str(value.uuid)  # type: ignore[attr-defined]
    if value is not None and isinstance(column, models.FloatField):
        return float(value) + 0.0
    return value
