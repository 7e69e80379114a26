"""Somebody saved first: theirs beside mine, field by field; only what both changed asks, and nothing typed is lost."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from hashlib import sha256

from django.utils.translation import gettext as _

from plant.pages.register.registry import Field, Place, Rows
from plant.pages.register.typed import Typed, asked, count_of

TAKE = "_take."


@dataclass(frozen=True)
class Clash:
    """One field that both changed, each to something else."""

    name: str
    label: str
    theirs: str
    mine: str
    error: str = ""


@dataclass
class Comparison:
    typed: Typed  # mine, with what only they changed
    clashes: list[Clash] = field(default_factory=list)
    taken: list[tuple[str, str]] = field(default_factory=list)  # what only they changed: label, their value


def marks(fields: Sequence[Field], lists: Sequence[Rows], typed: Mapping[str, str]) -> str:
    """What each field held when the form was opened, as short marks that the form carries along."""
    names = [one.name for one in fields] + [rows.name for rows in lists]
    return json.dumps({name: _mark(_part(name, typed)) for name in names}, separators=(",", ":"))


def compared(
    fields: Sequence[Field],
    lists: Sequence[Rows],
    was: str,
    mine: Mapping[str, str],
    theirs: Mapping[str, str],
    place: Place,
) -> Comparison:
    """What stands in the register now against what was typed; `was` are the marks of the form."""
    before = _marks_of(was)
    found = Comparison(dict(mine))
    every: list[Field | Rows] = [*fields, *lists]
    for one in every:
        name, my, their = one.name, _part(one.name, mine), _part(one.name, theirs)
        if my == their:
            continue
        if before.get(name) == _mark(their):
            continue
        if before.get(name) == _mark(my):
            found.typed = put(name, found.typed, theirs)
            found.taken.append((str(one.label), _said(one, theirs, place)))
        else:
            found.clashes.append(Clash(name, str(one.label), _said(one, theirs, place), _said(one, mine, place)))
    return found


def put(name: str, into: Mapping[str, str], source: Mapping[str, str]) -> Typed:
    """One field, or one list with all below it, as it is in the source."""
    kept = {path: text for path, text in into.items() if path != name and not path.startswith(name + ".")}
    return kept | _part(name, source)


def _part(name: str, typed: Mapping[str, str]) -> dict[str, str]:
    return {path: text for path, text in typed.items() if path == name or path.startswith(name + ".")}


def _mark(part: Mapping[str, str]) -> str:
    return sha256(json.dumps(sorted(part.items())).encode()).hexdigest()[:10]


def _marks_of(text: str) -> dict[str, str]:
    try:
        found = json.loads(text or "{}")
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def _said(one: Field | Rows, typed: Mapping[str, str], place: Place) -> str:
    if isinstance(one, Rows):
        lines = _lines(one, one.name, typed, place)
        return "; ".join(lines) if lines else _("none")
    text = typed.get(one.name, "")
    return str(dict(asked(one, place).choices).get(text, text)) or _("empty")


def _lines(rows: Rows, path: str, typed: Mapping[str, str], place: Place) -> list[str]:
    plain = [asked(one, place) for one in rows.fields if one.kind != "key"]
    found = []
    for number in range(count_of(typed, path)):
        under = f"{path}.{number}."
        words = [str(dict(one.choices).get(typed[under + one.name], typed[under + one.name])) for one in plain]
        for inner in rows.nested:
            words += [f"({line})" for line in _lines(inner, under + inner.name, typed, place)]
        found.append(", ".join(word for word in words if word))
    return found
