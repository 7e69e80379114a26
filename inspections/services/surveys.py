"""Surveys and the other facts of a visit: planned from what was read, stored under their signed record."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable
from typing import Any

from couplings.calculations.typed_sets import as_typed
from couplings.engineering.alignment import Misalignment
from inspections.models import Reading, ReadingSet, SignedRecord, Survey, SurveyResult, Visit
from inspections.steps.judging import RULE_VERSION, Judged, Yardstick, plain
from inspections.steps.rows import Plan, PlannedSurvey

RIM_LIKE = frozenset({"rim", "step"})


def plan_survey(
    *, visit: Visit, judged: Judged, by: Yardstick, step: str, round_number: int, as_left: bool
) -> PlannedSurvey:
    """The rows of one survey; its number within the record is given by `number_surveys`."""
    surveyed = judged.surveyed
    request = surveyed.request
    assert request is not None
    survey = Survey(
        site_id=visit.site_id,
        visit=visit,
        number=0,
        as_found=step == "as-found",
        as_left=as_left,
        method=request.method,
        stationary=surveyed.stationary,
        viewed_from=request.viewed_from,
        positions="compass" if surveyed.compass else "",
        north_is=surveyed.north_is,
        taken_at=surveyed.taken_at,
        loosened_at=surveyed.loosened_at,
        driver_support_degc=surveyed.driver_support_degc,
        driven_support_degc=surveyed.driven_support_degc,
        stopped_hours=surveyed.stopped_hours,
        observer=visit.taken_by,
        read_by=surveyed.read_by,
    )
    return PlannedSurvey(step, round_number, survey, _sets(judged), _result(judged, by, survey))


def number_surveys(*, surveys: list[PlannedSurvey]) -> None:
    """Number new surveys after those that have a number, in the order of the work: as-found, rounds, as-left."""
    order = {"as-found": 0, "alignment": 1, "as-left": 2}
    last = max((one.survey.number for one in surveys), default=0)
    for planned in sorted(surveys, key=lambda one: (order[one.step], one.round)):
        if planned.survey.number == 0:
            last += 1
            planned.survey.number = last


def cloned(*, planned: PlannedSurvey) -> PlannedSurvey:
    """The same rows for another record: nothing is solved or judged again."""
    survey = _copy(planned.survey)
    result = _copy(planned.result)
    result.survey = survey
    sets = [(_copy(row), [_copy(reading) for reading in readings]) for row, readings in planned.sets]
    return PlannedSurvey(planned.step, planned.round, survey, sets, result)


def cloned_facts(*, facts: Iterable[Any]) -> list[Any]:
    return [_copy(fact) for fact in facts]


def store(*, plan: Plan, record: SignedRecord) -> None:
    """Insert the planned rows below their record, in a number of statements that does not grow with them."""
    for planned in plan.surveys:
        planned.survey.record = record
    Survey.objects.bulk_create([planned.survey for planned in plan.surveys])
    for planned in plan.surveys:
        planned.result.survey = planned.survey
        for row, _ in planned.sets:
            row.survey = planned.survey
    SurveyResult.objects.bulk_create([planned.result for planned in plan.surveys])
    ReadingSet.objects.bulk_create([row for planned in plan.surveys for row, _ in planned.sets])
    for planned in plan.surveys:
        for row, readings in planned.sets:
            for reading in readings:
                reading.set = row
    Reading.objects.bulk_create([one for planned in plan.surveys for _, readings in planned.sets for one in readings])
    for facts in plan.facts.values():
        for fact in facts:
            fact.record, fact.visit = record, record.visit
        for model in dict.fromkeys(type(fact) for fact in facts):
            model.objects.bulk_create([fact for fact in facts if type(fact) is model])


def _sets(judged: Judged) -> list[tuple[ReadingSet, list[Reading]]]:
    surveyed = judged.surveyed
    assert surveyed.request is not None
    typed = surveyed.typed or {}
    mirrored = surveyed.request.viewed_from == "stationary"
    found = []
    for place, one in enumerate(surveyed.request.sets):
        number = surveyed.owners[place]
        row = ReadingSet(
            number=place + 1,
            kind=one.kind,
            carried_by=one.carried_by or "",
            plane=one.plane or "",
            surface=one.surface if one.kind in ("face", "flex-angle") else "",
            x_mm=one.x_mm if one.kind in RIM_LIKE else None,
            swing_radius_mm=one.swing_radius_mm,
            distance_mm=one.distance_mm,
            sag_mm=one.sag_mm,
            sag_u_mm=one.sag_u_mm,
            u_mm=one.u_mm,
            half=one.half,
            return_to_zero_mm=one.return_to_zero_mm,
            bracket=one.bracket or "",
            instrument=surveyed.instruments[number] if number < len(surveyed.instruments) else None,
        )
        seconds = one.opposed_mm or (None,) * len(one.readings_mm)
        readings = [
            Reading(
                angle_deg=-angle % 360.0 if mirrored else angle,
                turned=turned,
                typed=as_typed(typed, number, angle, turned=turned)[:40],
                mm=mm,
                opposed_typed=""
                if second is None
                else as_typed(typed, number, angle, turned=turned, opposed=True)[:40],
                opposed_mm=second,
            )
            for angle, mm, turned, second in zip(one.angles_deg, one.readings_mm, one.turned_each, seconds, strict=True)
        ]
        found.append((row, readings))
    return found


def _result(judged: Judged, by: Yardstick, survey: Survey) -> SurveyResult:
    mean, judgement = judged.record.mean, judged.judgement
    known = [float(number) if math.isfinite(number) else None for number in mean]
    return SurveyResult(
        survey=survey,
        rule_version=RULE_VERSION,
        offset_v_mm=known[0],
        offset_h_mm=known[1],
        slope_v_mrad=known[2],
        slope_h_mrad=known[3],
        covariance=_upper(judged.record),
        target_offset_v_mm=judged.record_target[0],
        target_offset_h_mm=judged.record_target[1],
        target_slope_v_mrad=judged.record_target[2],
        target_slope_h_mrad=judged.record_target[3],
        tolerance_used=judgement.tolerance_used,
        probability=judgement.probability,
        confidence=by.confidence,
        decision=judged.decision,
        verdict=judgement.verdict,
        sheet_verdict=judged.sheet_verdict,
        grade_verdict=judged.grade_verdict,
        reason=judgement.reason[:300],
        lines=[plain(dataclasses.asdict(line)) for line in judgement.lines],
        quality=list(judged.quality),
        correction=plain(judged.correction.as_json()),
    )


def _upper(found: Misalignment) -> list[float | None]:
    return [
        float(found.covariance[row][column]) if math.isfinite(found.covariance[row][column]) else None
        for row in range(4)
        for column in range(row, 4)
    ]


def _copy(row: Any) -> Any:
    """The same columns in a new, unsaved row."""
    values = {column.attname: getattr(row, column.attname) for column in row._meta.concrete_fields}
    values.pop("id")
    made = type(row)(**values)
    for name in ("instrument", "observer"):
        if name in row._state.fields_cache:
            setattr(made, name, getattr(row, name))
    return made
