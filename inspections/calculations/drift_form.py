"""The form of `drift`: one line per leg, each position as four numbers."""

from __future__ import annotations

from typing import Any

from couplings.calculations.one_form import one_form
from couplings.calculations.plain_form import Row, probability, row
from plant import units

LEGS_SHOWN = 5
_HINT = "Vertical and horizontal offset, then vertical and horizontal angularity, with semicolons: 0.01; 0; 0.02; 0."


def _position(text: str, system: str) -> dict[str, Any]:
    """Four components; x stands for one that was not read."""
    parts = [part.strip() for part in text.split(";")]
    if len(parts) != 4:
        raise units.UnitError("Four numbers are expected, with semicolons between them; x for one not read.")
    made: dict[str, Any] = {"offset": {}, "angularity": {}}
    for k, part in enumerate(parts):
        name, kind = ("offset", "gap") if k < 2 else ("angularity", "slope")
        if part.lower() != "x":
            made[name]["vertical" if k % 2 == 0 else "horizontal"] = units.as_given(part, kind, system)
    return {name: values for name, values in made.items() if values}


def _days(text: str, system: str) -> dict[str, Any]:
    number, unit = units.split(text)
    return {"value": number, "unit": unit or "day"}


def _leg(k: int) -> tuple[Row, ...]:
    group = f"Leg {k + 1}"
    fold = "" if k < 2 else "group"
    return (
        row(f"leg{k}.elapsed", "Days between", "text", f"legs.{k}.elapsed", group=group, read=_days, fold=fold,
            required=k == 0),
        row(f"leg{k}.left", "Left at", "text", f"legs.{k}.left", group=group, read=_position, required=k == 0,
            hint=_HINT if k == 0 else "Blank: nothing was moved since it was found."),
        row(f"leg{k}.found", "Found at", "text", f"legs.{k}.found", group=group, read=_position, required=k == 0),
    )  # fmt: skip


FORM = one_form(
    (
        *(one for k in range(LEGS_SHOWN) for one in _leg(k)),
        row("left", "Left last at", "text", "left", group="Now", read=_position,
            hint="Blank: as the last leg found it."),
        row("u_offset", "Uncertainty of an offset", "gap", "standard_uncertainty.offset", required=True, group="Now"),
        row("u_slope", "Uncertainty of an angularity", "slope", "standard_uncertainty.angularity", required=True,
            group="Now"),
        row("limit_offset", "Limit of the offset", "gap", "limits.offset", required=True, group="Limits"),
        row("limit_slope", "Limit of the angularity", "slope", "limits.angularity", required=True, group="Limits"),
        row("risk", "Chance of being out that is accepted", "text", "risk", group="Limits", read=probability,
            hint="Blank: 2 %."),
        row("shortest", "Shortest interval, days", "text", "shortest", group="Limits", read=_days, hint="Blank: 30."),
        row("longest", "Longest interval, days", "text", "longest", group="Limits", read=_days, hint="Blank: 5 years."),
        row("rate_offset", "Offset: rates differ in a year by", "gap", "group.rate.offset", group="Such couplings",
            fold="group", hint="Standard deviation among couplings. Blank: a weak prior from the limits."),
        row("rate_slope", "Angularity: rates differ in a year by", "slope", "group.rate.angularity",
            group="Such couplings"),
        row("wander_offset", "Offset: wanders in a year by", "gap", "group.wander.offset", group="Such couplings"),
        row("wander_slope", "Angularity: wanders in a year by", "slope", "group.wander.angularity",
            group="Such couplings"),
    )
)  # fmt: skip
