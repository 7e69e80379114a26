"""The rows of the set-screw form."""

from __future__ import annotations

from couplings.calculations.one_form import YES, one_form, truth
from couplings.calculations.plain_form import plain_number, row
from couplings.engineering.tables.setscrews import CLASSES, STARTER_FACTORS

LOADS = tuple((each.load, f"{each.load}, {each.low:g} to {each.high:g}") for each in STARTER_FACTORS)

ROWS = (
    row(
        "count",
        "How many",
        "choice",
        required=True,
        group="Set screws",
        choices=(("0", "none"), ("1", "one"), ("2", "two"), ("4", "four, two rows of two")),
        read=plain_number,
    ),
    row(
        "size",
        "Size",
        "text",
        group="Set screws",
        hint="As in the table, #10 or 3/8; any other with its holding power. Not needed where there is none.",
    ),
    row("angle", "Angle between two", "angle", group="Set screws", hint="About the shaft: 0 is one axial line."),
    row("holding", "Holding power of one", "force", group="Set screws", hint="From its data sheet. Blank: the table."),
    row("seating", "Seating torque", "screw-torque", "seating_torque", group="Set screws", hint="Blank: the table."),
    row(
        "class",
        "Property class",
        "choice",
        "property_class",
        group="Set screws",
        choices=tuple((each.name, each.name) for each in CLASSES),
    ),
    row("diameter", "Diameter of the shaft", "size", "shaft_diameter", required=True, group="Shaft"),
    row("flat", "The points stand on a flat", "choice", group="Shaft", choices=YES, read=truth),
    row(
        "harder",
        "Screw harder than the shaft by, HRC",
        "count",
        "hardness_difference",
        group="Shaft",
        read=plain_number,
    ),
    row("load", "Kind of load", "choice", group="Load", choices=LOADS),
    row(
        "factor",
        "Design factor",
        "count",
        "design_factor",
        group="Load",
        hint="Blank: the upper end of the range for the kind of load.",
        read=plain_number,
    ),
    row("torque", "Torque of the shaft", "screw-torque", group="Load"),
    row("thrust", "Thrust on the hub", "force", group="Load"),
    row("key", "A key carries the torque", "choice", group="Load", choices=YES, read=truth),
)
FORM = one_form(ROWS)
