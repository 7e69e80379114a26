"""`key`: the key of a shaft by its standard, the depths of its keyseats, and whether it carries the torque.

method     din-6885, asme-b17-1 (shape square or rectangular), own-size (width, height)
shaft      diameter
length, ends (round, one round, square), keys (1 or 2)
torque     with material, or allowed_bearing and allowed_shear
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from couplings.calculations.alignment_sets import FAR, WIDE
from couplings.calculations.figures import fine
from couplings.calculations.plain_form import Variant, form_of, plain_number, row
from couplings.calculations.request import Request
from couplings.engineering.keys import KeyseatDepths, KeyStockError, inch_key, keyseat_depths, metric_key
from couplings.engineering.keystress import (
    ENDS,
    KeyStress,
    StressLine,
    bearing_range,
    judged_stress,
    key_stress,
    key_warnings,
    length_needed_mm,
    working_length_mm,
)
from couplings.engineering.tables.keys import BEARING_RANGES, INCH_MM
from plant import units
from plant.calculations import Calculation
from plant.refusals import Refused

METHODS = ("din-6885", "asme-b17-1", "own-size")
SHAPES = ("square", "rectangular")
MATERIALS = tuple(one.material for one in BEARING_RANGES)
ORDER = ("out of tolerance", "too close to call", "in tolerance")
TORQUE_AT_MOST = (1e8, "This is more than 100 000 000 N*m: is the unit right?")


@dataclass(frozen=True)
class KeyRequest:
    """[mm], [N*m], [MPa]"""

    method: str
    shaft_mm: float
    shape: str = "square"
    width_mm: float | None = None
    height_mm: float | None = None
    length_mm: float | None = None
    ends: str = "round"
    keys: int = 1
    torque_nm: float | None = None
    material: str | None = None
    allowed_bearing_mpa: float | None = None
    allowed_shear_mpa: float | None = None


@dataclass(frozen=True)
class KeySize:
    """Width and height, keyway depths where the standard gives them, keyseat depths by the inch way. [mm]"""

    width_mm: float
    height_mm: float
    printed: str
    source: str
    shaft_depth_mm: float | None = None
    hub_depth_mm: float | None = None
    seats: KeyseatDepths | None = None


@dataclass(frozen=True)
class KeyResult:
    """[mm], [MPa]"""

    request: KeyRequest
    size: KeySize
    stress: KeyStress | None = None
    lines: tuple[StressLine, ...] = ()
    needed_mm: float | None = None
    warnings: tuple[str, ...] = field(default=())

    @property
    def verdict(self) -> str:
        found = [line.verdict for line in self.lines]
        return min(found, key=ORDER.index) if found else "not known"

    @property
    def reason(self) -> str:
        if self.stress is None:
            return "The size alone: give torque and length to see what the key carries."
        if not self.lines:
            return "Nothing says what is allowed: choose the weakest material, or give an allowed stress."
        if self.verdict == "too close to call":
            return "Within the published range: the low end is for shock, the high end for a steady load."
        return ""


def read_key(payload: Mapping[str, Any]) -> KeyRequest:
    """Read the request; raises Refused with every error by field path."""
    request = Request(payload)
    method = request.choice("method", METHODS, missing=f"Say by which table: {', '.join(METHODS)}.")
    shaft = request.quantity("shaft", "size", "The shaft's diameter is missing.", above=0, within=WIDE)
    shape = request.choice("shape", SHAPES, "square") or "square"
    own = method == "own-size"
    width, height = (
        request.quantity(name, "size", f"The key's {name} is missing." if own else "", above=0, within=WIDE)
        for name in ("width", "height")
    )
    if not own:
        for name in ("width", "height"):
            if request.has(name):
                request.refuse(name, "The table gives this; the method own-size takes it.")
    torque = request.quantity("torque", "torque", above=0, within=TORQUE_AT_MOST)
    length = request.quantity(
        "length", "size", "Torque needs the key's length." if torque is not None else "", above=0, within=FAR
    )
    ends = request.choice("ends", ENDS, "round") or "round"
    keys = request.number("keys")
    if keys is not None and keys not in (1, 2):
        request.refuse("keys", "One or two keys are computed.")
    material = request.choice("material", MATERIALS)
    bearing = request.quantity("allowed_bearing", "pressure", above=0)
    shear = request.quantity("allowed_shear", "pressure", above=0)
    request.finish()
    request.raise_errors()
    assert method is not None  # refused above
    assert shaft is not None
    return KeyRequest(
        method, shaft, shape, width, height, length, ends, int(keys or 1), torque, material, bearing, shear
    )


def compute_key(request: KeyRequest) -> KeyResult:
    """Find the size, then the stresses where a torque was given."""
    try:
        size = _size(request)
        warnings = list(key_warnings(request.length_mm or 0.0, request.shaft_mm, request.keys))
        if request.length_mm is None:
            return KeyResult(request, size, warnings=tuple(warnings))
        working = working_length_mm(request.length_mm, size.width_mm, request.ends)
        if request.torque_nm is None:
            return KeyResult(request, size, warnings=tuple(warnings))
        stress = key_stress(request.torque_nm, request.shaft_mm, size.width_mm, size.height_mm, working, request.keys)
        lines = _lines(request, stress)
        if lines and request.allowed_shear_mpa is None:
            warnings.append("Shear is not judged: no public range for it was found, so give what is allowed.")
        needed = None
        bearing = next((line.low_mpa for line in lines if line.name == "bearing"), None)
        if bearing is not None:
            needed = length_needed_mm(
                request.torque_nm, request.shaft_mm, size.width_mm, size.height_mm, bearing,
                request.allowed_shear_mpa, request.keys,
            )  # fmt: skip
    except KeyStockError as error:
        raise Refused({error.field: error.message}) from error
    return KeyResult(request, size, stress, lines, needed, tuple(warnings))


def _size(request: KeyRequest) -> KeySize:
    if request.method == "din-6885":
        found = metric_key(request.shaft_mm)
        printed = f"{found.width_mm:g} × {found.height_mm:g} mm"
        return KeySize(found.width_mm, found.height_mm, printed, found.source, found.shaft_depth_mm, found.hub_depth_mm)
    if request.method == "asme-b17-1":
        key = inch_key(request.shaft_mm / INCH_MM)
        height = key.height_mm(request.shape)
        if height is None:
            raise KeyStockError("shape", "The table has no rectangular key for this shaft.")
        other = key.square if request.shape == "square" else key.rectangle
        seats = keyseat_depths(request.shaft_mm, key.width_mm, height)
        return KeySize(key.width_mm, height, f"{key.square} × {other} inch", key.source, seats=seats)
    assert request.width_mm is not None  # the reader asked for both
    assert request.height_mm is not None
    seats = keyseat_depths(request.shaft_mm, request.width_mm, request.height_mm, 0.0)
    return KeySize(request.width_mm, request.height_mm, "as given", "as given", seats=seats)


def _lines(request: KeyRequest, stress: KeyStress) -> tuple[StressLine, ...]:
    lines = []
    if request.allowed_bearing_mpa is not None:
        allowed = request.allowed_bearing_mpa
        lines.append(judged_stress("bearing", stress.bearing_mpa, allowed, allowed, "as given"))
    elif request.material is not None:
        spread = bearing_range(request.material)
        lines.append(judged_stress("bearing", stress.bearing_mpa, spread.low_mpa, spread.high_mpa, spread.source))
    if request.allowed_shear_mpa is not None:
        allowed = request.allowed_shear_mpa
        lines.append(judged_stress("shear", stress.shear_mpa, allowed, allowed, "as given"))
    return tuple(lines)


def answer_key(result: KeyResult, system: str) -> dict[str, Any]:
    """The answer in the units asked for."""
    size, stress = result.size, result.stress

    def length(value: float | None) -> dict[str, Any] | None:
        return units.quantity(value, "size", system)

    return {
        "method": result.request.method,
        "size": {
            "width": length(size.width_mm),
            "height": length(size.height_mm),
            "printed": size.printed,
            "keyway_in_shaft": length(size.shaft_depth_mm),
            "keyway_in_hub": length(size.hub_depth_mm),
            "over_shaft": length(size.seats.shaft_mm if size.seats else None),
            "over_bore": length(size.seats.hub_mm if size.seats else None),
            "source": size.source,
        },
        "working_length": length(stress.working_length_mm if stress else None),
        "counted_keys": stress.counted_keys if stress else None,
        "shear_stress": units.quantity(stress.shear_mpa if stress else None, "pressure", system),
        "bearing_stress": units.quantity(stress.bearing_mpa if stress else None, "pressure", system),
        "needed_working_length": length(result.needed_mm),
        "limits": [
            {
                "quantity": line.name,
                "value": units.quantity(line.value_mpa, "pressure", system),
                "low": units.quantity(line.low_mpa, "pressure", system),
                "high": units.quantity(line.high_mpa, "pressure", system),
                "verdict": line.verdict,
                "source": line.source,
            }
            for line in result.lines
        ],
        "verdict": result.verdict,
        "reason": result.reason,
        "warnings": list(result.warnings),
    }


def drawn(result: KeyResult, system: str) -> dict[str, Any]:
    """Rows of figures for the page."""
    size, stress = result.size, result.stress
    rows = [("Key", size.printed), ("Width", fine(size.width_mm, "size", system))]
    rows.append(("Height", fine(size.height_mm, "size", system)))
    for label, value in (
        ("Keyway in the shaft, t1", size.shaft_depth_mm),
        ("Keyway in the hub, t2", size.hub_depth_mm),
        ("Across shaft and keyseat, S", size.seats.shaft_mm if size.seats else None),
        ("Across bore and keyseat, T", size.seats.hub_mm if size.seats else None),
    ):
        if value is not None:
            rows.append((label, fine(value, "size", system)))
    carried = []
    if stress is not None:
        carried.append(("Length that bears", fine(stress.working_length_mm, "size", system)))
        carried.append(("Shear in the key", units.written(stress.shear_mpa, "pressure", system)))
        carried.append(("Bearing on its side", units.written(stress.bearing_mpa, "pressure", system)))
    if result.needed_mm is not None:
        carried.append(("Length needed at the low end", fine(result.needed_mm, "size", system)))
    judged = [
        (
            line.name.capitalize(),
            " to ".join(units.written(end, "pressure", system) for end in dict.fromkeys((line.low_mpa, line.high_mpa))),
            line.verdict,
            line.source,
        )
        for line in result.lines
    ]
    return {"size_rows": rows, "carried": carried, "judged": judged}


_CARRIES = "What it carries"
_LOAD = (
    row("length", "Length of the key", "size", group=_CARRIES),
    row("ends", "Its ends", "choice", group=_CARRIES,
        choices=(("round", "both round"), ("one round", "one round"), ("square", "square"))),
    row("keys", "How many keys, 1 or 2", "text", group=_CARRIES, read=plain_number, hint="Two count as 1.5."),
    row("torque", "Torque, with its service factor", "torque", group=_CARRIES),
    row("material", "Weakest of key, shaft and hub", "choice", group=_CARRIES,
        choices=tuple((name, name) for name in MATERIALS)),
    row("allowed_bearing", "or bearing stress allowed", "pressure", group=_CARRIES),
    row("allowed_shear", "Shear stress allowed", "pressure", group=_CARRIES),
)  # fmt: skip
_SHAFT = row("shaft", "Shaft diameter", "size", required=True)
_FORM = form_of(
    {
        "din-6885": Variant("DIN 6885-1, metric", (_SHAFT, *_LOAD)),
        "asme-b17-1": Variant(
            "ASME B17.1, inch",
            (_SHAFT, row("shape", "Key", "choice", choices=tuple((name, name) for name in SHAPES)), *_LOAD),
        ),
        "own-size": Variant(
            "the key's own size",
            (
                _SHAFT,
                row("width", "Width", "size", required=True),
                row("height", "Height", "size", required=True),
                *_LOAD,
            ),
        ),
    }
)

KEY = Calculation(
    name="key",
    title="Key",
    summary="The key of a shaft by its standard, the depths of its keyseats, and whether it carries the torque.",
    reader=read_key,
    function=compute_key,
    writer=answer_key,
    template="couplings/calculations/key.html",
    form=replace(_FORM, asks="Sized by"),
    drawn=drawn,
    # Jiang, Analysis and Design of Machine Elements, Example 4.1 a, pp. 95-96: 40.6 MPa where 80 are allowed.
    example={
        "method": "din-6885",
        "shaft": {"value": 80, "unit": "mm"},
        "length": {"value": 110, "unit": "mm"},
        "ends": "round",
        "torque": {"value": 1000, "unit": "N*m"},
        "allowed_bearing": {"value": 80, "unit": "MPa"},
    },
)
