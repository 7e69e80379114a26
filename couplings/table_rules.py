"""What stands against a row of a site's tables, beside what its columns refuse: by field, empty where nothing does."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

Errors = dict[str, str]


def nut_factor_errors(row: Any, others: Iterable[Any]) -> Errors:
    """A range has both ends, and the figure lies in it."""
    if (row.low is None) != (row.high is None):
        missing = "low" if row.low is None else "high"
        return {missing: "A range has both ends: give this one too, or leave both out."}
    if row.low is not None and not row.low <= row.nut_factor <= row.high:
        return {"nut_factor": f"This lies outside the range beside it, {row.low:g} to {row.high:g}."}
    return {}


def angle_errors(row: Any, others: Iterable[Any]) -> Errors:
    """An angle has one factor: ranges do not meet."""
    if row.to_deg < row.from_deg:
        return {"to_deg": "The range ends before it begins: exchange the two."}
    for other in others:
        if row.from_deg <= other.to_deg and other.from_deg <= row.to_deg:
            return {"from_deg": f"The row from {other.from_deg:g} to {other.to_deg:g} degrees has this angle already."}
    return {}


def fit_class_errors(row: Any, others: Iterable[Any]) -> Errors:
    """Bands of one class do not overlap, and lower deviations lie below upper ones."""
    errors: Errors = {}
    if row.up_to_mm <= row.over_mm:
        errors["up_to_mm"] = "The band ends below its beginning."
    for part in ("bore", "shaft"):
        if getattr(row, f"{part}_upper_mm") < getattr(row, f"{part}_lower_mm"):
            errors[f"{part}_upper_mm"] = "The upper deviation lies below the lower one."
    for other in others:
        if other.name == row.name and row.over_mm < other.up_to_mm and other.over_mm < row.up_to_mm:
            errors.setdefault("over_mm", "Another band of this class has some of these sizes already.")
    return errors


def wear_wording_errors(row: Any, common: Any) -> Errors:
    """A code there is, no grade without words that flags or stops, a limit on what is measured; `common` is its row."""
    if common is None:
        return {"code": "No wear code is called that: choose one of those the program looks for."}
    errors: Errors = {}
    for grade, follows in ((3, "it raises a flag"), (4, "it says do not run")):
        if getattr(common, f"grade_{grade}") and not getattr(row, f"grade_{grade}").strip():
            errors[f"grade_{grade}"] = f"Grade {grade} cannot be left out, since {follows}: word it."
    if row.limit is not None and not common.number:
        errors["limit"] = f"“{common.title}” has grades only: no number can be limited."
    elif row.limit is not None and common.kind == "share" and row.limit > 1:
        errors["limit"] = "A share is not more than the whole: give at most 100 %."
    return errors
