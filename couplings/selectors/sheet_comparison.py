"""Two versions of a data sheet side by side: every difference once, in the reader's units and words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext

from couplings.models import SheetVersion
from couplings.selectors.limit_changes import HELD_TO, HELD_TO_LISTS
from couplings.selectors.sheet_lists import ROW_LISTS
from couplings.selectors.sheet_words import COLUMNS, LIST_PARTS, NOT_STATED, ROW_COLUMNS, Column, said, said_apart


@dataclass(frozen=True)
class Difference:
    """`part` of the sheet, `what` in it, how it reads in each version; `field` for programs.

    `held_to`: visits are judged by it, so it takes a limit change.
    """

    part: str
    what: str
    before: str
    after: str
    field: str
    held_to: bool = False


def compare_versions(before: SheetVersion, after: SheetVersion, system: str) -> list[Difference]:
    """Every difference between two versions, in the order of the sheet; none where both say the same.

    A row of which only the name changed is one difference, not a row gone and another come.
    """
    found = [
        Difference(
            str(column.part), str(column.label), *said_apart(before, after, column, system),
            column.name, column.name in HELD_TO,
        )
        for column in COLUMNS
        if getattr(before, column.name) != getattr(after, column.name)
    ]  # fmt: skip
    for name in ROW_LISTS:
        found += _rows_apart(name, before, after, system)
    return found


def _rows_apart(name: str, before: SheetVersion, after: SheetVersion, system: str) -> Iterator[Difference]:
    old, new = (_by_key(name, version) for version in (before, after))
    gone, come = [key for key in old if key not in new], [key for key in new if key not in old]
    same = [(key, key) for key in old if key in new]
    for key in list(gone):
        if (twin := next((other for other in come if _same_but_key(name, old[key], new[other])), None)) is not None:
            same.append((key, twin))
            gone.remove(key)
            come.remove(twin)
    held = HELD_TO_LISTS.get(name, ())
    for was, now in same:
        for column in ROW_COLUMNS[name]:
            if _plain(old[was], column.name) != _plain(new[now], column.name):
                apart = said_apart(old[was], new[now], column, system)
                field = f"{name}.{'.'.join(map(str, was))}.{column.name}"
                yield Difference(_part(name, old[was], system), str(column.label), *apart, field, column.name in held)
    for keys, rows, leaves in ((gone, old, True), (come, new, False)):
        for key in keys:
            text = _all_of(name, rows[key], system)
            apart = (text, str(NOT_STATED)) if leaves else (str(NOT_STATED), text)
            what = gettext("row left out") if leaves else gettext("row added")
            yield Difference(
                _part(name, rows[key], system), what, *apart, f"{name}.{'.'.join(map(str, key))}", bool(held)
            )


def _by_key(name: str, version: SheetVersion) -> dict[tuple[Any, ...], Any]:
    key = ROW_LISTS[name].key
    return {tuple(_plain(row, column) for column in key): row for row in getattr(version, name).all()}


def _plain(row: Any, column: str) -> Any:
    return row.code.code if column == "code" else getattr(row, column)


def _same_but_key(name: str, one: Any, other: Any) -> bool:
    columns = [column for column in ROW_LISTS[name].fields if column not in ROW_LISTS[name].key]
    keys = ROW_LISTS[name].key
    alike = all(_plain(one, column) == _plain(other, column) for column in columns)
    return alike and sum(_plain(one, column) != _plain(other, column) for column in keys) == 1


def _part(name: str, row: Any, system: str) -> str:
    title = str(LIST_PARTS[name])
    names = [column for column in ROW_COLUMNS[name] if column.name in ROW_LISTS[name].key]
    return f"{title}: {', '.join(said(row, column, system) for column in names)}"


def _all_of(name: str, row: Any, system: str) -> str:
    def there(column: Column) -> bool:
        return column.name not in ROW_LISTS[name].key and getattr(row, column.name) not in (None, "", [])

    texts = [f"{column.label} {said(row, column, system)}" for column in ROW_COLUMNS[name] if there(column)]
    return "; ".join(texts) or said(row, ROW_COLUMNS[name][0], system)
