"""Speed grades: the site's own table of what it allows at which speed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from uuid import UUID

from couplings import rules
from couplings.models import Grade, GradeRow
from couplings.services.checking import refuse, saved
from plant import access
from plant.models import Site, Train
from plant.recording import bump, changed, current, removed
from plant.services.rows import errors_of, refuse_known_uuid, set_fields

FIELDS = ("name", "criticalities", "note")
ROW_FIELDS = (
    "kind", "over_rpm", "up_to_rpm", "offset_mm", "angularity_mrad", "flex_angle_mrad", "rule", "source", "mark",
)  # fmt: skip
Rows = Sequence[Mapping[str, Any]]


def write_grade(
    *, site: Site, name: str, criticalities: str = "", note: str = "", rows: Rows = (), uuid: UUID | None = None
) -> Grade:
    """Write a grade with its rows; one without rows limits nothing until the site fills it."""
    access.require(current().by, "policy.write", site)
    refuse_known_uuid(Grade, uuid)
    grade = Grade(site=site, name=name.strip(), criticalities=criticalities, note=note)
    if uuid is not None:
        grade.uuid = uuid
    refuse(_taken(grade) | _errors(grade, rows))
    saved(grade, lambda: _taken(grade))
    _write_rows(grade, rows)
    changed(grade)
    return grade


def change_grade(*, grade: Grade, expected: int | None = None, rows: Rows | None = None, **fields: Any) -> Grade:
    """Change a grade; rows, where given, replace those that stand. Signed verdicts stay as they were given."""
    access.require(current().by, "policy.write", grade.site)
    bump(grade, expected)
    set_fields(grade, fields, FIELDS)
    refuse(_taken(grade) | _errors(grade, rows or ()))
    saved(grade, lambda: _taken(grade))
    if rows is not None:
        _write_rows(grade, rows, grade.rows.all())
    return grade


def remove_grade(*, grade: Grade, expected: int | None = None) -> None:
    """Take a grade and its rows away; signed verdicts and the history stay.

    Raises
    ------
    Refused
        While couplings name it: they would be held to another grade unseen.
    """
    access.require(current().by, "policy.write", grade.site)
    bump(grade, expected)
    named = list(grade.couplings.order_by("tag").values_list("tag", flat=True))
    if named:
        tags = ", ".join(named[:5]) + (f" and {len(named) - 5} more" if len(named) > 5 else "")
        refuse(
            {"": f"Couplings are held to this grade by name: {tags}. Choose another grade for them first."}, "in-use"
        )
    removed(grade)
    grade.delete()


def _errors(grade: Grade, rows: Rows) -> dict[str, str]:
    grade.criticalities = "".join(sorted(set(grade.criticalities)))
    errors = errors_of(grade)
    if set(grade.criticalities) - set(Train.Criticality.values):
        errors["criticalities"] = "Name criticalities by their letters, such as AB."
    for no, row in enumerate(rows):
        errors |= errors_of(_row(row), f"rows.{no}")
    return errors | rules.band_errors(rows)


def _taken(grade: Grade) -> dict[str, str]:
    others = Grade.objects.filter(site_id=grade.site_id).exclude(pk=grade.pk)
    errors: dict[str, str] = {}
    for name, criticalities in others.values_list("name", "criticalities"):
        if name == grade.name:
            errors["name"] = "Another grade of this site has this name."
        if both := set(criticalities) & set(grade.criticalities):
            held = " and ".join(sorted(both)) + (" is" if len(both) == 1 else " are")
            errors.setdefault("criticalities", f"{held} held to {name} already: take it out there first.")
    return errors


def _write_rows(grade: Grade, rows: Rows, before: Iterable[GradeRow] = ()) -> None:
    """Bring the rows of a grade to those given; a band that stays keeps its history."""
    standing = {(row.kind, row.over_rpm): row for row in before}
    for given in rows:
        new = _row(given, grade=grade)
        row = standing.pop((new.kind, new.over_rpm), None)
        if row is None:
            new.save()
        elif any(getattr(row, name) != getattr(new, name) for name in ROW_FIELDS):
            set_fields(row, {name: getattr(new, name) for name in ROW_FIELDS}, ROW_FIELDS)
            row.save()
    for row in standing.values():
        row.delete()


def _row(given: Mapping[str, Any], **more: Any) -> GradeRow:
    row = GradeRow(**more)
    set_fields(row, dict(given), ROW_FIELDS)
    return row
