"""The form of a draft: one field per column of a version, one table per list, and what was typed turned into rows."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

from couplings.models import DataSheet, SheetVersion, WearCode
from couplings.selectors.sheet_lists import ROW_LISTS
from couplings.selectors.sheet_reading import draft_of
from couplings.selectors.sheet_words import COLUMNS, LIST_PARTS, ROW_COLUMNS, STATED_KINDS, Column, kind_of
from couplings.selectors.steps import known_steps
from couplings.selectors.wear import wear_codes_for
from plant import units
from plant.pages.register import Field, Place, Rows
from plant.pages.register import lazily as _
from plant.pages.register.registry import Options
from plant.refusals import Refused

ONES = {
    "limits": _("limit"), "joints": _("joint"), "wear_limits": _("wear limit"), "hubs": _("hub"),
    "spacers": _("length"), "screws": _("row of screws"), "element_parts": _("part"), "hold_points": _("hold point"),
}  # fmt: skip
HINTS = {
    "limits": _("Each with its unit, as the sheet prints it: 0.2 mm, 5 thou, 1 mm/m, 0.5 deg."),
    "hubs": _("One row for both sides, or one for each side where the hubs differ."),
    "spacers": _("From flange plane to flange plane; a spacer with several rows of holes has several."),
    "screws": _("What the sheet’s table says for a bore: the upper end belongs to the row."),
    "element_parts": _("One of them is the standard one: it is the part the sheet names."),
    "hold_points": _("What a second person looks at before the next step begins. Nobody witnesses himself."),
}
FORM_KINDS = {"years": "number", "stated": "text", "worn": "text", "shares": "text", "step": "choice"}
NUMBERS = frozenset({"nut_factor", "hardness_change"})
REQUIRED = frozenset({
    "quantity", "stated_as", "stated_value", "name", "positions", "torque_nm", "code", "limit", "side",
    "bore_length_mm", "length_mm", "up_to_bore_mm", "size", "part_number", "step", "what", "role", "kind", "source",
    "orientation", "order", "recheck",
})  # fmt: skip
STARTERS = {
    "side": "both", "orientation": "either", "kind": "set", "order": "opposite", "recheck": "allowed",
    "segments": "1", "flange_mm": "0", "over_bore_mm": "0", "standard": "no",
}  # fmt: skip


def version_fields() -> list[Field]:
    """One field per column of a version, under the part of the sheet it stands in."""
    return [_field(column, SheetVersion, str, grouped=True) for column in COLUMNS]


def version_lists() -> list[Rows]:
    """One table per list of a version."""
    return [
        Rows(
            name=name,
            label=LIST_PARTS[name],
            one=ONES[name],
            hint=HINTS.get(name, ""),
            fields=[_field(column, given.model, name) for column in ROW_COLUMNS[name]],
            rows=_rows(name),
            most=60,
            told=False,  # the page has entries of its own for the version in force and the draft
        )
        for name, given in ROW_LISTS.items()
    ]


def taken(sheet: DataSheet, given: dict[str, Any]) -> dict[str, Any]:
    """What was typed as the service takes it: limits with their units, codes as rows, shares as numbers.

    A figure that was not touched goes back exactly as it stands, whatever its unit did to it on the way.
    """
    errors: dict[str, str] = {}
    draft, system = draft_of(sheet), sheet.site.units
    exact = {
        (name, column, _typed(row, column)): getattr(row, column)
        for name, column in (("limits", "stated_value"), ("wear_limits", "limit"))
        for row in (getattr(draft, name).all() if draft is not None else ())
    }
    for no, row in enumerate(given.get("limits", ())):
        place = f"limits.{no}.stated_value"
        row["stated_value"] = _figure(
            row["stated_value"], STATED_KINDS.get(row["stated_as"], "gap"), system, errors, place,
            exact.get(("limits", "stated_value", row["stated_value"])),
        )  # fmt: skip
    codes = {code.code: code for code in WearCode.objects.filter(families=sheet.family)}
    for no, row in enumerate(given.get("wear_limits", ())):
        code = codes.get(row["code"])
        if code is None:
            errors[f"wear_limits.{no}.code"] = str(_("This is not looked for on this family."))
            continue
        place = f"wear_limits.{no}.limit"
        known = exact.get(("wear_limits", "limit", row["limit"]))
        row |= {"code": code, "limit": _figure(row["limit"], code.kind or "gap", system, errors, place, known)}
    for no, row in enumerate(given.get("joints", ())):
        row["pass_shares"] = _shares(row["pass_shares"], errors, f"joints.{no}.pass_shares")
    for rows, column in (("joints", "segments"), ("hubs", "flange_mm"), ("screws", "over_bore_mm")):
        for row in given.get(rows, ()):
            if row.get(column) is None:
                row.pop(column, None)
    if errors:
        raise Refused(errors)
    return given


def _figure(text: str, kind: str, system: str, errors: dict[str, str], place: str, exact: float | None) -> float:
    if exact is not None:
        return exact
    try:
        _number, unit = units.split(text)
        if not unit:
            raise units.UnitError(str(_("Write it with its unit, as the sheet prints it.")))
        return units.parse(text, kind, system)
    except units.UnitError as error:
        errors[place] = str(error)
        return 1.0


def _shares(text: str, errors: dict[str, str], place: str) -> list[float]:
    words = [word for word in re.split(r"[;,\s%]+", text or "") if word]
    try:
        return [float(word) / 100 for word in words]
    except ValueError:
        errors[place] = str(_("Write the shares in percent, pass by pass: 30, 70, 100."))
        return []


def _rows(name: str) -> Callable[[DataSheet], Iterable[Any]]:
    def rows(sheet: DataSheet) -> Iterable[Any]:
        draft = draft_of(sheet)
        return getattr(draft, name).all() if draft is not None else ()

    return rows


def _field(column: Column, model: Any, name: Any, grouped: bool = False) -> Field:
    kind, hint = FORM_KINDS.get(column.kind, column.kind), ""
    if column.name in NUMBERS:
        kind = "number"
    if column.name == "note":
        kind = "long"
    if column.kind == "shares":
        hint = _("In percent, the last 100; empty: the starter’s.")
    choices: tuple[tuple[str, str], ...] = ()
    options: Callable[[Place], Options] | None = None
    if column.kind == "choice":
        choices = tuple(model._meta.get_field(column.name).choices)
    elif column.kind == "step":
        options = _steps
    elif column.name == "code":
        kind, options = "choice", _codes
    required = (not grouped and column.name in REQUIRED) or column.name in {"rule", "set_screw_count"}
    return Field(
        column.name, column.label, kind, required, column.part if grouped else "", choices, hint,
        options=options, starter="" if grouped else STARTERS.get(column.name, ""),
        value=(lambda sheet: _of_draft(sheet, column.name)) if grouped else (lambda row: _typed(row, column.name)),
        told=False,
    )  # fmt: skip


def _of_draft(sheet: DataSheet, name: str) -> Any:
    draft = draft_of(sheet)
    return getattr(draft, name) if draft is not None else None


def _typed(row: Any, name: str) -> Any:
    """What stands in the form: figures whose kind the row itself decides are written with their unit."""
    value = getattr(row, name)
    if name == "code":
        return value.code
    if name == "pass_shares":
        return ", ".join(f"{100 * share:g}" for share in value)
    column = next((one for one in _MIXED if one.name == name), None)
    if column is None or not hasattr(row, "stated_as" if name == "stated_value" else "code"):
        return value
    kind, system = kind_of(row, column), row.version.sheet.site.units
    if not kind:
        return f"{value:g}"
    unit = units.unit_of(kind, system)
    return f"{units.without_dust(units.in_unit(value, kind, unit)):.12g} {unit}"


def _steps(_place: Place) -> list[tuple[str, str]]:
    return list(known_steps().items())


def _codes(place: Place) -> list[tuple[str, str]]:
    codes = wear_codes_for(place.root.family, place.site)
    return [(code.code, f"{code.title}: {code.number}") for code in codes if code.number]


_MIXED = tuple(column for rows in ROW_COLUMNS.values() for column in rows if column.kind in ("stated", "worn"))
