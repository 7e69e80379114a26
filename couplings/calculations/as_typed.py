"""An `alignment` request as the flat fields of a visit step: the way back from typed.py, unit and number as they came.

Only what those fields can hold is taken; everything else is refused by its path, so that nothing is lost unsaid.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from couplings.calculations.typed import _COMPONENTS, FEET_AT_MOST, carrier_is_open
from couplings.calculations.typed_sets import (
    BOTH,
    FIRST,
    MORE,
    OPPOSED,
    SET_QUANTITIES,
    SET_WORDS,
    TURNED,
    name_of,
)
from couplings.engineering.alignment import METHODS
from plant import units
from plant.refusals import Refused

_FLAT_OF_SET = {path: name for name, (path, _kind) in SET_QUANTITIES.items()}
_WORD_OF_SET = {path: name for name, path in SET_WORDS.items()} | {"instrument": "instrument"}
_NOT_KEPT = "A visit does not keep this: leave it out."
_OBJECT = "An object is expected here."


class _Flat:
    """The flat fields so far and the errors by path."""

    def __init__(self) -> None:
        self.typed: dict[str, str] = {}
        self.errors: dict[str, str] = {}

    def quantity(self, name: str, given: Any, path: str) -> None:
        try:
            self.typed[name] = text_of(given)
        except units.UnitError as error:
            self.errors[path] = str(error)

    def word(self, name: str, given: Any, path: str) -> None:
        if isinstance(given, str):
            self.typed[name] = given
        else:
            self.errors[path] = "Text is expected here."


def text_of(given: Any) -> str:
    """A quantity as somebody would have typed it: `{"value": 12, "unit": "mil"}` is "12 mil"."""
    if not isinstance(given, Mapping) or set(given) != {"value", "unit"} or not isinstance(given["unit"], str):
        raise units.UnitError('Write a quantity with its unit, such as {"value": 0.05, "unit": "mm"}.')
    number, unit = units.number(given["value"]), given["unit"].strip()
    text = f"{given['value']!r} {unit}"
    if not unit or units.split(text) != (number, unit):
        raise units.UnitError(f"“{given['unit'][:20]}” is not a unit known here.")
    return text


def typed_from_request(given: Mapping[str, Any]) -> dict[str, str]:
    """The flat fields of a request; raises Refused with every path that they cannot hold."""
    flat = _Flat()
    method = given.get("method")
    if method not in METHODS:
        raise Refused({"method": f"Choose one of: {', '.join(METHODS)}."})
    for key, value in given.items():
        if key in ("method", "viewed_from"):
            flat.word(key, value, key)
        elif key == "reading_sets" and method != "direct":
            _sets(flat, str(method), value)
        elif key == "feet":
            _feet(flat, value)
        elif key == "flex_planes":
            _planes(flat, value)
        elif key in ("offset", "angularity", "flex_angles") and method == "direct":
            _components(flat, key, value)
        else:
            flat.errors[key] = _NOT_KEPT
    if flat.errors:
        raise Refused(flat.errors)
    return flat.typed


def _sets(flat: _Flat, method: str, given: Any) -> None:
    first, again = (dict(enumerate(METHODS[method].sets)) for _ in range(2))
    taken: dict[int, Mapping[str, Any]] = {}
    for place, row in enumerate(given if isinstance(given, list) else [None]):
        path = f"reading_sets.{place}"
        if not isinstance(row, Mapping):
            flat.errors[path] = _OBJECT
            continue
        if not isinstance(row.get("turned", False), bool):
            flat.errors[f"{path}.turned"] = "Say true or false."
            continue
        free = again if row.get("turned") else first
        fitting = [n for n, one in free.items() if _fits(method, one, row)]
        # Both sets of double-radial are of one kind: taken again, a set goes with the one it says the same as.
        number = next((n for n in fitting if n in taken and _part(taken[n]) == _part(row)), next(iter(fitting), None))
        if number is None:
            flat.errors[path] = f"The method {method} has no further set like this: see kind, carried_by and plane."
            continue
        if not row.get("turned"):
            taken[number] = row
        _set(flat, number, row, path, carrier_is_open(method, free.pop(number)))


def _part(row: Mapping[str, Any]) -> dict[str, Any]:
    """What is swept and with what, of a set: all but what it was read for."""
    return {name: value for name, value in row.items() if name not in ("readings", "turned", "return_to_zero")}


def _fits(method: str, one: Any, row: Mapping[str, Any]) -> bool:
    if one.kind != row.get("kind") or (one.plane is not None and one.plane != row.get("plane")):
        return False
    if one.kind == "rim" and row.get("carried_by") is None:
        return False  # who carries the dial turns the sign over, so it is never taken as usual
    return one.carried_by is None or carrier_is_open(method, one) or one.carried_by == row.get("carried_by")


def _set(flat: _Flat, number: int, row: Mapping[str, Any], path: str, either_shaft: bool) -> None:
    turned = bool(row.get("turned"))
    for key, value in row.items():
        name, at = f"set{number}.", f"{path}.{key}"
        before = flat.typed.get(name + str(_FLAT_OF_SET.get(key) or _WORD_OF_SET.get(key)))
        if key in _FLAT_OF_SET:
            flat.quantity(name + _FLAT_OF_SET[key], value, at)
            _same(flat, name + _FLAT_OF_SET[key], before, at)
        elif key == "readings":
            _readings(flat, name, value, at, (TURNED, BOTH) if turned else (FIRST, OPPOSED))
        elif key == "carried_by" and not either_shaft:
            continue  # said by the set's place
        elif key in _WORD_OF_SET:
            flat.word(name + _WORD_OF_SET[key], value, at)
            _same(flat, name + _WORD_OF_SET[key], before, at)
        elif key not in ("kind", "plane", "turned"):
            flat.errors[at] = _NOT_KEPT


def _same(flat: _Flat, name: str, before: str | None, path: str) -> None:
    """What is taken again with the shafts turned is the same part, read with the same dial."""
    if before is not None and flat.typed.get(name) != before:
        flat.errors[path] = f"The set with the shafts as they first stood says “{before[:40]}”: say the same in both."


def _readings(flat: _Flat, name: str, given: Any, path: str, layers: tuple[str, str]) -> None:
    listed: dict[str, list[tuple[float, str]]] = {}
    for place, row in enumerate(given if isinstance(given, list) else [None]):
        at = f"{path}.{place}"
        known = isinstance(row, Mapping) and set(row) <= {"clock", "angle", "value", "opposed"}
        angle = _angle(row) if known else None
        if angle is None:
            flat.errors[at] = "Give a value with its clock position, 0 to 12, or its angle, -360 to 360."
            continue
        hour = int(angle / 30) % 12 or 12 if angle % 30 == 0 else None
        for key, layer in zip(("value", "opposed"), layers, strict=True):
            if key == "opposed" and key not in row:
                continue
            if hour is None:
                field = name + name_of(layer, MORE)
                try:
                    listed.setdefault(field, []).append((angle, text_of(row.get(key))))
                except units.UnitError as error:
                    flat.errors[f"{at}.{key}"] = str(error)
            elif (field := name + name_of(layer, str(hour))) in flat.typed:
                flat.errors[at] = "This position is there twice."
            else:
                flat.quantity(field, row.get(key), f"{at}.{key}")
    for field, pairs in listed.items():
        flat.typed[field] = "; ".join(f"{angle!r}: {text}" for angle, text in pairs)


def _angle(row: Mapping[str, Any]) -> float | None:
    """Degrees clockwise from 12, as they came."""
    if ("clock" in row) == ("angle" in row):
        return None
    given = row.get("clock", row.get("angle"))
    if isinstance(given, bool) or not isinstance(given, int | float):
        return None
    if "clock" in row:
        return given * 30 if 0 <= given <= 12 else None
    return given if -360 <= given <= 360 else None


def _feet(flat: _Flat, given: Any) -> None:
    rows = given if isinstance(given, list) else [None]
    if len(rows) > FEET_AT_MOST:
        flat.errors["feet"] = "A visit keeps up to four foot planes; leave them out to use those of the register."
        return
    for place, row in enumerate(rows):
        if not isinstance(row, Mapping) or set(row) != {"name", "x"}:
            flat.errors[f"feet.{place}"] = "Give name and x."
            continue
        flat.word(f"feet{place}.name", row["name"], f"feet.{place}.name")
        flat.quantity(f"feet{place}.x", row["x"], f"feet.{place}.x")


def _planes(flat: _Flat, given: Any) -> None:
    if not isinstance(given, list) or len(given) != 2:
        flat.errors["flex_planes"] = "Two positions are expected: flex plane A on the stationary side, then B."
        return
    for place, name in enumerate(("flex_a", "flex_b")):
        flat.quantity(name, given[place], f"flex_planes.{place}")


def _components(flat: _Flat, key: str, given: Any) -> None:
    """Offset and angularity, or the two flex angles, each component with its standard uncertainty."""
    rows = dict(enumerate(given)) if isinstance(given, list) else {"": given}
    names = {path: name for name, (path, _kind) in _COMPONENTS.items()}
    for place, row in rows.items():
        at = f"{key}.{place}" if place != "" else key
        if not isinstance(row, Mapping):
            flat.errors[at] = _OBJECT
            continue
        for plane, component in row.items():
            path = f"{at}.{plane}"
            if path not in names or not isinstance(component, Mapping):
                flat.errors[path] = _NOT_KEPT if path not in names else _OBJECT
                continue
            value = {name: part for name, part in component.items() if name != "standard_uncertainty"}
            flat.quantity(names[path], value, path)
            if "standard_uncertainty" in component:
                flat.quantity(f"{names[path]}_u", component["standard_uncertainty"], f"{path}.standard_uncertainty")
