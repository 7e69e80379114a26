"""Tables a site keeps for itself: starters loaded, rows written, changed and removed, each with source and mark."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from typing import Any
from uuid import UUID

from django.conf import settings

from couplings.engineering.tables.nut_factors import NUT_FACTORS, SCATTER
from couplings.engineering.tables.setscrews import STARTER_ANGLES
from couplings.models import (
    FailureCode,
    FitClass,
    Mark,
    NutFactor,
    SecondScrewFactor,
    TableRow,
    TighteningScatter,
    WearCode,
    WearWording,
)
from couplings.services.checking import refuse, saved
from couplings.table_rules import angle_errors, fit_class_errors, nut_factor_errors, wear_wording_errors
from plant import access
from plant.models import Site
from plant.recording import bump, changed, current, removed
from plant.services.rows import errors_of, refuse_known_uuid, set_fields, taken

Fields = dict[str, Any]
WORDED = ("title", "grade_0", "grade_1", "grade_2", "grade_3", "grade_4")


def _no_errors(row: Any, others: Iterable[Any]) -> dict[str, str]:
    return {}


def _no_starters() -> list[Fields]:
    return []


def _as_it_is(row: Any) -> None:
    pass


@dataclass(frozen=True)
class Table:
    """What is particular to one table: what names a row, what it says, and what stands against it.

    `keys` are fixed once a row is written. `judged(row, others)` sees the other rows of the site; `starters` gives the
    fields of the rows a site may begin with, `mark` among them. `copied(row)` fills in what a new row leaves out.
    """

    keys: tuple[str, ...]
    figures: tuple[str, ...]
    taken: Callable[[Any], dict[str, str]]
    judged: Callable[[Any, Iterable[Any]], dict[str, str]] = _no_errors
    starters: Callable[[], list[Fields]] = _no_starters
    copied: Callable[[Any], None] = _as_it_is


def write_table_row(
    *, model: type[TableRow], site: Site, uuid: UUID | None = None, mark: str = Mark.SITE, **fields: Any
) -> Any:
    """Write a row of one of a site's tables; it names its source.

    Raises
    ------
    Refused
        With every field that cannot be, also where the site has such a row already.
    """
    access.require(current().by, "policy.write", site)
    refuse_known_uuid(model, uuid)
    table = TABLES[model]
    row = model(site=site, mark=mark)
    set_fields(row, fields, (*table.keys, *table.figures, "source"))
    if uuid is not None:
        row.uuid = uuid
    table.copied(row)
    refuse(_errors(row) | _taken(row))
    saved(row, lambda: _taken(row))
    changed(row)
    return row


def change_table_row(*, row: Any, expected: int | None = None, **fields: Any) -> Any:
    """Change a row. With other figures or another source it is the site's own from then on."""
    access.require(current().by, "policy.write", row.site)
    bump(row, expected)
    table = TABLES[type(row)]
    says = (*table.figures, "source")
    before = {name: getattr(row, name) for name in says}
    set_fields(row, fields, says)
    if any(getattr(row, name) != value for name, value in before.items()):
        row.mark = Mark.SITE
    refuse(_errors(row))
    return saved(row, lambda: _taken(row))


def remove_table_row(*, row: Any, expected: int | None = None) -> None:
    """Take a row out of a site's table. What was computed with it keeps the figure; its history stays."""
    access.require(current().by, "policy.write", row.site)
    bump(row, expected)
    removed(row)
    row.delete()


def load_table(*, model: type[TableRow], site: Site) -> list[Any]:
    """Give a site the starter rows of one table that it does not have; what stands is left as it is worded."""
    access.require(current().by, "policy.write", site)
    table = TABLES[model]
    standing = set(model._default_manager.filter(site=site).values_list(*table.keys))
    rows = [row for row in table.starters() if tuple(row[key] for key in table.keys) not in standing]
    if model is SecondScrewFactor and standing:
        rows = []  # factors by angle are one curve: a starter between rows of the site's own would bend it
    return [write_table_row(model=model, site=site, **row) for row in rows]


def _errors(row: Any) -> dict[str, str]:
    errors = errors_of(row)
    if not row.source.strip():
        errors["source"] = "Name the source of this row: published ones do not agree."
    others = type(row)._default_manager.filter(site_id=row.site_id).exclude(pk=row.pk)
    # What cannot be a figure at all is compared with nothing.
    return errors or TABLES[type(row)].judged(row, others)


def _taken(row: Any) -> dict[str, str]:
    table = TABLES[type(row)]
    return table.taken(row) if taken(row, "site_id", *table.keys) else {}


def _starter_nut_factors() -> list[Fields]:
    return [
        {"of_set": name, "condition": row.condition, "nut_factor": row.nut_factor, "low": row.low, "high": row.high,
         "source": row.source, "mark": row.mark}
        for name, rows in NUT_FACTORS.items()
        for row in rows
    ]  # fmt: skip


def _starter_scatter() -> list[Fields]:
    return [
        {"of_set": name, "method": row.method, "scatter": row.scatter, "note": row.note, "source": row.source,
         "mark": row.mark}
        for name, rows in SCATTER.items()
        for row in rows
    ]  # fmt: skip


def _starter_angles() -> list[Fields]:
    return [
        {"from_deg": row.angle_deg, "to_deg": row.angle_deg, "factor": row.factor, "source": row.source,
         "mark": row.mark}
        for row in STARTER_ANGLES
    ]  # fmt: skip


def _starter_failure_codes() -> list[Fields]:
    text = (settings.BASE_DIR / "fixtures" / "starters" / "failure_codes.json").read_text(encoding="utf-8")
    return [row | {"mark": Mark.MEMORY} for row in json.loads(text)]


def _said(field: str, words: str, row: Any) -> dict[str, str]:
    return {field: words.format(row=row)}


def _copy_words(row: WearWording) -> None:
    """What a site does not word itself begins as the program words it."""
    common = WearCode.objects.filter(code=row.code).first()
    for name in WORDED if common is not None else ():
        if not getattr(row, name).strip():
            setattr(row, name, getattr(common, name))


def _wording_errors(row: WearWording, _others: Iterable[Any]) -> dict[str, str]:
    return wear_wording_errors(row, WearCode.objects.filter(code=row.code).first())


TABLES: dict[type[TableRow], Table] = {
    NutFactor: Table(
        ("of_set", "condition"),
        ("nut_factor", "low", "high"),
        partial(_said, "condition", "This site has a nut factor for {row.condition} in {row.of_set}: change that one."),
        nut_factor_errors,
        _starter_nut_factors,
    ),
    TighteningScatter: Table(
        ("of_set", "method"),
        ("scatter", "note"),
        partial(_said, "method", "This site has a scatter for {row.method} in {row.of_set} already: change that one."),
        starters=_starter_scatter,
    ),
    SecondScrewFactor: Table(
        ("from_deg",),
        ("to_deg", "factor"),
        partial(_said, "from_deg", "This site has a factor from {row.from_deg:g} degrees already: change that one."),
        angle_errors,
        _starter_angles,
    ),
    FitClass: Table(
        ("name", "over_mm"),
        ("up_to_mm", "bore_lower_mm", "bore_upper_mm", "shaft_lower_mm", "shaft_upper_mm"),
        partial(_said, "over_mm", "This site has a band of {row.name} over this size already: change that one."),
        fit_class_errors,
    ),
    FailureCode: Table(
        ("kind", "code"),
        ("name",),
        partial(_said, "code", "This site has the {row.kind} {row.code} already: change that one."),
        starters=_starter_failure_codes,
    ),
    WearWording: Table(
        ("code",),
        (*WORDED, "limit"),
        partial(_said, "code", "This site words {row.code} already: change that one."),
        _wording_errors,
        copied=_copy_words,
    ),
}
