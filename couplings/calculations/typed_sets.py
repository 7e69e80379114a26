"""One set of readings as typed fields, and its readings beside the clock: odd angles, a second dial, shafts turned.

Names below `set0.`, hours being any whole hour 1 to 12:

    12 .3 .6 .9             the reading at that clock position
    more                    at other angles: "45: 0.12; 135: -0.03", degrees clockwise from 12
    opposed12 .. opposed_more   a second face dial half a turn away, read at the same moment, by the first dial's place
    turned12 .. turned_more     taken again with the shafts turned half a turn against the part
    turned_opposed12 ..     both
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any, Protocol

from couplings.engineering.alignment import METHODS, MethodSet
from plant import units

HOURS = (12, *range(1, 12))
FIRST, OPPOSED, TURNED, BOTH = "", "opposed", "turned", "turned_opposed"
MORE = "more"
AGAIN = ", shafts turned half a turn"
READINGS = re.compile(r"set[0-3]\.((turned_)?opposed|turned)?(_?more|1[0-2]|[1-9])")
_PAIR = re.compile(r"(?P<angle>[^:]+):(?P<value>.+)", re.DOTALL)
_HOW = "Write angle and reading, several apart by semicolons, such as 45: 0.12; 135: -0.03."

# flat name -> (path in the request, kind of quantity)
SET_QUANTITIES = {
    "x": ("x", "size"),
    "swing_radius": ("swing_radius", "size"),
    "distance": ("distance", "size"),
    "sag": ("sag", "gap"),
    "sag_u": ("sag_standard_uncertainty", "gap"),
    "u": ("standard_uncertainty", "gap"),
    "return_to_zero": ("return_to_zero", "gap"),
}
SET_WORDS = {"surface": "surface", "carried_by": "carried_by", "bracket": "bracket", "half": "readings_are"}
# Of the sweep itself, not of where the dial sits.
_OF_THE_SWEEP = frozenset({"return_to_zero", "readings", "name"})


class Fields(Protocol):
    """The typed fields, with the errors found so far by name."""

    errors: dict[str, str]

    def word(self, name: str) -> str: ...

    def quantity(self, name: str, kind: str) -> dict[str, Any] | None: ...

    def amount(self, name: str, text: str, kind: str) -> dict[str, Any] | None: ...


def name_of(layer: str, where: str) -> str:
    """The field of a layer of readings: at an hour, or `more`."""
    return f"{layer}_{where}" if layer and where == MORE else f"{layer}{where}"


def pairs(text: str) -> Iterator[tuple[str, str]]:
    """(angle, reading) as typed; ValueError where a part is no such pair."""
    for part in re.split(r"[;\n]", text):
        if not part.strip():
            continue
        found = _PAIR.fullmatch(part.strip())
        if found is None:
            raise ValueError(f"“{part.strip()[:40]}” is not an angle with its reading. {_HOW}")
        yield found["angle"].strip(), found["value"].strip()


def angle_deg(text: str) -> float:
    """Degrees clockwise from 12; ValueError says what is wrong with them."""
    number, unit = units.split(text)
    if unit not in ("", "°", "deg"):
        raise ValueError(f"“{text[:20]}” is not an angle in degrees. {_HOW}")
    if not -360 <= number <= 360:
        raise ValueError("An angle lies between -360 and 360 degrees.")
    return number


def sets_of(number: int, row: MethodSet, either_shaft: bool, fields: Fields) -> list[dict[str, Any]]:
    """The set a method asks for, and behind it the same taken again with the shafts turned, where it was."""
    at = f"set{number}."
    given: dict[str, Any] = {"kind": row.kind, "name": row.label}
    if row.carried_by:
        given["carried_by"] = row.carried_by
    if row.plane:
        given["plane"] = row.plane
    for name, key in SET_WORDS.items():
        if fields.word(at + name) and (name != "carried_by" or either_shaft):
            given[key] = fields.word(at + name)
    for name, (key, kind) in SET_QUANTITIES.items():
        value = fields.quantity(at + name, kind)
        if value is not None:
            given[key] = value
    given["readings"] = _readings(at, FIRST, OPPOSED, fields)
    again = _readings(at, TURNED, BOTH, fields)
    if not again:
        return [given]
    if "sag_standard_uncertainty" in given:
        given.setdefault("bracket", row.label)  # the same bracket both times: one error of its sag, not two
    same = {key: value for key, value in given.items() if key not in _OF_THE_SWEEP}
    return [given, {**same, "name": row.label + AGAIN, "turned": True, "readings": again}]


def _readings(at: str, layer: str, second: str, fields: Fields) -> list[dict[str, Any]]:
    """Readings by the clock, then those at other angles; a second dial's value stands beside the first's."""
    found: list[dict[str, Any]] = []
    for hour in HOURS:
        value = fields.quantity(f"{at}{name_of(layer, str(hour))}", "gap")
        beside = fields.quantity(f"{at}{name_of(second, str(hour))}", "gap")
        if value is not None or beside is not None:
            found.append(_reading({"clock": hour}, value, beside))
    firsts, seconds = _listed(at + name_of(layer, MORE), fields), _listed(at + name_of(second, MORE), fields)
    for angle in dict.fromkeys([angle for angle, _value in (*firsts, *seconds)]):
        values: list[dict[str, Any] | None] = [value for each, value in firsts if each == angle]
        beside = next((value for each, value in seconds if each == angle), None)
        found += [_reading({"angle": angle}, value, beside) for value in values or [None]]
    return found


def _reading(place: dict[str, Any], value: Any, beside: Any) -> dict[str, Any]:
    return place | ({} if value is None else {"value": value}) | ({} if beside is None else {"opposed": beside})


def _listed(name: str, fields: Fields) -> list[tuple[float, dict[str, Any]]]:
    text, found = fields.word(name), []
    try:
        for angle, reading in pairs(text):
            value = fields.amount(name, reading, "gap")
            if value is not None:
                found.append((angle_deg(angle), value))
    except ValueError as error:  # units.UnitError is one
        fields.errors[name] = str(error)
    return found


def base_of(payload: Mapping[str, Any], place: int) -> int:
    """Which set of its method a set of the request belongs to: itself, or that which was taken again."""
    return owner_of(payload["method"], str(payload["reading_sets"][place].get("name", "")), place)


def owner_of(method: str, name: str, place: int) -> int:
    """The same by the name of the set."""
    label = name.removesuffix(AGAIN)
    return next((number for number, row in enumerate(METHODS[method].sets) if row.label == label), place)


def set_field(parts: list[str], given: Mapping[str, Any]) -> str:
    """The field below `set0.` that a path below a set of the request came from."""
    layer, second = (TURNED, BOTH) if given.get("turned") else (FIRST, OPPOSED)
    if not parts or parts[0] in ("readings", "turned"):
        if len(parts) < 2:
            return name_of(layer, "12")
        row = given["readings"][int(parts[1])]
        where = str(row["clock"]) if "clock" in row else MORE
        return name_of(second if parts[2:] == ["opposed"] else layer, where)
    names = {path: name for name, (path, _kind) in SET_QUANTITIES.items()}
    names |= {path: name for name, path in SET_WORDS.items()}
    return names.get(parts[0], "12")


def as_typed(typed: Mapping[str, str], number: int, angle: float, *, turned: bool, opposed: bool = False) -> str:
    """What was typed for one reading of a set, by its angle as the observer named it. [deg]"""
    layer = (BOTH if turned else OPPOSED) if opposed else (TURNED if turned else FIRST)
    at = f"set{number}."
    if abs(angle / 30 - round(angle / 30)) < 1e-9:
        text = typed.get(at + name_of(layer, str(round(angle / 30) % 12 or 12)), "").strip()
        if text:
            return text
    for place, reading in pairs(typed.get(at + name_of(layer, MORE), "")):
        if abs(angle_deg(place) % 360.0 - angle % 360.0) < 1e-6:
            return reading
    return ""
