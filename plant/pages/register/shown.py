"""A form and a row's facts as their templates print them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext as _

from plant.models import ExternalRef
from plant.pages.fields import Group, Shown, id_of, shown_field
from plant.pages.register.lazy import lazily
from plant.pages.register.registry import Field, Noun, Place, Rows
from plant.pages.register.typed import asked, count_of, written

AS_A_DAY = lazily("Such as 2026-10-12.")


@dataclass
class ShownRow:
    path: str
    title: str
    fields: list[Shown]
    lists: list[ShownList]
    keys: list[tuple[str, str]] = field(default_factory=list)  # name and value of what is carried along unseen


@dataclass
class ShownList:
    path: str
    label: str
    one: str
    hint: str
    error: str
    rows: list[ShownRow]
    may_add: bool
    ordered: bool = False

    @property
    def id(self) -> str:
        """The id of the list's heading, for links from a refusal."""
        return id_of(self.path)


@dataclass
class ShownForm:
    groups: list[Group]
    lists: list[ShownList]
    problems: list[dict[str, str]] = field(default_factory=list)


def shown_form(
    fields: Sequence[Field],
    lists: Sequence[Rows],
    typed: Mapping[str, str],
    errors: Mapping[str, str],
    place: Place,
) -> ShownForm:
    """The form with what was typed, each error at its field and in the box above."""
    groups: dict[str, Group] = {}
    labels: dict[str, str] = {}
    known: dict[int, Field] = {}
    for one in fields:
        group = groups.setdefault(one.group, Group(one.group))
        group.fields.append(_shown(one, "", typed, errors, place, known))
        labels[one.name] = one.label
    shown = ShownForm(list(groups.values()), [_list(rows, "", typed, errors, place, labels, known) for rows in lists])
    for name, message in errors.items():
        found = name in labels
        shown.problems.append(
            {"id": id_of(name) if found else "", "label": labels[name] if found else "", "message": message}
        )
    return shown


def _shown(
    field: Field, under: str, typed: Mapping[str, str], errors: Mapping[str, str], place: Place, known: dict[int, Field]
) -> Shown:
    # Choices are asked for once, however many rows of a list offer them.
    plain = known.setdefault(id(field), asked(field, place))
    name = under + field.name
    one = shown_field(plain, {field.name: typed.get(name, "")}, {field.name: errors.get(name, "")}, place.system)
    hint = one.hint or (AS_A_DAY if field.kind == "date" and one.type == "text" else "")
    return Shown(**{**one.__dict__, "id": id_of(name), "name": name, "hint": hint})


def _list(
    rows: Rows,
    under: str,
    typed: Mapping[str, str],
    errors: Mapping[str, str],
    place: Place,
    labels: dict[str, str],
    known: dict[int, Field],
    within: str = "",
) -> ShownList:
    path = under + rows.name
    labels[path] = f"{within}{rows.label}"
    found = []
    for number in range(count_of(typed, path)):
        inner = f"{path}.{number}."
        title = f"{rows.one} {number + 1}"
        for one in rows.fields:
            labels[inner + one.name] = f"{within}{title}, {one.label}"
        found.append(
            ShownRow(
                path=inner[:-1],
                title=title,
                fields=[_shown(one, inner, typed, errors, place, known) for one in rows.fields if one.kind != "key"],
                lists=[
                    _list(one, inner, typed, errors, place, labels, known, f"{within}{title}, ") for one in rows.nested
                ],
                keys=[(inner + one.name, typed.get(inner + one.name, "")) for one in rows.fields if one.kind == "key"],
            )
        )
    more = len(found) < rows.most
    return ShownList(path, rows.label, rows.one, rows.hint, errors.get(path, ""), found, more, rows.ordered)


@dataclass(frozen=True)
class Table:
    """A list below a row, as its page prints it."""

    label: str
    heads: list[str]
    rows: list[list[str]]


def facts(noun: Noun, place: Place) -> list[tuple[str, list[tuple[str, str]]]]:
    """The row's own values by group, those that an act of its own changes included; what is empty says so."""
    groups: dict[str, list[tuple[str, str]]] = {}
    known: set[str] = set()
    for one in [*noun.fields, *(one for act in noun.acts if act.filled for one in act.fields)]:
        if one.told and one.name not in known:
            known.add(one.name)
            text = _told(one, place.root, place)
            groups.setdefault(one.group, []).append((one.label, text or _("not entered")))
    return list(groups.items())


def tables(noun: Noun, place: Place) -> list[Table]:
    """The lists below a row; a list within a list is one more cell."""
    found = []
    for rows in noun.lists:
        if not rows.told:
            continue
        told = [one for one in rows.fields if one.told]
        lines = []
        for row in rows.rows(place.root):
            cells = [_told(one, row, place) for one in told]
            cells += ["; ".join(_line(inner, each, place) for each in inner.rows(row)) for inner in rows.nested]
            lines.append(cells)
        found.append(Table(rows.label, [*(one.label for one in told), *(inner.label for inner in rows.nested)], lines))
    return found


def _line(rows: Rows, row: Any, place: Place) -> str:
    return ", ".join(text for one in rows.fields if (text := _told(one, row, place)))


def _told(field: Field, owner: Any, place: Place) -> str:
    value = field.value(owner) if field.value is not None else getattr(owner, field.name)
    return written(field, value, place)


def references(noun: Noun) -> tuple[Rows, ...]:
    """The rows of a form in which other systems' names are kept; none where the noun has none."""
    if not noun.references:
        return ()
    name = noun.model._meta.model_name
    return (
        Rows(
            name="external_ref",
            label=lazily("Names in other systems"),
            one=lazily("name"),
            hint=lazily("One name per system: what the work-order system or the asset register calls this."),
            fields=(
                Field("system", lazily("System"), "text", required=True),
                Field("key", lazily("Its name there"), "text", required=True),
            ),
            rows=lambda root: ExternalRef.objects.filter(noun=name, subject=root.uuid),
            pack=_merged,
            told=False,
        ),
    )


def _merged(given: list[dict[str, Any]], standing: list[dict[str, Any]]) -> dict[str, str | None]:
    """What stood there and is not given any more is taken away."""
    gone: dict[str, str | None] = dict.fromkeys((row["system"] for row in standing), None)
    return gone | {row["system"]: row["key"] for row in given}
