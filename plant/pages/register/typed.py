"""From a row to what stands typed in its form, and back to what its service takes.

What is typed is flat: {"tag": "BF-21", "machines.0.name": "motor", "machines.0.feet.1.name": "inboard"}, with an empty
entry "machines.0" for every row of a list. Services refuse by the same paths.
"""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import models
from django.utils.translation import gettext as _

from plant import units
from plant.pages.register.registry import Field, Options, Place, Rows
from plant.sitetime import site_time, zone_of

Typed = dict[str, str]
NUMBER = re.compile(r"\d{1,3}")
LONGEST = 10_000
YES, NO = "yes", "no"


def asked(field: Field, place: Place) -> Field:
    """The field with its choices filled in for this place."""
    if field.kind == "yes":
        return replace(field, kind="choice", choices=((YES, _("yes")), (NO, _("no"))), required=True)
    if field.kind == "row":
        assert field.rows is not None
        return replace(field, kind="choice", choices=tuple((str(row.uuid), str(row)) for row in field.rows(place)))
    if field.options is not None:
        return replace(field, choices=tuple(field.options(place)))
    return field


def text_of(field: Field, owner: Any, place: Place) -> str:
    """What stands in the form for the value that the row has."""
    value = field.value(owner) if field.value is not None else getattr(owner, field.name)
    return _text(field.kind, value, place)


def _text(kind: str, value: Any, place: Place) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return YES if value else NO
    if isinstance(value, models.Model):
        return str(value.uuid)  # type: ignore[attr-defined]
    if isinstance(value, datetime):
        return f"{value.astimezone(zone_of(place.site)):%Y-%m-%d %H:%M}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int | float) and kind in units.KINDS:
        value = units.without_dust(units.in_unit(value, kind, units.unit_of(kind, place.system)))
    return f"{value:.12g}" if isinstance(value, float) else str(value)


def standing(fields: Sequence[Field], lists: Sequence[Rows], owner: Any, place: Place, under: str = "") -> Typed:
    """Everything a row has, as it would be typed."""
    typed = {under + field.name: text_of(field, owner, place) for field in fields}
    for rows in lists:
        for number, row in enumerate(rows.rows(owner)):
            path = f"{under}{rows.name}.{number}"
            typed |= {path: "", **standing(rows.fields, rows.nested, row, place, f"{path}.")}
    return typed


def fresh(fields: Sequence[Field], lists: Sequence[Rows], place: Place, under: str = "") -> Typed:
    """What stands in a form that starts empty."""
    typed = {}
    for field in fields:
        typed[under + field.name] = field.starter(place) if callable(field.starter) else field.starter
    for rows in lists:
        for number in range(rows.starters):
            path = f"{under}{rows.name}.{number}"
            typed |= {path: "", **fresh(rows.fields, rows.nested, place, f"{path}.")}
    return typed


def posted(fields: Sequence[Field], lists: Sequence[Rows], given: Mapping[str, str], under: str = "") -> Typed:
    """What a form sent, its rows numbered anew from 0; unknown names are left alone."""
    # A browser ends the lines of a long text its own way; that is no change.
    typed = {
        under + field.name: str(given.get(under + field.name, "")).replace("\r\n", "\n")[:LONGEST] for field in fields
    }
    for rows in lists:
        for number, old in enumerate(_numbers(given, f"{under}{rows.name}.")[: rows.most + 1]):
            was, path = f"{under}{rows.name}.{old}.", f"{under}{rows.name}.{number}."
            row = posted(rows.fields, rows.nested, given, was)
            typed[path[:-1]] = ""
            typed |= {path + name[len(was) :]: text for name, text in row.items()}
    return typed


def _numbers(given: Mapping[str, str], before: str) -> list[int]:
    found = (name[len(before) :].split(".")[0] for name in given if name.startswith(before))
    return sorted({int(number) for number in found if NUMBER.fullmatch(number)})


def count_of(typed: Mapping[str, str], path: str) -> int:
    """How many rows a list has: they are numbered from 0."""
    number = 0
    while f"{path}.{number}" in typed:
        number += 1
    return number


def with_row(rows: Rows, path: str, typed: Typed, place: Place) -> Typed:
    """One empty row more at the end of a list."""
    new = f"{path}.{count_of(typed, path)}"
    return typed | {new: "", **fresh(rows.fields, rows.nested, place, f"{new}.")}


def with_row_before(rows: Rows, path: str, typed: Typed, place: Place) -> Typed:
    """One empty row more in front of a standing one, such as machines.1; those from there on move down."""
    above, _dot, number = path.rpartition(".")
    moved: Typed = {}
    for name, text in typed.items():
        parts = name.removeprefix(above + ".").split(".") if name.startswith(above + ".") else []
        if parts and NUMBER.fullmatch(parts[0]) and int(parts[0]) >= int(number):
            name = ".".join([above, str(int(parts[0]) + 1), *parts[1:]])
        moved[name] = text
    return moved | {path: "", **fresh(rows.fields, rows.nested, place, f"{path}.")}


def without_row(typed: Typed, path: str) -> Typed:
    """A row and all below it taken out; those after it move up when the form is read."""
    return {name: text for name, text in typed.items() if name != path and not name.startswith(path + ".")}


def list_at(lists: Sequence[Rows], path: str) -> Rows | None:
    """The list behind a path such as machines.0.feet."""
    parts = path.split(".")
    rows = next((one for one in lists if one.name == parts[0]), None)
    if rows is None or len(parts) == 1:
        return rows
    return list_at(rows.nested, ".".join(parts[2:])) if len(parts) > 2 and NUMBER.fullmatch(parts[1]) else None


class Reader:
    """Turn what was typed into what the service takes; every error at once, by the path of its field."""

    def __init__(self, typed: Mapping[str, str], place: Place, owner: Any = None) -> None:
        self.typed, self.place, self.owner = typed, place, owner
        self.errors: dict[str, str] = {}
        # A number that was not touched goes back exactly as it was, whatever its unit did to it on the way.
        self._exact: dict[tuple[str, str], Any] = {}
        self._options: dict[int, dict[str, Any]] = {}

    def given(
        self, fields: Sequence[Field], lists: Sequence[Rows], before: Mapping[str, str] | None = None
    ) -> dict[str, Any]:
        """Keywords for the service: all of them, or with `before` (what stood there) only what is different."""
        found: dict[str, Any] = {}
        for field in fields:
            if before is None or self.typed.get(field.name, "") != before.get(field.name, ""):
                found[field.name] = self._field(field, "")
        for rows in lists:
            if before is None or _below(self.typed, rows.name) != _below(before, rows.name):
                found[rows.name] = self._list(rows)
        return {name: value for name, value in found.items() if name not in self.errors}

    def _list(self, rows: Rows) -> Any:
        known = list(rows.rows(self.owner)) if self.owner is not None else []
        self._remember(rows, known)
        given = self._rows(rows, rows.name)
        if rows.pack is None:
            return given
        return rows.pack(given, [{field.name: getattr(row, field.name) for field in rows.fields} for row in known])

    def _remember(self, rows: Rows, known: Iterable[Any]) -> None:
        for row in known:
            for field in rows.fields:
                if field.kind in units.KINDS and field.value is None:
                    place = (f"{rows.name}.{field.name}", text_of(field, row, self.place))
                    self._exact[place] = getattr(row, field.name)
            for inner in rows.nested:
                self._remember(inner, inner.rows(row))

    def _rows(self, rows: Rows, path: str) -> list[dict[str, Any]]:
        count = count_of(self.typed, path)
        if count > rows.most:
            self.errors[path] = _("%(most)s rows at most.") % {"most": rows.most}
        found = []
        for number in range(count):
            under = f"{path}.{number}."
            row = {field.name: self._field(field, under, rows.name) for field in rows.fields}
            row |= {inner.name: self._rows(inner, under + inner.name) for inner in rows.nested}
            found.append(row)
        return found

    def _field(self, field: Field, under: str, rows: str = "") -> Any:
        text = self.typed.get(under + field.name, "")
        if rows and (kept := self._exact.get((f"{rows}.{field.name}", text), ...)) is not ...:
            return kept
        try:
            return self._read(field, text.strip())
        except ValueError as error:
            self.errors[under + field.name] = str(error)
            return None

    def _read(self, field: Field, text: str) -> Any:
        if "\x00" in text:
            raise ValueError(_("This holds a character that cannot be kept: type it again."))
        if not text:
            if field.required or field.kind == "yes":
                raise ValueError(_("Missing: %(label)s.") % {"label": field.label})
            return field.empty if field.empty is not None or field.kind not in {"text", "long", "choice"} else ""
        if field.kind == "yes":
            return _one_of({YES: True, NO: False}, text)
        if field.kind == "row":
            return _one_of(self._choices(field), text)
        if field.kind == "choice":
            options: Options = field.options(self.place) if field.options is not None else field.choices
            return _one_of({key: key for key, _label in options}, text)
        if field.kind in units.KINDS:
            return units.parse(text, field.kind, self.place.system)
        return _READ[field.kind](text, self.place) if field.kind in _READ else text

    def _choices(self, field: Field) -> dict[str, Any]:
        if id(field) not in self._options:
            assert field.rows is not None
            self._options[id(field)] = {str(row.uuid): row for row in field.rows(self.place)}
        return self._options[id(field)]


def _below(typed: Mapping[str, str], name: str) -> dict[str, str]:
    return {path: text for path, text in typed.items() if path.startswith(name + ".")}


def _one_of(choices: Mapping[str, Any], text: str) -> Any:
    if text not in choices:
        raise ValueError(_("Choose one of the list; what was chosen is not in it (any more)."))
    return choices[text]


def _count(text: str, _place: Place) -> int:
    if not re.fullmatch(r"\d{1,6}", text):
        raise ValueError(_("“%(text)s” is no whole number.") % {"text": text[:40]})
    return int(text)


def _number(text: str, _place: Place) -> float:
    number, unit = units.split(text)
    if unit:
        raise ValueError(_("Write the number alone, without “%(unit)s”.") % {"unit": unit[:20]})
    return number


def _date(text: str, _place: Place) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(_("Write the day as 2026-10-12.")) from None


def _instant(text: str, place: Place) -> datetime:
    for form in ("%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%Y-%m-%d"):
        try:
            return site_time(place.site, datetime.strptime(text, form))
        except (ValueError, OverflowError):
            continue
    raise ValueError(_("Write the time as 2026-10-12 08:20."))


def _key(text: str, _place: Place) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        raise ValueError(_("This row is not known: open the form again.")) from None


_READ: dict[str, Callable[[str, Place], Any]] = {
    "key": _key, "count": _count, "number": _number, "date": _date, "instant": _instant,
}  # fmt: skip


def written(field: Field, value: Any, place: Place) -> str:
    """A value as a row's page and its history print it; "" where there is none."""
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if field.show is not None:
        return field.show(value, place.system)
    if field.kind in units.KINDS and isinstance(value, int | float):
        return units.written(value, field.kind, place.system)
    choices: Options = field.options(place) if field.options is not None else field.choices
    if choices and not isinstance(value, models.Model):
        return str(dict(choices).get(str(value), value))
    if isinstance(value, datetime):
        return f"{value.astimezone(zone_of(place.site)):%Y-%m-%d %H:%M}"
    return f"{value:.12g}" if isinstance(value, float) else str(value)
