"""What is refused about the rows below a data sheet's version, as pure functions over plain values.

Each returns messages by field, empty where nothing stands against it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any

Errors = dict[str, str]
Rows = Sequence[Mapping[str, Any]]
SIDES = {"both": "both sides", "driver": "the driver side", "driven": "the driven side"}


def hub_errors(hubs: Rows) -> Errors:
    """One row for both sides or one for each, and lengths that one hub can have."""
    errors: Errors = {}
    seen: list[str] = []
    for no, hub in enumerate(hubs):
        side = hub.get("side", "both")
        if side in seen:
            errors[f"hubs.{no}.side"] = f"The hub of {SIDES.get(side, side)} has a row already."
        elif (side == "both" and seen) or (side != "both" and "both" in seen):
            errors[f"hubs.{no}.side"] = "Give one row for both sides, or one for each side, not both kinds."
        seen.append(side)
        length, flange, overhang = hub.get("bore_length_mm"), hub.get("flange_mm"), hub.get("overhang_mm")
        if length is None:
            errors[f"hubs.{no}.bore_length_mm"] = "Give the length of this hub's bore."
        elif flange is not None and abs(flange) > 2 * length:
            errors[f"hubs.{no}.flange_mm"] = "This flange plane is far off the hub: look for a slipped decimal."
        elif overhang is not None and overhang >= length:
            errors[f"hubs.{no}.overhang_mm"] = "With this overhang no shaft is left in the bore."
    if set(seen) in ({"driver"}, {"driven"}):
        other = "driven" if "driver" in seen else "driver"
        errors["hubs"] = f"The hub of {SIDES[other]} is missing: give its row too, or one row for both sides."
    return errors


def spacer_errors(spacers: Rows) -> Errors:
    """Named apart, each with its length."""
    errors: Errors = {}
    names: set[str] = set()
    for no, row in enumerate(spacers):
        name = str(row.get("name", "")).strip()
        if not name:
            errors[f"spacers.{no}.name"] = "Name this position, such as “inner holes”."
        elif name in names:
            errors[f"spacers.{no}.name"] = "Another position of this version has this name."
        names.add(name)
        if row.get("length_mm") is None:
            errors[f"spacers.{no}.length_mm"] = "Give the length from flange plane to flange plane."
    return errors


def part_errors(parts: Rows, element_part: str) -> Errors:
    """Numbers told apart, at most one standard, and that one is the element the sheet names."""
    errors: Errors = {}
    numbers: set[str] = set()
    standard = ""
    for no, row in enumerate(parts):
        number = str(row.get("part_number", "")).strip()
        if not number:
            errors[f"element_parts.{no}.part_number"] = "Give the part number."
        elif number in numbers:
            errors[f"element_parts.{no}.part_number"] = "This part number is in the list already."
        numbers.add(number)
        if row.get("standard"):
            if standard:
                errors[f"element_parts.{no}.standard"] = f"{standard} is the standard one already: only one can be."
            standard = standard or number
    if standard and element_part and element_part != standard:
        errors["element_part"] = f"The list of parts has {standard} as the standard one, not {element_part}."
    return errors


def screw_row_errors(screws: Rows) -> Errors:
    """Bands of bores with width, none of a kind overlapping, each with its thread, torque and source."""
    errors: Errors = {}
    bands: dict[str, list[tuple[float, float, int]]] = {}
    for no, row in enumerate(screws):
        over, up_to = row.get("over_bore_mm") or 0.0, row.get("up_to_bore_mm")
        needed: dict[str, tuple[object, str]] = {
            "size": (str(row.get("size", "")).strip(), "Name the screw's thread, such as M10 or 3/8."),
            "torque_nm": (row.get("torque_nm") is not None, "Give the torque of this screw."),
            "source": (str(row.get("source", "")).strip(), "Name the source of this row."),
            "up_to_bore_mm": (up_to is not None, "Say up to which bore this row holds."),
        }
        errors |= {f"screws.{no}.{field}": message for field, (there, message) in needed.items() if not there}
        if up_to is None:
            continue
        if up_to <= over:
            errors[f"screws.{no}.up_to_bore_mm"] = "The band of bores ends below its beginning."
            continue
        of_kind = bands.setdefault(row.get("kind", "set"), [])
        for other_over, other_up_to, other in of_kind:
            if over < other_up_to and other_over < up_to:
                errors[f"screws.{no}.over_bore_mm"] = f"This band of bores overlaps that of row {other + 1}."
                break
        of_kind.append((over, up_to, no))
    return errors


def hold_point_errors(points: Rows, steps: Mapping[str, str]) -> Errors:
    """Each at a step there is, saying what is witnessed and who may; `steps` empty: any key is taken."""
    errors: Errors = {}
    seen: set[tuple[str, str]] = set()
    for no, row in enumerate(points):
        step, what = str(row.get("step", "")), str(row.get("what", "")).strip()
        if steps and step not in steps:
            errors[f"hold_points.{no}.step"] = f"No step of a visit has this key. There are: {', '.join(steps)}."
        if not what:
            errors[f"hold_points.{no}.what"] = "Say what is witnessed."
        elif (step, what) in seen:
            errors[f"hold_points.{no}.what"] = "The same is witnessed in this step already."
        if not row.get("role"):
            errors[f"hold_points.{no}.role"] = "Say whose role may witness it."
        seen.add((step, what))
    return errors


ROW_RULES: dict[str, Callable[[Rows], Errors]] = {
    "hubs": hub_errors,
    "spacers": spacer_errors,
    "screws": screw_row_errors,
}


def change_errors(*, reason: str, change_number: str, from_on: date | None, today: date, before: int) -> Errors:
    """What a change of limits has to say before it can be proposed; `before` is the version it is compared with."""
    errors: Errors = {}
    if not reason.strip():
        errors["reason"] = f"Limits differ from those of version {before}: say why they change."
    if not change_number.strip():
        errors["change_number"] = "Give the number under which your site keeps this change."
    if from_on is None:
        errors["from_on"] = "Say from which day the new limits hold."
    elif from_on < today:
        errors["from_on"] = f"{from_on} is past: new limits judge nothing that was done before."
    return errors


def adoption_refusal(
    *, number: int, published: bool, decision: str, change_number: str, from_on: date | None, today: date
) -> str:
    """Why nothing may be held to a version today; empty where nothing stands against it.

    `decision`, `change_number` and `from_on` are those of the limit change it stands on; decision empty: of none.
    """
    if not published:
        return "This version of the data sheet is not published yet: publish it first."
    if decision == "waiting":
        return f"Limit change {change_number} waits for approval: until then nothing is held to version {number}."
    if decision == "turned-down":
        return f"Limit change {change_number} was turned down: version {number} is not gone by."
    if from_on is not None and today < from_on:
        return f"Limit change {change_number} holds from {from_on}: nothing is held to version {number} before."
    return ""
