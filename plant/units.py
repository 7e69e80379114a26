"""The one place that knows pint: quantities come in here with any unit of the trade, and leave in the site's own.

Inside, every number is a float in one base unit per kind (mm, mrad, N*m, degC, rpm, kW, N, MPa, hour, day, deg, ratio).
A *kind* says what is measured and so which units fit, which unit is shown, and to how many decimals. pint takes 20 to
160 microseconds per conversion, so it is asked once per unit: after that a conversion is one multiplication.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from functools import cache
from typing import Any

import pint

from plant.unit_rows import KIND_ROWS, UNIT_ROWS, Kind, Unit

METRIC = "metric"
US = "us"
SYSTEMS = (METRIC, US)
LARGEST = 1e12  # nothing in this trade is larger; beyond it a slip of the keyboard is certain
LONGEST_TEXT = 60
NO_BREAK_SPACE = "\u00a0"
MINUS = "\u2212"


class UnitError(ValueError):
    """A quantity that cannot be taken as it was given; the message is for the person who typed it."""


UNITS: dict[str, Unit] = {unit.name: unit for unit in UNIT_ROWS}
KINDS: dict[str, Kind] = {kind.name: kind for kind in KIND_ROWS}

_EXACT = {word: unit.name for unit in UNIT_ROWS for word in (unit.name, *unit.spellings)}
_TYPED = {word.casefold(): name for word, name in _EXACT.items()}
_SIGNS = str.maketrans(dict.fromkeys("\u2212\u2010\u2011\u2012\u2013\ufe63\uff0d", "-"))
_MARKS = str.maketrans({"·": "*", "⋅": "*", "×": "*", "°": "deg", "µ": "u", "μ": "u", "²": "2", "⁄": "/", "″": '"'})
_NUMBER_FIRST = re.compile(r"[+-]?\s*[\d.,'’\s]*(?:[eE][+-]?\d+)?")
_PLAIN = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?")
_SPACED_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(?: \d{3})+(?:[.,]\d*)?")
_COMMA_OR_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")


def parse(given: object, kind: str, system: str | None = None) -> float:
    """Take a quantity as it was given and return it in the base unit of its kind.

    Parameters
    ----------
    given : dict or str or float
        `{"value": 0.05, "unit": "mm"}`; and, only with a system, text as a person types it ("2 mil", "0,05 mm",
        "0.05") or a bare number, which is then in the unit shown beside the field.
    kind : str
        One of KINDS.
    system : str, optional
        "metric" or "us"; None for programs, which must name the unit.

    Raises
    ------
    UnitError
        Missing, not a finite number, no unit where one is due, an unknown unit, a wrong dimension.
    """
    rule = _kind(kind)
    value, unit = _taken(given, rule, system)
    base = _to_base(value, unit, rule)
    if kind == "temperature" and base < -273.15:
        raise UnitError("A temperature cannot be below absolute zero.")
    return base


def as_given(text: object, kind: str, system: str) -> dict[str, Any]:
    """Typed text as a quantity in the unit that was typed, or in the unit beside the field: the reading as taken."""
    value, unit = _taken(text, _kind(kind), system)
    return {"value": value, "unit": unit.name}


def number(given: object) -> float:
    """A finite number of a size that can be meant, or a UnitError that says what is wrong with it."""
    if isinstance(given, bool) or not isinstance(given, int | float):
        raise UnitError("The value must be a number.")
    if isinstance(given, float) and math.isnan(given):
        raise UnitError("The value is not a number (NaN).")
    if abs(given) == math.inf:
        raise UnitError("The value is infinite.")
    if abs(given) > LARGEST:
        raise UnitError("The value is larger than anything that can be meant.")
    return float(given)


def split(text: str) -> tuple[float, str]:
    """Typed text as number and unit word: "−0,05 mm" gives (-0.05, "mm"), "12" gives (12.0, "")."""
    if len(text) > LONGEST_TEXT:
        raise UnitError("This is too long to be a number with its unit.")
    cleaned = " ".join(text.translate(_SIGNS).split())
    match = _NUMBER_FIRST.match(cleaned)
    digits = match.group().strip() if match else ""
    unit = cleaned[len(match.group()) :].strip() if match else cleaned
    if not any(character.isdigit() for character in digits):
        raise UnitError(f"“{text.strip()}” is not a number.")
    if unit.startswith("/"):
        raise UnitError(f"Write “{text.strip()}” as a decimal number, 0.5 for a half.")
    if digits[0] in "+-":
        digits = digits[0] + digits[1:].lstrip()
    if _SPACED_THOUSANDS.fullmatch(digits):
        digits = digits.replace(" ", "")
    elif _COMMA_OR_THOUSANDS.fullmatch(digits):
        one, thousand = digits.replace(",", "."), digits.replace(",", "")
        raise UnitError(f"“{digits}” could be {one} or {thousand}: write one of them, without thousands separators.")
    if not _PLAIN.fullmatch(digits):
        raise UnitError(f"“{digits}” is not one clear number: leave out thousands separators, use one decimal mark.")
    return number(float(digits.replace(",", "."))), unit


def quantity(base: float | None, kind: str, system: str) -> dict[str, Any] | None:
    """The answer to a program: value and unit of the system; None for what is not known (None or NaN)."""
    shown = _shown(base, kind, system)
    if shown is None:
        return None
    return {"value": without_dust(shown), "unit": unit_of(kind, system)}


def without_dust(number: float) -> float:
    """Twelve digits, in all and after the point: far below any instrument, and without what binary fractions leave."""
    return round(float(f"{number:.12g}"), 12) + 0.0


def written(base: float | None, kind: str, system: str, signed: bool = False, decimals: int | None = None) -> str:
    """The quantity for people: fixed decimals per kind and system, a real minus sign, a space that does not break."""
    shown = _shown(base, kind, system)
    if shown is None:
        return "not known"
    unit = UNITS[unit_of(kind, system)]
    text = figures(shown, kind, system, signed, decimals)
    return text + unit.printed if unit.name == "deg" else text + NO_BREAK_SPACE + unit.printed


def figures(shown: float, kind: str, system: str, signed: bool = False, decimals: int | None = None) -> str:
    """The digits alone of a number that is already in the shown unit; what rounds to zero carries no sign."""
    places = decimals if decimals is not None else _display(kind, system)[1]
    text = f"{abs(shown):.{places}f}"
    if not any(digit in "123456789" for digit in text):
        return text
    return MINUS + text if shown < 0 else ("+" + text if signed else text)


def unit_of(kind: str, system: str) -> str:
    """The unit in which a kind is shown and in which a bare typed number is taken."""
    return _display(kind, system)[0]


def label_of(kind: str, system: str) -> str:
    """The same unit as people read it beside a field: N·m, °C, thou."""
    return UNITS[unit_of(kind, system)].printed


def units_for(kind: str) -> list[str]:
    """Every unit a person or program may use for this kind."""
    return [unit.name for unit in UNIT_ROWS if unit.what in _kind(kind).takes]


def display_units(system: str) -> list[tuple[str, str, str]]:
    """(kind, unit, label) of everything a system shows, for settings and documentation pages."""
    return [(kind.name, unit_of(kind.name, system), label_of(kind.name, system)) for kind in KIND_ROWS]


def for_script(kind: str, system: str) -> dict[str, Any]:
    """A kind for a page's script: unit of a bare number, its label and decimals, what every word is worth in the base.

    A word is there as written and in small letters, as phones may have it; "tan" marks an angle whose tangent counts,
    two numbers a scale with a zero of its own.
    """
    rule = _kind(kind)
    words: dict[str, float | str | list[float]] = {}
    for spelling in {*_EXACT, *_TYPED}:
        unit = UNITS[_EXACT.get(spelling) or _TYPED[spelling]]
        if unit.what in rule.takes:
            tangent = unit.what != rule.takes[0] and rule.name == "slope"
            factor, offset = (0.0, 0.0) if tangent else _scale(unit.name, rule.base)
            words[spelling] = "tan" if tangent else [factor, offset] if offset else factor
    name, decimals = _display(kind, system)
    return {"unit": name, "label": label_of(kind, system), "decimals": decimals, "words": dict(sorted(words.items()))}


def in_unit(base: float, kind: str, unit: str) -> float:
    """A base value in any named unit of its kind: for drawings and files whose header names the unit."""
    named, rule = _unit_named(unit, _kind(kind)), _kind(kind)
    if named.what != rule.takes[0] and rule.name == "slope":
        return math.degrees(math.atan(base / 1000))
    if named.what != rule.takes[0] and rule.name == "angle":
        return 1000 * math.tan(math.radians(base))
    factor, offset = _scale(named.name, rule.base)
    return (base - offset) / factor


def _to_base(value: float, unit: Unit, rule: Kind) -> float:
    """A slope given as an angle is its tangent, and the other way round; everything else is a factor."""
    if unit.what != rule.takes[0] and rule.name == "slope":
        if abs(value) >= 90:
            raise UnitError("A slope is an angle of less than 90 degrees.")
        return 1000 * math.tan(math.radians(value))
    if unit.what != rule.takes[0] and rule.name == "angle":
        return math.degrees(math.atan(_scale(unit.name, "mrad")[0] * value / 1000))
    factor, offset = _scale(unit.name, rule.base)
    return value * factor + offset


def _taken(given: object, rule: Kind, system: str | None) -> tuple[float, Unit]:
    if given is None or (isinstance(given, str) and not given.strip()):
        raise UnitError("A value is missing.")
    if isinstance(given, bool):
        raise UnitError("True and false are not a number.")
    if isinstance(given, dict):
        return _from_dict(given, rule)
    if system is None:
        raise UnitError(f'A number needs its unit: write {{"value": 0.05, "unit": "{rule.metric[0]}"}}.')
    if isinstance(given, str):
        value, word = split(given)
        return value, _unit_named(word, rule, typed=True) if word else UNITS[unit_of(rule.name, system)]
    if isinstance(given, int | float):
        return number(given), UNITS[unit_of(rule.name, system)]
    raise UnitError("This is not a quantity.")


def _shown(base: float | None, kind: str, system: str) -> float | None:
    if base is None or math.isnan(base):
        return None
    return in_unit(base, kind, unit_of(kind, system))


def _from_dict(given: dict[Any, Any], rule: Kind) -> tuple[float, Unit]:
    unknown = [str(key) for key in given if key not in ("value", "unit")]
    if unknown:
        raise UnitError(f"A quantity has value and unit; {', '.join(unknown)} is not known.")
    if given.get("value") is None or given.get("value") == "":
        raise UnitError("A value is missing.")
    value = number(given["value"])
    unit = given.get("unit")
    if unit is None or unit == "":
        raise UnitError(f"A number needs its unit: expected {rule.words}.")
    if not isinstance(unit, str):
        raise UnitError(f"The unit must be text: expected {rule.words}.")
    return value, _unit_named(unit, rule)


def _unit_named(word: str, rule: Kind, typed: bool = False) -> Unit:
    """The unit behind a word, if it fits the kind. Typed words may have any case, since phones capitalise."""
    name = _EXACT.get(word) or _respelled(word, typed)
    if name is None:
        raise UnitError(f"The unit “{word[:30]}” is not known: expected {rule.words}.")
    unit = UNITS[name]
    if typed and unit.what == "temperature" and rule.name == "temperature-difference":
        return UNITS["delta_" + unit.name]
    if unit.what not in rule.takes:
        raise UnitError(f"Expected {rule.words}; {_what_it_is(unit, rule)}.")
    return unit


def _respelled(word: str, typed: bool) -> str | None:
    plain = re.sub(r"(?<=[a-zA-Z])\s*[ .\-]\s*(?=[a-zA-Z])", "*", word.translate(_MARKS).strip())
    plain = re.sub(r"\s+", "", plain)
    return _EXACT.get(plain) or (_TYPED.get(plain.casefold()) if typed else None)


def _what_it_is(unit: Unit, rule: Kind) -> str:
    if unit.name in ("mil", "thou") and "angle" in rule.takes:
        return f"{unit.name} is a thousandth of an inch, a length and never an angle"
    if unit.what == "energy" and "torque" in rule.takes:
        return f"{unit.name} is a unit of energy, and a torque is not an energy"
    return f"{unit.name} is a unit of {unit.what}"


def _kind(kind: str) -> Kind:
    try:
        return KINDS[kind]
    except KeyError:
        raise LookupError(f"no kind of quantity is called {kind!r}") from None


def _display(kind: str, system: str) -> tuple[str, int]:
    if system not in SYSTEMS:
        raise LookupError(f"no system of units is called {system!r}")
    return _kind(kind).us if system == US else _kind(kind).metric


@cache
def _registry() -> pint.UnitRegistry[Any]:
    """pint with exact fractions, so that 1 thou is 0.0254 mm and not 0.025399999999999996."""
    return pint.UnitRegistry(non_int_type=Fraction)


@cache
def _scale(unit: str, base: str) -> tuple[float, float]:
    """base = unit * factor + offset; the offset is only ever that of a temperature scale."""
    source, target = UNITS[unit].pint, UNITS[base].pint
    registry = _registry()
    if UNITS[unit].what == "temperature":
        zero = registry.Quantity(Fraction(0), source).to(target).magnitude
        hundred = registry.Quantity(Fraction(100), source).to(target).magnitude
        return float((hundred - zero) / 100), float(zero)
    # mm/m and mrad are both dimensionless to pint, and both mean a slope here.
    return float(registry.Quantity(Fraction(1), source).to(target).magnitude), 0.0
