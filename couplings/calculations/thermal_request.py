"""The `thermal-growth` request: from JSON to supports, with the path of every refused field.

    method       target (temperatures cold, hot) or survey (temperatures at_survey, reference)
    stationary   {material or coefficient, the two temperatures, temperature_standard_uncertainty, feet: [...]}
    movable      the same; a machine left out does not grow
    feet         {name, x, height}, and where it differs from its machine: material or coefficient, temperatures;
                 or in place of height, layers: [{height, material or coefficient, temperatures}]
    coefficient  {value, unit: 1e-6/degC or 1e-6/degF, standard_uncertainty}
    offset, angularity   as the method direct of an alignment; as the observer at the movable machine sees it

The reference state of a survey is a definition, so its temperature is exact.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from couplings.calculations.alignment_direct import Direct, read_direct
from couplings.calculations.alignment_sets import FAR
from couplings.calculations.request import Request
from couplings.engineering.tables.coefficients import RELATIVE_U, STARTER_COEFFICIENTS, Coefficient
from couplings.engineering.thermal import Layer, Support

METHODS = {"target": ("cold", "hot"), "survey": ("at_survey", "reference")}
PER_DEGREE = {"1e-6/degC": 1.0, "1e-6/K": 1.0, "1e-6/degF": 1.8}
FEET_AT_MOST, LAYERS_AT_MOST = 4, 10
TALL = (20_000.0, "This is more than 20 m: is the unit right?")
WARM = (1_000.0, "This is more than 1,000 degrees: is the unit right?")
UNSURE = (200.0, "This is more than 200 degrees: is the unit right?")
STRONG = 100.0  # millionths per kelvin: no metal grows so much
# Starter, common practice: a contact thermometer held to a painted leg, and a leg that is not equally warm all over.
STARTER_TEMPERATURE_U_K = 2.0


@dataclass(frozen=True)
class ThermalRequest:
    """Supports of both machines in mm and degC, the coefficients used, and the survey if there is one."""

    method: str
    stationary: tuple[Support, ...]
    movable: tuple[Support, ...]
    coefficients: tuple[Coefficient, ...]
    survey: Direct | None
    starters: frozenset[str]


@dataclass(frozen=True)
class State:
    """What a foot takes over from its machine, and a layer from its foot."""

    coefficient: Coefficient | None = None
    first: float | None = None
    second: float | None = None
    first_by: str = ""
    second_by: str = ""
    first_u: float = STARTER_TEMPERATURE_U_K
    second_u: float = STARTER_TEMPERATURE_U_K


class SupportReader:
    """One request: the table in force, the names of the two temperatures, and what was used.

    `to_reference`: the second temperature is that of a reference state, so it is a definition and exact.
    """

    def __init__(self, names: tuple[str, str], to_reference: bool, table: Sequence[Coefficient]) -> None:
        self.names = names
        self.to_reference = to_reference
        self.table = {row.material: row for row in table}
        self.used: dict[str, Coefficient] = {}
        self.starters: set[str] = set()

    def machine(self, request: Request, key: str) -> tuple[Support, ...]:
        part = request.part(key)
        if part is None:
            return ()
        state = self.state_of_machine(part, State(first_by=key, second_by=key))
        feet = self.feet(part, key, state)
        part.finish()
        return feet

    def state_of_machine(self, part: Request, above: State) -> State:
        """Material, temperatures and their standard uncertainty, as given for the whole machine."""
        state = self.state(part, above)
        u = part.quantity("temperature_standard_uncertainty", "temperature-difference", at_least=0, within=UNSURE)
        if u is None:
            self.starters.add(part.at("temperature_standard_uncertainty"))
            u = STARTER_TEMPERATURE_U_K
        return replace(state, first_u=u, second_u=0.0 if self.to_reference else u)

    def feet(self, part: Request, machine: str, state: State) -> tuple[Support, ...]:
        """Two to four foot planes of a machine, each with what differs from it."""
        rows = list(part.rows("feet", FEET_AT_MOST, "Give two to four foot planes."))
        feet = [self._foot(row, machine, state) for row in rows]
        if len(rows) == 1:
            part.refuse("feet", "Give two to four foot planes.")
        self._apart(rows, feet)
        return _named([foot for foot in feet if foot is not None])

    @staticmethod
    def _apart(rows: Sequence[Request], feet: Sequence[Support | None]) -> None:
        for place, foot in enumerate(feet):
            if foot is None:
                continue
            earlier = [other for other in feet[:place] if other is not None]
            if any(abs(foot.x_mm - other.x_mm) < 1.0 for other in earlier):
                rows[place].refuse("x", "Another foot plane has the same distance: each plane is given once.")
            if foot.name and any(foot.name == other.name for other in earlier):
                rows[place].refuse("name", "Two foot planes have this name.")

    def _foot(self, row: Request, machine: str, state: State) -> Support | None:
        before = len(row.errors)
        name = row.text("name") or ""
        x = row.quantity("x", "size", "Say how far the foot plane is from the coupling's centre.", within=FAR)
        side = 1.0 if machine == "movable" else -1.0
        if x is not None and x * side <= 0:
            where = "positive" if side > 0 else "negative"
            row.refuse("x", f"The {machine} machine's feet lie at {where} distances from the coupling's centre.")
        state = self.state(row, state)
        if row.has("layers"):
            if row.has("height"):
                row.refuse("height", "Give the height, or layers with theirs, not both.")
            layers = [
                self.layer(each, self.state(each, state)) for each in row.rows("layers", LAYERS_AT_MOST, "Give one.")
            ]
        else:
            layers = [self.layer(row, state, finish=False)]
        row.finish()
        if len(row.errors) > before or x is None:
            return None
        return Support(name, x, tuple(layer for layer in layers if layer is not None))

    def layer(self, part: Request, state: State, finish: bool = True, key: str = "height") -> Layer | None:
        """What carries the shaft, of the height that stands under `key`; None after an error."""
        missing = "Give the height from the base to the shaft's centre."
        height = part.quantity(key, "size", missing, at_least=0, within=TALL)
        if state.coefficient is None:
            part.refuse("material", "Give the material, or a coefficient.")
        for name, degrees in zip(self.names, (state.first, state.second), strict=True):
            if degrees is None:
                part.refuse(name, "This temperature is missing, here and for the machine.")
        if finish:
            part.finish()
        if height is None or state.coefficient is None or state.first is None or state.second is None:
            return None
        self.used.setdefault(state.coefficient.material, state.coefficient)
        return Layer(
            height,
            state.coefficient.alpha,
            state.first,
            state.second,
            state.coefficient.alpha_u,
            state.first_u,
            state.second_u,
            state.coefficient.material,
            state.first_by,
            state.second_by,
        )

    def state(self, part: Request, above: State) -> State:
        """Material and temperatures given here in place of those above; an own temperature is an own measurement."""
        coefficient = self._coefficient(part)
        first, second = (part.quantity(name, "temperature", within=WARM) for name in self.names)
        return replace(
            above,
            coefficient=above.coefficient if coefficient is None else coefficient,
            first=above.first if first is None else first,
            second=above.second if second is None else second,
            first_by=above.first_by if first is None else part.path,
            second_by=above.second_by if second is None else part.path,
        )

    def _coefficient(self, part: Request) -> Coefficient | None:
        material = part.choice("material", tuple(self.table))
        own = part.part("coefficient")
        if own is None:
            return self.table[material] if material else None
        if part.has("material"):
            part.refuse("coefficient", "Give a material of the table, or a coefficient of your own, not both.")
        unit = own.choice("unit", tuple(PER_DEGREE), missing=f"Say its unit: {', '.join(PER_DEGREE)}.")
        value, u = own.number("value", "A value is missing."), own.number("standard_uncertainty")
        own.finish()
        per = PER_DEGREE.get(unit or "", 1.0)
        if value is not None and not 0 <= value * per <= STRONG:
            own.refuse("value", "A coefficient lies between 0 and 100 millionths per degree Celsius.")
            return None
        if u is not None and not 0 <= u * per <= STRONG:
            own.refuse("standard_uncertainty", "This lies between 0 and 100 millionths per degree Celsius.")
            return None
        if value is None or unit is None:
            return None
        if u is None:
            self.starters.add(own.at("standard_uncertainty"))
            u = RELATIVE_U * value
        # The same figure is the same material, so its error is shared.
        name = f"{value:g} millionths per {'°F' if per != 1.0 else '°C'}"
        return Coefficient(name, value * per, u * per, "as given", "given")


def _named(feet: Sequence[Support]) -> tuple[Support, ...]:
    """Foot planes without a name get theirs by their distance from the coupling."""
    by_distance = sorted(feet, key=lambda foot: abs(foot.x_mm))
    names = ["inboard", "outboard"] if len(feet) == 2 else [f"plane {place + 1}" for place in range(len(feet))]
    called = {foot.x_mm: name for foot, name in zip(by_distance, names, strict=True)}
    return tuple(foot if foot.name else replace(foot, name=called[foot.x_mm]) for foot in feet)


def read_thermal_growth(
    payload: Mapping[str, Any], table: Sequence[Coefficient] = STARTER_COEFFICIENTS
) -> ThermalRequest:
    """Read the request by a table of coefficients; raises Refused with every error by field path."""
    request = Request(payload)
    method = request.choice("method", tuple(METHODS), "target") or "target"
    reader = SupportReader(METHODS[method], method == "survey", table)
    stationary, movable = reader.machine(request, "stationary"), reader.machine(request, "movable")
    if not request.has("stationary") and not request.has("movable"):
        request.refuse("movable", "Neither machine is given: give the feet of the one that grows.")
    survey = None
    if method == "survey" or request.has("offset") or request.has("angularity"):
        survey = read_direct(request, reader.starters)
    request.finish()
    request.raise_errors()
    return ThermalRequest(method, stationary, movable, tuple(reader.used.values()), survey, frozenset(reader.starters))


def _mm(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "mm"}


def _degc(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "degC"}


EXAMPLE: dict[str, Any] = {
    "method": "target",
    "stationary": {
        "material": "gray iron",
        "cold": _degc(20),
        "hot": _degc(45),
        "feet": [
            {"name": "inboard", "x": _mm(-300), "height": _mm(400)},
            {"name": "outboard", "x": _mm(-800), "height": _mm(400)},
        ],
    },
    "movable": {
        "material": "carbon steel",
        "cold": _degc(20),
        "hot": _degc(35),
        "feet": [
            {"name": "inboard", "x": _mm(250), "height": _mm(315)},
            {"name": "outboard", "x": _mm(700), "height": _mm(315), "hot": _degc(32)},
        ],
    },
}
