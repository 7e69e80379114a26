"""What a row of the register was before: the versions that were kept, as changes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

DONE = {"+": "made", "~": "changed", "-": "removed"}
# What rises with every change says nothing of its own.
QUIET = frozenset({"version", "changed_no", "uuid", "id"})


@dataclass(frozen=True)
class Change:
    """One field, as it was kept before and after."""

    field: str
    before: Any
    after: Any


@dataclass(frozen=True)
class Kept:
    """One change of a row; `by` None is the program itself."""

    at: datetime
    by: str | None
    done: str
    version: int
    changes: tuple[Change, ...]


def history_of(row: Any) -> list[Kept]:
    """Who changed what in this row, the latest first."""
    kept = list(row.history.select_related("history_user"))
    return [
        Kept(
            at=one.history_date,
            by=str(one.history_user) if one.history_user is not None else None,
            done=DONE[one.history_type],
            version=one.version,
            changes=_changes(before, one),
        )
        for one, before in zip(kept, [*kept[1:], None], strict=True)
    ]


def _changes(before: Any, after: Any) -> tuple[Change, ...]:
    if before is None:
        return ()
    names = [field.attname for field in after.tracked_fields if field.name not in QUIET]
    pairs = ((name.removesuffix("_id"), getattr(before, name), getattr(after, name)) for name in names)
    return tuple(Change(name, was, now) for name, was, now in pairs if was != now)
