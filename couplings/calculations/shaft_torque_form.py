"""The rows of the shaft-torque form."""

from __future__ import annotations

from couplings.calculations.one_form import one_form
from couplings.calculations.plain_form import plain_number, row
from couplings.engineering.shaft import FACTOR_KINDS
from couplings.engineering.tables.service import STARTER_RIMS, STARTER_SERVICE

SERVICE = tuple((each.load, f"{each.title}, {each.factor:g} ({each.mark})") for each in STARTER_SERVICE)
RIMS = tuple((each.rim, f"{each.rim}, {each.printed}") for each in STARTER_RIMS)

ROWS = (
    row("power", "Power", "power", group="Torque"),
    row("torque", "or torque", "torque", group="Torque"),
    row("speed", "Speed", "speed", required=True, group="Torque"),
    row("rated", "Rated torque of the coupling", "torque", "rated_torque", group="Rating"),
    row("factor", "Factor", "count", group="Rating", hint="What the torque is multiplied by.", read=plain_number),
    row(
        "factor_kind",
        "Kind of factor",
        "choice",
        group="Rating",
        choices=tuple((kind, kind) for kind in FACTOR_KINDS),
        hint="Three different things: the record says which.",
    ),
    row(
        "load",
        "or service factor for a smooth driver",
        "choice",
        group="Rating",
        choices=SERVICE,
    ),
    row("rim", "Largest diameter that turns", "size", "rim_diameter", group="Rim"),
    row("rim_limit", "Largest rim speed on the data sheet", "rim-speed", group="Rim"),
    row("rim_kind", "or published caution for a rim of", "choice", "rim", group="Rim", choices=RIMS),
    row("shaft", "Diameter of the shaft", "size", "shaft_diameter", group="Shaft"),
    row("stiffness", "Torsional stiffness between the machines", "torsional-stiffness", group="Natural frequency"),
    row("inertia_1", "Inertia of the driver", "inertia", group="Natural frequency"),
    row("inertia_2", "Inertia of the driven machine", "inertia", group="Natural frequency"),
    row("line", "Line frequency", "frequency", "line_frequency", group="Natural frequency"),
)
FORM = one_form(ROWS)
