"""Machines that stand upright or hang on a flange: compass points for the clock; no sag, no feet to move."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

from couplings.engineering.alignment import METHODS
from couplings.engineering.upright import KINDS
from plant.calculations import FormField

POINTS = {12: "N", 3: "E", 6: "S", 9: "W"}
NO_FEET = "An upright or flange-mounted machine has no feet to move: leave this out."
CENTRED = "An upright or flange-mounted machine has no feet to move: centre it at its fit, then read again."
METHODS_HERE = tuple(one for one in METHODS.values() if one.sets and one.kinds <= set(KINDS))
# What only lying machines have.
_LYING = re.compile(r"viewed_from|feet\d\..+|set\d\.(sag|sag_u|bracket|half)|(driver|driven)_support|flex_[ab]")
_CLOCK = re.compile(r"\b(12|3|6|9) o'clock\b")


def upright(coupling: Any) -> bool:
    """Whether a coupling is read by compass points: one of its machines does not lie on feet."""
    machines = (coupling.driver_machine, coupling.driven_machine)
    return any(machine.mounting != machine.Mounting.FEET for machine in machines)


def lying_only(name: str) -> bool:
    """Whether a field is asked of machines on feet only."""
    return _LYING.fullmatch(name) is not None


def by_compass(rows: list[FormField]) -> list[FormField]:
    """The rows of a survey's form for an upright machine: without what it has not, the clock named by the compass."""
    kept = []
    for row in rows:
        if lying_only(row.name):
            continue
        label = _CLOCK.sub(lambda found: POINTS[int(found[1])], row.label)
        hint = row.hint.replace("clockwise from 12", "from north over east, seen from above")
        kept.append(replace(row, label=label, hint=hint.replace("12 o'clock is 0", "N is 0")))
    return kept


NORTH = FormField(
    "north_is",
    "N stands for",
    "text",
    group="How it was read",
    hint="Where it is not the plant's north: the side of the discharge nozzle, a match mark.",
)
