"""`temperatures` of an alignment: a survey taken while supports were warm, as it would be at their reference.

    material or coefficient, reference   for both machines, where they are the same
    stationary   {temperature, reference, temperature_standard_uncertainty, material or coefficient} and either
                 support_height: all its supports alike, or
                 feet: [{name, x, height}], and where it differs from its machine: temperature, material, layers
    movable      the same

Both machines are given: one that was left out could be cold or forgotten. `coefficient` and `layers` as the calculation
thermal-growth has them; both machines share the error of one coefficient, each has the error of its own thermometer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from couplings.calculations.request import Request
from couplings.calculations.thermal_request import State, SupportReader
from couplings.engineering.alignment import Misalignment
from couplings.engineering.tables.coefficients import STARTER_COEFFICIENTS, Coefficient
from couplings.engineering.thermal import Layer, Support, corrected, relative_growth

NAMES = ("temperature", "reference")
# Supports that are all alike lift a machine evenly, wherever they stand: any two places give the same rise.
EVEN_MM = (1000.0, 2000.0)


@dataclass(frozen=True)
class Temperatures:
    """Supports of both machines, from their temperatures at the survey to those of the reference state."""

    stationary: tuple[Support, ...]
    movable: tuple[Support, ...]
    coefficients: tuple[Coefficient, ...]


@dataclass(frozen=True)
class Corrected:
    """What growth added to a survey, and the survey with it. Working frame. [mm, mrad]"""

    added: Misalignment
    position: Misalignment
    coefficients: tuple[Coefficient, ...]


def read_temperatures(
    request: Request, starters: set[str], table: Sequence[Coefficient] = STARTER_COEFFICIENTS
) -> Temperatures | None:
    """The supports of both machines; None where no temperatures are given, or after an error."""
    part = request.part("temperatures")
    if part is None:
        return None
    before = len(request.errors)
    reader = SupportReader(NAMES, True, table)
    shared = reader.state(Request({key: part.given(key) for key in ("material", "coefficient", "reference")
                                   if part.has(key)}, part.path, part.errors), State())  # fmt: skip
    supports = [_machine(part, machine, reader, shared) for machine in ("stationary", "movable")]
    part.finish()
    starters |= reader.starters
    if len(request.errors) > before:
        return None
    return Temperatures(supports[0], supports[1], tuple(reader.used.values()))


def _machine(whole: Request, machine: str, reader: SupportReader, shared: State) -> tuple[Support, ...]:
    part = whole.part(machine, f"Give height and temperature of the {machine} machine's supports too.")
    if part is None:
        return ()
    state = reader.state_of_machine(part, replace(shared, first_by=machine, second_by=machine))
    if part.has("feet"):
        if part.has("support_height"):
            part.refuse("support_height", "Give one height for all supports, or the feet with theirs, not both.")
        feet = reader.feet(part, machine, state)
    else:
        layer = reader.layer(part, state, finish=False, key="support_height")
        feet = () if layer is None else _even(machine, layer)
    part.finish()
    return feet


def _even(machine: str, layer: Layer) -> tuple[Support, ...]:
    side = 1.0 if machine == "movable" else -1.0
    return tuple(Support("", side * x_mm, (layer,)) for x_mm in EVEN_MM)


def correct(misalignment: Misalignment, given: Temperatures) -> Corrected:
    """The survey at the reference state, with the uncertainty of coefficients and temperatures added to its own."""
    return Corrected(
        relative_growth(given.stationary, given.movable),
        corrected(misalignment, given.stationary, given.movable),
        given.coefficients,
    )
