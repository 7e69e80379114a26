"""Who changed what from what to what, when: the kept versions of a row, for people."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db import models
from django.utils.translation import gettext as _

from plant.pages.register.registry import Field, Noun, Place
from plant.pages.register.typed import written

AT_MOST = 100
A_MOMENT = timedelta(seconds=2)
HIDDEN = frozenset({"id", "uuid", "version", "changed_no", "site"})


@dataclass(frozen=True)
class Line:
    label: str
    was: str
    now: str


@dataclass
class Change:
    """What one person changed in one go."""

    at: datetime
    by: str
    said: list[str] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)


def changes_of(noun: Noun, place: Place) -> list[Change]:
    """The latest changes of a row and of the rows below it, the newest first; none where no history is kept."""
    if not hasattr(noun.model, "history"):
        return []
    fields = [*noun.fields, *(one for act in noun.acts for one in act.fields)]
    streams = [("", fields, _versions(place.root.history.all()))]
    for kept in noun.kept:
        by_row: dict[Any, list[Any]] = {}
        for version in _versions(kept.rows(place.root)):
            by_row.setdefault(version.id, []).append(version)
        streams += [(kept.name(rows[0]), list(kept.fields), rows) for rows in by_row.values()]
    found: list[tuple[Any, Change]] = []
    names = _Names()
    for name, known, versions in streams:
        for now, was in zip(versions, [*versions[1:], None], strict=True):
            said, lines = _difference(name, known, was, now, place, names)
            if said or lines:
                change = _in_one_go(found, now)
                change.said += said
                change.lines += lines
    return sorted((change for _by, change in found), key=lambda change: change.at, reverse=True)[:AT_MOST]


def _in_one_go(found: list[tuple[Any, Change]], now: Any) -> Change:
    """One unit of work saves several rows within a moment of each other."""
    for by, change in found:
        if by == now.history_user_id and abs(change.at - now.history_date) <= A_MOMENT:
            return change
    found.append((now.history_user_id, Change(now.history_date, _who(now))))
    return found[-1][1]


def last_changed_by(root: Any) -> str:
    """Who saved the row last, as its history has it."""
    latest = root.history.select_related("history_user").order_by("-history_date", "-history_id").first()
    return _who(latest) if latest is not None else _("somebody")


def _versions(rows: Any) -> list[Any]:
    return list(rows.select_related("history_user").order_by("-history_date", "-history_id")[: 4 * AT_MOST])


def _who(version: Any) -> str:
    return str(version.history_user) if version.history_user is not None else _("the program")


def _difference(
    name: str, fields: Sequence[Field], was: Any, now: Any, place: Place, names: _Names
) -> tuple[list[str], list[Line]]:
    if now.history_type == "-":
        return [_("%(name)s was taken away.") % {"name": name.capitalize()} if name else _("It was removed.")], []
    if was is None or now.history_type == "+":
        if now.history_type != "+":
            return [], []
        return [_("%(name)s was added.") % {"name": name.capitalize()} if name else _("It was entered.")], []
    known = {one.name: one for one in reversed(fields)}
    lines = []
    for column in now.tracked_fields:
        if column.name in HIDDEN or (column.is_relation and column.name not in known):
            continue
        before, after = getattr(was, column.attname), getattr(now, column.attname)
        if before == after:
            continue
        one = known.get(column.name) or Field(column.name, str(column.verbose_name), "text", choices=_choices(column))
        label = f"{name}: {one.label}" if name else str(one.label)
        if column.is_relation:
            lines.append(Line(label, names.of(column, before), names.of(column, after)))
        else:
            lines.append(Line(label, written(one, before, place), written(one, after, place)))
    return [], lines


def _choices(column: models.Field[Any, Any]) -> tuple[tuple[str, str], ...]:
    return tuple((str(key), str(label)) for key, label in column.flatchoices)


class _Names:
    """What rows are called that others point to, each asked for once."""

    def __init__(self) -> None:
        self._known: dict[tuple[Any, Any], str] = {}

    def of(self, column: Any, pk: Any) -> str:
        if pk is None:
            return ""
        model = column.related_model
        if (model, pk) not in self._known:
            row = model._base_manager.filter(pk=pk).first()
            self._known[(model, pk)] = str(row) if row is not None else _("something removed since")
        return self._known[(model, pk)]


def newest(changes: Iterable[Change]) -> tuple[list[Change], list[Change]]:
    """Those that stand open on the page, and those folded below them."""
    every = list(changes)
    return every[:5], every[5:]
