"""The list of a noun: what the reader asked for, and the rows that answer it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import F, Q, QuerySet
from django.utils.translation import gettext as _

from plant import units
from plant.models import Person, Site
from plant.pages.register.registry import Noun, Options, filters_of
from plant.units import METRIC

ON_A_PAGE = 50


@dataclass(frozen=True)
class Cell:
    label: str
    text: str
    href: str = ""
    right: bool = False
    tag: bool = False


@dataclass(frozen=True)
class Line:
    """One row of the list; `depth` is how far it stands within others, `head` a group that begins with it."""

    key: str
    href: str
    name: str
    cells: list[Cell]
    depth: int = 0
    head: str = ""


@dataclass(frozen=True)
class Head:
    label: str
    right: bool
    sort: str = ""  # what the link asks for
    now: str = ""  # ascending, descending


@dataclass(frozen=True)
class Choice:
    """One filter as it stands in the sentence."""

    name: str
    words: str
    anything: str
    options: Options
    chosen: str


@dataclass(frozen=True)
class Listing:
    text: str
    choices: list[Choice]
    sorts: list[tuple[str, str]]
    sort: str
    heads: list[Head]
    page: Page[Any]
    lines: list[Line]
    narrowed: bool


def listing(noun: Noun, person: Person, asked: Mapping[str, str], only: set[int] | None = None) -> Listing:
    """The rows that the address asks for; a value that means nothing is left out of account."""
    text = asked.get("q", "").strip()[:100]
    rows, choices = noun.visible(person), []
    if only is not None and hasattr(noun.model, "site"):
        rows = rows.filter(site_id__in=only)
    elif only is not None and noun.model is Site:
        rows = rows.filter(pk__in=only)
    if text and noun.search:
        found = Q()
        for column in noun.search:
            found |= Q(**{f"{column}__icontains": text.replace("\x00", "")})
        rows = rows.filter(found).distinct()
    for one in filters_of(noun):
        options = one.options(person)
        chosen = asked.get(one.name, "")
        chosen = chosen if chosen in {key for key, _label in options} else ""
        if chosen:
            rows = one.narrow(rows, chosen)
        if options:
            choices.append(Choice(one.name, one.words, one.anything, options, chosen))
    sorts = {column.name: column.sort for column in noun.columns if column.sort}
    sort = asked.get("sort", "")
    sort = sort if sort.removeprefix("-") in sorts else ""
    narrowed = bool(text) or any(one.chosen for one in choices)
    rows = rows.order_by(*(_order(sorts[sort.removeprefix("-")], sort) if sort else noun.order), "pk")
    tree = bool(noun.parent) and not sort and not narrowed
    ordered = _as_tree(rows, noun.parent) if tree else rows
    page = Paginator(ordered, ON_A_PAGE).get_page(asked.get("page"))
    shown = list(page.object_list)
    if noun.ready is not None:
        noun.ready([row for row, _depth in shown] if tree else shown)
    return Listing(
        text=text,
        choices=choices,
        sorts=[(column.name, column.label) for column in noun.columns if column.sort],
        sort=sort,
        heads=[_head(column, sort) for column in noun.columns],
        page=page,
        lines=list(_lines(noun, shown, tree, grouped=not sort)),
        narrowed=narrowed,
    )


def _order(columns: Iterable[str], sort: str) -> list[Any]:
    """What is not known comes last, whichever way round."""
    ordered = []
    for one in columns:
        # A column may itself be sorted the other way round, such as the latest first.
        falling = sort.startswith("-") != one.startswith("-")
        place = F(one.removeprefix("-"))
        ordered.append(place.desc(nulls_last=True) if falling else place.asc(nulls_last=True))
    return ordered


def _head(column: Any, sort: str) -> Head:
    now = {column.name: "ascending", f"-{column.name}": "descending"}.get(sort, "")
    other = f"-{column.name}" if now == "ascending" else column.name
    return Head(column.label, bool(column.kind), other if column.sort else "", now)


def _as_tree(rows: QuerySet[Any], parent: str) -> list[tuple[Any, int]]:
    """Every row below the one it is a part of, in the order given."""
    below: dict[Any, list[Any]] = {}
    found = list(rows)
    there = {row.pk for row in found}
    for row in found:
        above = getattr(row, f"{parent}_id")
        below.setdefault(above if above in there else None, []).append(row)
    ordered: list[tuple[Any, int]] = []
    waiting = [(row, 0) for row in reversed(below.pop(None, []))]
    while waiting:
        row, depth = waiting.pop()
        ordered.append((row, depth))
        waiting += [(part, depth + 1) for part in reversed(below.pop(row.pk, []))]
    return ordered


def _lines(noun: Noun, rows: Iterable[Any], tree: bool, grouped: bool) -> Iterable[Line]:
    before = None
    for each in rows:
        row, depth = each if tree else (each, 0)
        head = noun.group(row) if noun.group is not None and grouped and not tree else ""
        site = noun.site_of(row)
        system = site.units if site is not None else METRIC
        cells = [_cell(column, row, system) for column in noun.columns]
        yield Line(
            key=str(getattr(row, noun.lookup)),
            href=noun.address(row),
            name=noun.title(row),
            cells=cells,
            depth=min(depth, 5),
            head=head if head != before else "",
        )
        before = head


def _cell(column: Any, row: Any, system: str) -> Cell:
    value = column.value(row)
    if column.kind in units.KINDS:
        text = "" if value is None else units.written(value, column.kind, system)
    elif isinstance(value, bool):
        text = _("yes") if value else _("no")
    else:
        text = "" if value is None else str(value)
    return Cell(column.label, text, column.link(row) if column.link else "", bool(column.kind), column.name == "tag")


def every_line(noun: Noun, person: Person, asked: Mapping[str, str], only: set[int] | None) -> Iterable[Line]:
    """All lines that the address asks for, read a page at a time; `only` narrows them to these sites."""
    number = 1
    while True:
        found = listing(noun, person, {**asked, "page": str(number)}, only)
        yield from found.lines
        if not found.page.has_next():
            return
        number += 1
