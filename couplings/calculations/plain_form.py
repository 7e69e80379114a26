"""A plain form whose rows say where in the request they belong: typed text to a request, and errors back to the fields.

A path is written with dots. A number is a place in a list; `angle=45` is that item of a list whose angle is 45, made
when something is typed for it, so that positions left blank are simply not there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, field
from typing import Any

from plant import units
from plant.calculations import Form, FormField

Read = Callable[[str, str], Any]


@dataclass(frozen=True)
class Row:
    """One field and its place in the request; `read(text, system)` understands what is no quantity, or a UnitError."""

    field: FormField
    path: str
    read: Read | None = None


@dataclass(frozen=True)
class Variant:
    """One way of asking: its title, its rows, and what the request also says."""

    title: str
    rows: tuple[Row, ...]
    beside: Mapping[str, Any] = field(default_factory=dict)


def row(
    name: str,
    label: str,
    kind: str,
    path: str = "",
    *,
    required: bool = False,
    group: str = "",
    choices: tuple[tuple[str, str], ...] = (),
    hint: str = "",
    read: Read | None = None,
    fold: str = "",
) -> Row:
    """A row in one line; a path left out is the field's name."""
    return Row(FormField(name, label, kind, required, group, choices, hint, fold), path or name, read)


def form_of(variants: Mapping[str, Variant], lists: Sequence[str] = ()) -> Form:
    """The form of a calculation whose request names its variant as `method`; `lists` hold bare quantities."""

    def fields(name: str) -> list[FormField]:
        return [each.field for each in variants[name].rows]

    def payload(name: str, typed: Mapping[str, str], system: str) -> tuple[dict[str, Any], dict[str, str]]:
        made: dict[str, Any] = {"method": name, **deepcopy(dict(variants[name].beside))}
        errors: dict[str, str] = {}
        for each in variants[name].rows:
            text = str(typed.get(each.field.name) or "").strip()
            if not text:
                continue
            try:
                _put(made, each.path.split("."), _value(each, text, system))
            except units.UnitError as error:
                errors[each.field.name] = str(error)
        return _filled(made, lists), errors

    def field_of(path: str, given: Mapping[str, Any]) -> str:
        method = str(given.get("method"))
        chosen = variants.get(method) or next(iter(variants.values()))
        scored = [(_shared(each.path.split("."), path.split("."), given), each.field.name) for each in chosen.rows]
        best = max(scored, key=lambda pair: pair[0], default=(0, ""))
        return best[1] if best[0] > 0 else ""

    return Form(
        variants=lambda: tuple((name, variant.title) for name, variant in variants.items()),
        fields=fields,
        payload=payload,
        field_of=field_of,
    )


def plain_number(text: str, _system: str) -> float:
    """A number without a unit."""
    number, unit = units.split(text)
    if unit:
        raise units.UnitError("A plain number is expected here, without a unit.")
    return number


def probability(text: str, _system: str) -> float:
    """0.95 or 95 %."""
    number, unit = units.split(text)
    if unit not in ("", "%"):
        raise units.UnitError("A probability is expected, such as 0.95 or 95 %.")
    return number / 100 if unit == "%" else number


def _value(each: Row, text: str, system: str) -> Any:
    if each.read is not None:
        return each.read(text, system)
    return text if each.field.kind in ("text", "choice") else units.as_given(text, each.field.kind, system)


def _put(place: Any, segments: Sequence[str], value: Any) -> None:
    head, rest = segments[0], segments[1:]
    if isinstance(place, list):
        index = _index(place, head)
        if not rest:
            place[index] = value
            return
        if place[index] is None:
            place[index] = _container(rest[0])
        _put(place[index], rest, value)
    elif rest:
        _put(place.setdefault(head, _container(rest[0])), rest, value)
    else:
        place[head] = value


def _container(segment: str) -> Any:
    return [] if segment.isdigit() or "=" in segment else {}


def _index(items: list[Any], segment: str) -> int:
    if not segment.isdigit():
        key, wanted = _selector(segment)
        for index, item in enumerate(items):
            if item.get(key) == wanted:
                return index
        items.append({key: wanted})
        return len(items) - 1
    items += [None] * (int(segment) + 1 - len(items))
    return int(segment)


def _selector(segment: str) -> tuple[str, Any]:
    key, _, word = segment.partition("=")
    return key, int(word) if word.isdigit() else word


def _filled(made: Any, lists: Sequence[str], path: str = "") -> Any:
    """A row left blank between others becomes an empty object, so that its fields are asked for by name."""
    if isinstance(made, dict):
        return {key: _filled(item, lists, key) for key, item in made.items()}
    if isinstance(made, list):
        return [({} if item is None and path not in lists else _filled(item, lists, path)) for item in made]
    return made


def _shared(mine: Sequence[str], refused: Sequence[str], given: Any) -> int:
    """How far a row's path goes along with the refused one; 0 where they part before either ends."""
    place: Any = given
    for depth, (here, there) in enumerate(zip(mine, refused, strict=False)):
        if "=" in here:
            key, wanted = _selector(here)
            item = place[int(there)] if isinstance(place, list) and there.isdigit() else None
            if not (isinstance(item, Mapping) and item.get(key) == wanted):
                return 0
        elif here != there:
            return 0
        if isinstance(place, Mapping):
            place = place.get(there)
        elif isinstance(place, list) and there.isdigit() and int(there) < len(place):
            place = place[int(there)]
        else:
            place = None
        if depth + 1 == min(len(mine), len(refused)):
            return depth + 1
    return 0
