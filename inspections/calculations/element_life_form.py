"""The form of `element-life`: many lives in one line each way they ended, such as "9100; 3 x 12000"."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from couplings.calculations.plain_form import Row, Variant, form_of, plain_number, probability, row
from inspections.calculations.lines import Line, numbers
from plant import units
from plant.calculations import Form

UNITS = (("hour", "hours"), ("day", "days"))
LINES = {
    "failed": ("failed", "Failed in service at"),
    "found": ("found-failed", "Found failed by a look at"),
    "removed": ("removed", "Removed for another reason at"),
    "running": ("running", "Still running at"),
}
_HINT = "Ages with semicolons between them; 3 x 12000 stands for three."
_LOOK = "12000-16000: last seen sound at 12000, found failed at 16000."

ROWS: tuple[Row, ...] = (
    row("failed", LINES["failed"][1], "text", "failed", group="Lives", hint=_HINT),
    row("found", LINES["found"][1], "text", "found", group="Lives", hint=_LOOK),
    row("removed", LINES["removed"][1], "text", "removed", group="Lives",
        hint="They might have run on: 8000; 2 x 9500."),
    row("running", LINES["running"][1], "text", "running", group="Lives",
        hint="26000 from 9000: its record began at 9000."),
    row("unit", "Ages are in", "choice", "unit", group="Lives", choices=UNITS),
    row("confidence", "Confidence of the limits", "text", "confidence", group="Asked", read=probability,
        hint="Blank: 90 %."),
    row("family_shape", "Shape of the family", "count", "family_shape", group="Asked", read=plain_number,
        hint="Helps where few have failed; needed where none has."),
)  # fmt: skip
_PLAIN = form_of({"": Variant("", ROWS)})


def _row(line: Line, ended: str, unit: str) -> dict[str, Any]:
    """One life of a line as the request has it."""
    made: dict[str, Any] = {"ended": ended, "age": {"value": line.last, "unit": unit}}
    if line.count != 1:
        made["count"] = line.count
    if line.first is not None:
        made["sound_at"] = {"value": line.first, "unit": unit}
    if line.entry is not None:
        made["entry"] = {"value": line.entry, "unit": unit}
    return made


def _payload(_variant: str, typed: Mapping[str, str], system: str) -> tuple[dict[str, Any], dict[str, str]]:
    made, errors = _PLAIN.payload("", typed, system)
    unit = "day" if made.pop("unit", "hour") == "day" else "hour"
    found: list[dict[str, Any]] = []
    for name, (ended, _title) in LINES.items():
        try:
            found += [_row(line, ended, unit) for line in numbers(str(made.pop(name, "")), spans=name == "found")]
        except units.UnitError as error:
            errors[name] = str(error)
    if found:
        made["lives"] = found
    del made["method"]
    return made, errors


def _field_of(path: str, given: Mapping[str, Any]) -> str:
    """A row of `lives` came from the line of its ending."""
    head, _, rest = path.partition(".")
    if head != "lives":
        return head if head in ("confidence", "family_shape") else ""
    number = rest.partition(".")[0]
    rows = given.get("lives")
    if isinstance(rows, list) and number.isdigit() and int(number) < len(rows):
        ended = rows[int(number)].get("ended")
        return next((name for name, (one, _) in LINES.items() if one == ended), "failed")
    return "failed"


FORM = Form(
    variants=lambda: (), fields=lambda _variant: _PLAIN.fields(""), payload=_payload, field_of=_field_of
)  # fmt: skip
