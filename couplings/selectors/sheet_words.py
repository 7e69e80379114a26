"""How a data sheet reads: for every column its part of the sheet, its name in the trade, and what kind of value it is.

One table for the readable sheet, for comparing versions, and for forms; the kinds are those of plant.units, and
`text`, `count`, `years`, `yes`, `choice`, `shares`, `stated`, `worn` and `step`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from couplings.selectors.sheet_lists import ROW_LISTS
from couplings.selectors.steps import known_steps
from plant import units

STATED_KINDS = {"length": "gap", "gap-difference": "gap", "slope": "slope", "degrees": "angle"}
NOT_STATED = _("not stated")


@dataclass(frozen=True)
class Column:
    """`part` of the sheet it stands in, `label` as people read it, `kind` of its value."""

    name: str
    part: Any
    label: Any
    kind: str


RATINGS, SIZES, LIMITS, HUBS, SCREWS, FIT, ELEMENT, LUBRICANT, NOTES = (
    _("Ratings"), _("Sizes"), _("Limits"), _("Hubs"), _("Set screws"), _("Fit on the shaft"), _("Element"),
    _("Lubricant"), _("Notes"),
)  # fmt: skip

COLUMNS: tuple[Column, ...] = (
    Column("torque_rating_nm", RATINGS, _("Torque rating"), "torque"),
    Column("max_rpm", RATINGS, _("Highest speed"), "speed"),
    Column("rule", LIMITS, _("Judged"), "choice"),
    Column("combined", LIMITS, _("Sum of value over limit at most 1, too"), "yes"),
    Column("dbse_mm", SIZES, _("Distance between shaft ends"), "size"),
    Column("dbse_tolerance_mm", SIZES, _("Tolerance of that distance"), "gap"),
    Column("flex_distance_mm", SIZES, _("Between the flex planes"), "size"),
    Column("hub_length_mm", SIZES, _("Bore length of one hub"), "size"),
    Column("hub_diameter_mm", SIZES, _("Hub diameter"), "size"),
    Column("bore_mm", FIT, _("Bore"), "size"),
    Column("fit_hole", FIT, _("Class of the bore"), "text"),
    Column("fit_shaft", FIT, _("Class of the shaft"), "text"),
    Column("key_standard", FIT, _("Key"), "choice"),
    Column("mounting_kind", FIT, _("How the hubs are held"), "choice"),
    Column("set_screw_count", SCREWS, _("Set screws per hub"), "count"),
    Column("set_screw_size", SCREWS, _("Size"), "text"),
    Column("set_screw_torque_nm", SCREWS, _("Torque"), "screw-torque"),
    Column("set_screw_angle_deg", SCREWS, _("Angle between two"), "angle"),
    Column("set_screw_holding_n", SCREWS, _("Axial holding power of one"), "force"),
    Column("set_screw_holding_source", SCREWS, _("Source of the holding power"), "text"),
    Column("element_part", ELEMENT, _("Part number"), "text"),
    Column("element_shelf_years", ELEMENT, _("Shelf life from the cure date"), "years"),
    Column("element_polymer", ELEMENT, _("Polymer (ISO 1629)"), "text"),
    Column("hardness_scale", ELEMENT, _("Hardness scale"), "choice"),
    Column("hardness_change", ELEMENT, _("Hardness change at most, points"), "count"),
    Column("lubricant", LUBRICANT, _("Lubricant"), "text"),
    Column("lubricant_g", LUBRICANT, _("One fill"), "mass"),
    Column("lubricant_months", LUBRICANT, _("Months between fills"), "count"),
    Column("note", NOTES, _("Note"), "text"),
)

LIST_PARTS: dict[str, Any] = {
    "limits": LIMITS, "joints": _("Bolted joints"), "wear_limits": _("Wear limits"), "hubs": HUBS,
    "spacers": _("Lengths of element or spacer"), "screws": _("Screws by bore"), "element_parts": _("Element parts"),
    "hold_points": _("Hold points"),
}  # fmt: skip

_ROWS: dict[str, tuple[tuple[str, Any, str], ...]] = {
    "limits": (
        ("quantity", _("What is limited"), "choice"),
        ("stated_as", _("Stated"), "choice"),
        ("stated_value", _("Limit"), "stated"),
        ("over_diameter_mm", _("Over the diameter"), "size"),
    ),
    "joints": (
        ("name", _("Name"), "text"),
        ("thread", _("Thread"), "text"),
        ("positions", _("Positions"), "count"),
        ("torque_nm", _("Torque"), "torque"),
        ("strength_standard", _("Strength standard"), "text"),
        ("strength_class", _("Property class or grade"), "text"),
        ("nut_factor", _("Nut factor K"), "count"),
        ("nut_factor_source", _("Source of K"), "text"),
        ("order", _("Tightening order"), "choice"),
        ("segments", _("Segments"), "count"),
        ("pass_shares", _("Shares of the torque by pass"), "shares"),
        ("feature", _("To heed at a re-check"), "choice"),
        ("prevailing_nm", _("Prevailing torque"), "torque"),
        ("recheck", _("Re-check"), "choice"),
        ("recheck_reason", _("Reason"), "text"),
    ),
    "wear_limits": (("code", _("Looked for"), "text"), ("limit", _("Worn out from"), "worn")),
    "hubs": (
        ("side", _("Side"), "choice"),
        ("bore_length_mm", _("Bore length"), "size"),
        ("flange_mm", _("Flange plane behind its face"), "size"),
        ("overhang_mm", _("Face past the shaft's end"), "size"),
        ("protrusion_mm", _("Shaft proud of the face, at most"), "size"),
        ("orientation", _("Way round"), "choice"),
        ("mounting_kind", _("Held by"), "choice"),
    ),
    "spacers": (("name", _("Position"), "text"), ("length_mm", _("From flange plane to flange plane"), "size")),
    "screws": (
        ("kind", _("Screw"), "choice"),
        ("over_bore_mm", _("Bore over"), "size"),
        ("up_to_bore_mm", _("Bore up to"), "size"),
        ("size", _("Size"), "text"),
        ("torque_nm", _("Torque"), "screw-torque"),
        ("source", _("Source"), "text"),
    ),
    "element_parts": (
        ("part_number", _("Part number"), "text"),
        ("description", _("Description"), "text"),
        ("material", _("Material"), "text"),
        ("standard", _("The standard one"), "yes"),
    ),
    "hold_points": (
        ("step", _("Step of the visit"), "step"),
        ("what", _("What is witnessed"), "text"),
        ("role", _("Who may witness"), "choice"),
    ),
}
ROW_COLUMNS: dict[str, tuple[Column, ...]] = {
    name: tuple(Column(column, LIST_PARTS[name], label, kind) for column, label, kind in _ROWS[name])
    for name in ROW_LISTS
}


def said(row: Any, column: Column, system: str) -> str:
    """The value of one column in the reader's units and words; a value that is not there reads "not stated"."""
    value = getattr(row, column.name)
    if value is None or value == "" or value == []:
        return str(NOT_STATED)
    return _written(row, column, value, system, None)


def said_apart(before: Any, after: Any, column: Column, system: str) -> tuple[str, str]:
    """Two values that differ, with as many decimals as it takes to see it."""
    one, other = said(before, column, system), said(after, column, system)
    for decimals in range(1, 13):
        if one != other:
            break
        one, other = (_written(row, column, getattr(row, column.name), system, decimals) for row in (before, after))
    return one, other


def kind_of(row: Any, column: Column) -> str:
    """The kind of plant.units of a value whose column leaves it to the row; empty where it has none."""
    if column.kind == "stated":
        return STATED_KINDS.get(row.stated_as, "")
    if column.kind == "worn":
        return row.code.kind or ""
    return column.kind if column.kind in units.KINDS else ""


def _written(row: Any, column: Column, value: Any, system: str, decimals: int | None) -> str:
    if kind := kind_of(row, column):
        return units.written(value, kind, system, decimals=decimals)
    if column.name == "code":
        # As the site words it, where it was asked for together with the rows.
        return str(getattr(row, "own_title", None) or value)
    if column.kind == "yes":
        return gettext("yes") if value else gettext("no")
    if column.kind == "choice":
        return str(getattr(row, f"get_{column.name}_display")())
    if column.kind == "years":
        return gettext("%(years)s years") % {"years": f"{value:g}"}
    if column.kind == "shares":
        return ", ".join(f"{100 * share:g} %" for share in value)
    if column.kind == "step":
        return str(known_steps().get(value, value))
    return f"{value:.12g}" if isinstance(value, float) else str(value)
