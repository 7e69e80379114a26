"""What a page hands its script so that the phone computes as the server does: sets, units and words.

`static/couplings/align.js` is the linear model, `typed.js` reads the fields, `provisional.js` shows what comes out.
"""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from couplings.calculations.alignment_answer import CLOSURE_LIMIT_MM
from couplings.calculations.alignment_sets import STARTER_U_MM
from couplings.calculations.typed import carrier_is_open
from couplings.engineering.alignment import METHODS
from plant import units

KINDS = ("gap", "size", "slope")


def phone_sets(method: str) -> list[dict[str, Any]]:
    """The sets a method asks for, in the order of the form. [mm]"""
    return [
        {
            "kind": row.kind,
            "label": row.label,
            "carried_by": row.carried_by,
            "plane": row.plane,
            "either": carrier_is_open(method, row),
            "u": STARTER_U_MM[row.kind],
        }
        for row in METHODS[method].sets
    ]


def phone_units(system: str) -> dict[str, Any]:
    """Per kind: the unit of a bare number, its label, its decimals, and what every word is worth in mm or mrad."""
    return {kind: units.for_script(kind, system) for kind in KINDS}


def phone_data(method: str, system: str) -> dict[str, Any]:
    """What the page of the calculation without a record hands over; it asks for limits, target and feet itself."""
    return {
        "method": method,
        "sets": phone_sets(method) if method in METHODS else [],
        "units": phone_units(system),
        "divisions": divisions(),
        "closure_limit": CLOSURE_LIMIT_MM,
        "asks": True,
        "words": phone_words(),
    }


def divisions() -> dict[str, Any]:
    """The divisions a dial may have, beside the unit of the site: name to size in mm and how a whole one is written."""
    return {
        "hundredth": {"mm": 0.01, "unit": "mm", "decimals": 2},
        "thou": {"mm": 0.0254, "unit": "thou", "decimals": 0},
    }


def phone_words() -> dict[str, str]:
    """The sentences of the script."""
    return {
        "of": _("of"),
        "share": _("of the limit"),
        "limit": _("limit"),
        "unknown": _("not known"),
        "up": _("up"),
        "down": _("down"),
        "right": _("right"),
        "left": _("left"),
        "plane": _("not measured in this plane"),
        "vertical": _("vertical"),
        "horizontal": _("horizontal"),
        "feet": _("Feet"),
        "offset": _("Offset at the centre"),
        "angularity": _("Angularity"),
        "flex-angle-a": _("Angle at flex plane A"),
        "flex-angle-b": _("Angle at flex plane B"),
        "axial": _("Axial position"),
        "combined": _("Sum of the shares"),
        "sheet": _("data sheet"),
        "grade": _("speed grade"),
        "closes": _("Closure {value}: within {limit}."),
        "open": _("Closure {value}, more than {limit}: read this dial again."),
        "slip": _("{where}: {value} lies far from the others; {other} would fit. Has the unit or the sign slipped?"),
        "far": _("{where}: {value} lies far from the last round, where the largest was {other}. Is it read right?"),
        "travel": _("{where}: {value} is more than a dial’s travel. Has the unit slipped?"),
    }
