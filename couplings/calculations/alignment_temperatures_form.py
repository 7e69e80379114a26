"""The rows of a page for `temperatures` of an alignment; a visit has its own, and takes heights from the register."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from couplings.calculations.plain_form import Row, Variant, form_of, row
from couplings.calculations.thermal_form import MATERIALS, coefficient
from couplings.calculations.typed import field_of
from plant.calculations import FormField

PART, GROUP = "temperatures", "Temperatures of the supports"


def _machine(machine: str) -> tuple[Row, ...]:
    at, label = f"{PART}.{machine}", f"{machine.capitalize()} machine"
    return (
        row(f"support_{machine}", f"{label}: its supports at", "temperature", f"{at}.temperature", group=GROUP),
        row(f"support_{machine}_height", f"{label}: base to shaft centre", "size", f"{at}.support_height", group=GROUP),
    )


_ROWS = (
    *_machine("stationary"),
    *_machine("movable"),
    row("support_reference", "Correct to the temperature", "temperature", f"{PART}.reference", group=GROUP,
        hint="All of this group together corrects the survey; left blank, it stays as it was read."),
    row("support_material", "Material of the supports", "choice", f"{PART}.material", group=GROUP, choices=MATERIALS),
    row("support_coefficient", "or a coefficient of your own", "text", f"{PART}.coefficient", group=GROUP,
        hint="Millionths per degree, such as 11.4 /K or 6.3 /°F.", read=coefficient),
)  # fmt: skip
_FORM = form_of({PART: Variant("", _ROWS)})


def temperature_rows() -> list[FormField]:
    """The fields, after those of the method."""
    return [each.field for each in _ROWS]


def typed_temperatures(typed: Mapping[str, str], system: str) -> tuple[dict[str, Any] | None, dict[str, str]]:
    """What was typed as the part of the request, None where nothing was, and errors by field."""
    payload, errors = _FORM.payload(PART, typed, system)
    return payload.get(PART), errors


def page_field_of(path: str, payload: Mapping[str, Any]) -> str:
    """The field a path of the request came from, those of the temperatures too."""
    parts = path.split(".")
    if parts[0] != PART:
        return field_of(path, payload)
    # What the form has once for both machines is asked for by the reader at the machine that lacks it.
    return _FORM.field_of(path, payload) or _FORM.field_of(f"{PART}.{parts[-1]}", payload)
