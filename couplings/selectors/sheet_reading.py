"""A version of a data sheet as it is read: facts by part, and its lists as tables, in the reader's units and words."""

from __future__ import annotations

from dataclasses import dataclass

from couplings.models import DataSheet, SheetVersion
from couplings.selectors.sheet_lists import ROW_LISTS
from couplings.selectors.sheet_words import COLUMNS, LIST_PARTS, NOT_STATED, ROW_COLUMNS, said


@dataclass(frozen=True)
class Table:
    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Reading:
    """`facts` are (part, ((label, text), ...)); what the sheet does not state is left out."""

    facts: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    tables: tuple[Table, ...]


def reading_of(version: SheetVersion, system: str) -> Reading:
    """Everything a version states."""
    missing = str(NOT_STATED)
    parts: dict[str, list[tuple[str, str]]] = {}
    for column in COLUMNS:
        if (text := said(version, column, system)) != missing:
            parts.setdefault(str(column.part), []).append((str(column.label), text))
    tables = []
    for name in ROW_LISTS:
        rows = list(getattr(version, name).all())
        texts = [tuple(said(row, column, system) for column in ROW_COLUMNS[name]) for row in rows]
        kept = [no for no in range(len(ROW_COLUMNS[name])) if any(text[no] != missing for text in texts)]
        if texts:
            heads = tuple(str(ROW_COLUMNS[name][no].label) for no in kept)
            cells = tuple(tuple(text[no] if text[no] != missing else "" for no in kept) for text in texts)
            tables.append(Table(str(LIST_PARTS[name]), heads, cells))
    return Reading(tuple((part, tuple(facts)) for part, facts in parts.items()), tuple(tables))


def draft_of(sheet: DataSheet) -> SheetVersion | None:
    """The version that is being written; None where all are published. Reads what was prefetched."""
    return next((version for version in sheet.versions.all() if version.published_at is None), None)


def latest_of(sheet: DataSheet) -> SheetVersion | None:
    """The latest published version."""
    published = [version for version in sheet.versions.all() if version.published_at is not None]
    return max(published, key=lambda version: version.number, default=None)
