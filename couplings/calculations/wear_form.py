"""The rows of the `wear` form: the codes of one family, then what may be measured."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from couplings.calculations.plain_form import Row, Variant, form_of, plain_number, row
from couplings.calculations.wear_request import families, starter_codes
from couplings.engineering.hardness import SCALES
from couplings.engineering.lubrication import GREASE_STATES
from couplings.engineering.tables.elastomers import STORAGE_POLICIES
from couplings.engineering.wear import WearCode, codes_of
from plant import units
from plant.calculations import Form

SEEN = "What was seen"
HARDNESS, ELEMENT, CHAIN = "Hardness of the element", "Age of the element", "Chain"
WORN, OIL = "Wear by subtraction", "Lubricant"
POLICIES = {"iso-2230": "ISO 2230", "mil-hdbk-695e": "MIL-HDBK-695E"}


def whole_number(text: str, system: str) -> int:
    """A count or a grade."""
    number = plain_number(text, system)
    if number != int(number):
        raise units.UnitError("A whole number is expected here.")
    return int(number)


def several_numbers(text: str, system: str) -> list[float]:
    """Readings with spaces or semicolons between them."""
    return [plain_number(one, system) for one in re.split(r"[;\s]+", text) if one]


def yes(text: str, _system: str) -> bool:
    """A choice of yes or no."""
    return text == "yes"


def _seen(code: WearCode) -> list[Row]:
    at = f"observations.code={code.code}"
    grades = tuple((str(grade), f"{grade}: {words}") for grade, words in enumerate(code.grades) if words)
    # A count and no choice: a grade alone is an answer, which the page of a calculation does not take a choice for.
    rows = [
        row(
            f"{code.code}.grade",
            code.title,
            "count",
            f"{at}.grade",
            group=SEEN,
            choices=(("", "not looked at"), *grades),
            read=whole_number,
        )
    ]
    if code.number:
        rows += [
            row(f"{code.code}.value", code.number.capitalize(), code.kind, f"{at}.value", group=SEEN),
            row(
                f"{code.code}.limit",
                f"{code.number.capitalize()}: limit of the data sheet",
                code.kind,
                f"{at}.limit",
                group=SEEN,
            ),
        ]
    return rows


_HARDNESS = (
    row("scale", "Shore scale", "choice", "hardness.scale", group=HARDNESS, choices=tuple((s, s) for s in SCALES)),
    row("first", "Its first readings", "text", "hardness.first", group=HARDNESS, read=several_numbers,
        hint="Five, with spaces between them: the median counts (ISO 48-4)."),
    row("now", "Readings now", "text", "hardness.now", group=HARDNESS, read=several_numbers),
    row("hardness_limit", "Largest change, points", "text", "hardness.limit", group=HARDNESS, read=plain_number,
        hint="From the data sheet."),
)  # fmt: skip
_ELEMENT = (
    row("polymer", "Polymer", "text", "element.polymer", group=ELEMENT, hint="By its letters, such as NBR."),
    row("cured_on", "Cured on", "text", "element.cured_on", group=ELEMENT, hint="As 2020-05-31."),
    row("age_on", "Asked about the day", "text", "element.on", group=ELEMENT),
    row("policy", "Storage policy", "choice", "element.policy", group=ELEMENT,
        choices=tuple((name, POLICIES.get(name, name)) for name in STORAGE_POLICIES)),
)  # fmt: skip
_CHAIN = (
    row("pitch", "Pitch", "size", "chain.pitch", group=CHAIN),
    row("links", "Links measured over", "text", "chain.links", group=CHAIN, read=whole_number),
    row("chain_length", "Length measured, pulled tight", "size", "chain.measured", group=CHAIN),
    row("teeth", "Teeth of the larger sprocket", "text", "chain.teeth", group=CHAIN, read=whole_number),
    row("fixed_centres", "Centres fixed", "choice", "chain.fixed_centres", group=CHAIN,
        choices=(("yes", "yes"), ("no", "no")), read=yes),
)  # fmt: skip
_WORN = (
    row("worn_new", "Size when new", "size", "wear.new", group=WORN),
    row("worn_now", "Size now", "size", "wear.now", group=WORN),
    row("worn_limit", "Worn out at", "size", "wear.limit", group=WORN, hint="From the data sheet."),
    row("worn_hours", "Run since new", "hours", "wear.hours", group=WORN),
)
_OIL = (
    row("oil", "Name", "text", "lubricant.name", group=OIL),
    row("oil_g", "Quantity of one fill, g", "text", "lubricant.quantity_g", group=OIL, read=plain_number),
    row("filled_on", "Last filled on", "text", "lubricant.filled_on", group=OIL, hint="As 2025-05-31."),
    row("oil_on", "Asked about the day", "text", "lubricant.on", group=OIL),
    row("every_months", "Filled every, months", "text", "lubricant.every_months", group=OIL, read=plain_number),
    row("every_hours", "or every, running hours", "hours", "lubricant.every_hours", group=OIL),
    row("hours_since", "Run since the last fill", "hours", "lubricant.hours_since", group=OIL),
    row("grease_state", "State of the old grease", "choice", "lubricant.grease_state", group=OIL,
        choices=tuple((state.code, state.title) for state in GREASE_STATES)),
)  # fmt: skip


def _rows(family: str, codes: Sequence[WearCode]) -> tuple[Row, ...]:
    rows = [each for code in codes_of(family, codes) for each in _seen(code)]
    if families()[family]["ages"]:
        rows += [*_HARDNESS, *_ELEMENT]
    if family == "chain":
        rows += _CHAIN
    rows += _WORN
    if family in ("gear", "grid", "chain"):
        rows += _OIL
    return tuple(rows)


def form_in(codes: Sequence[WearCode]) -> Form:
    """The form in these words: the program's, or those of a site."""
    plain = form_of({code: Variant(family["name"], _rows(code, codes)) for code, family in families().items()})

    def payload(family: str, typed: Mapping[str, str], system: str) -> tuple[dict[str, Any], dict[str, str]]:
        # The request names its family; the plain form calls what is asked for a method.
        made, errors = plain.payload(family, typed, system)
        del made["method"]
        return {"family": family, **made}, errors

    def field_of(path: str, given: Mapping[str, Any]) -> str:
        return plain.field_of(path, {**given, "method": given.get("family")})

    return Form(variants=plain.variants, fields=plain.fields, payload=payload, field_of=field_of, asks="Family")


FORM = form_in(starter_codes())
