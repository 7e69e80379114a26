"""Which signed work does which kind of check, and which of it asks for another check after the first running.

A check is done by the work of its kind, whatever that found.
"""

from __future__ import annotations

from typing import Any

from django.db.models import BooleanField, Exists, ExpressionWrapper, OuterRef, Q

from inspections.models import (
    CheckKind,
    ElementFact,
    Hardness,
    Lubrication,
    RunningLook,
    RunOut,
    SignedRecord,
    Survey,
    Torque,
    Visit,
    Wear,
    WearNote,
)


def works_of(record: str = "record", version: str = "sheet_version") -> dict[str, Any]:
    """For each kind, whether the text at `record` did it, as a column of a question over visits or records.

    Alignment by an as-left survey, and at a rigid coupling by its run-out; torque by fasteners checked; wear by a
    grade, a hardness or a note; a running look by its own step; the lubricant by a look at it
    or a fill; the element by a new one.
    """
    left = _has(Survey, record, as_left=True)
    rigid = Q(**{f"{version}__sheet__family__kind": "rigid"})
    return {
        CheckKind.ALIGNMENT.value: _whether(Q(left) | (rigid & Q(_has(RunOut, record)))),
        CheckKind.TORQUE.value: _has(Torque, record),
        CheckKind.WEAR.value: _whether(Q(_has(Wear, record)) | Q(_has(Hardness, record)) | Q(_has(WearNote, record))),
        CheckKind.LOOK.value: _has(RunningLook, record),
        CheckKind.LUBRICANT.value: _has(Lubrication, record),
        CheckKind.ELEMENT.value: _has(ElementFact, record, act=ElementFact.Act.FITTED),
    }


def realigned(record: str = "record") -> Any:
    """Whether the text moved the machine: it was found one way and left another."""
    moved = _has(Survey, record, as_left=True, as_found=False) & Exists(
        Survey.objects.filter(record=OuterRef(record), as_found=True, as_left=False)
    )
    return _whether(Q(moved) & Q(nothing_moved=False) & ~Q(kind=Visit.Kind.INSTALLATION))


def kinds_done_by(record: SignedRecord) -> set[str]:
    """The kinds of check that one signed text did."""
    works = works_of("pk", "visit__sheet_version")
    row = SignedRecord.objects.filter(pk=record.pk).values_list(*works.values()).get()
    return {kind for kind, did in zip(works, row, strict=True) if did}


def _has(model: Any, record: str, **where: Any) -> Exists:
    return Exists(model.objects.filter(record=OuterRef(record), **where))


def _whether(condition: Q) -> ExpressionWrapper:
    return ExpressionWrapper(condition, output_field=BooleanField())
