"""Signed surveys, with what a program prints of them."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
from django.db.models import QuerySet

from couplings.engineering.alignment import Misalignment
from inspections.models import Survey, SurveyResult
from plant.models import Person
from plant.models.roots import reach


def surveys_visible_to(person: Person) -> QuerySet[Survey]:
    """Surveys of the texts in force at the person's sites; they print without further queries."""
    rows = Survey.objects.filter(record__feeds__isnull=False)
    if not person.sees_everything:
        rows = rows.filter(reach(Survey, person))
    joined = rows.select_related("site", "visit__coupling", "visit__sheet_version", "record", "observer", "result")
    return joined.prefetch_related("sets__readings", "sets__instrument")


def misalignment_of(result: SurveyResult) -> Misalignment:
    """The stored numbers with their covariance; nan where a plane was not read. [mm, mrad]"""
    mean = [result.offset_v_mm, result.offset_h_mm, result.slope_v_mrad, result.slope_h_mrad]
    covariance = np.full((4, 4), np.nan)
    upper = [(row, column) for row in range(4) for column in range(row, 4)]
    for (row, column), number in zip(upper, result.covariance, strict=True):
        if number is not None:
            covariance[row, column] = covariance[column, row] = number
    return Misalignment.of([math.nan if number is None else number for number in mean], covariance)


def lines_of(result: SurveyResult) -> list[SimpleNamespace]:
    """The limits a survey was judged by, as stored with it: history is never judged again."""
    return [SimpleNamespace(**line) for line in result.lines]
