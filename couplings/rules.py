"""What is refused about couplings, as pure functions over plain values: used one by one and in bulk.

Each returns messages by field, empty where nothing stands against it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from math import isfinite
from typing import Any

from couplings.engineering.fastening import fastening_errors
from couplings.engineering.fits import FitError, band_of
from couplings.engineering.limits import slope_from_degrees, slope_from_gap
from couplings.engineering.tables.iso286 import HOLES, SHAFTS

Errors = dict[str, str]

# What each quantity may be stated as.
STATED_AS: dict[str, tuple[str, ...]] = {
    "offset": ("length",),
    "angularity": ("slope", "degrees", "gap-difference"),
    "flex-angle": ("slope", "degrees", "gap-difference"),
    "axial": ("length",),
}
WAYS = {
    "length": "a length",
    "slope": "a slope",
    "degrees": "an angle in degrees",
    "gap-difference": "a gap difference over a diameter",
}


def stated_errors(limit: Mapping[str, Any]) -> Errors:
    """One limit as its sheet states it: a way its quantity has, a number above zero, a diameter where one is due."""
    quantity, stated_as = limit.get("quantity", ""), limit.get("stated_as", "")
    value, diameter = limit.get("stated_value"), limit.get("over_diameter_mm")
    if quantity not in STATED_AS:
        return {"quantity": f"Name what is limited: {', '.join(STATED_AS)}."}
    if stated_as not in STATED_AS[quantity]:
        ways = " or ".join(WAYS[way] for way in STATED_AS[quantity])
        return {"stated_as": f"A limit on {quantity.replace('-', ' ')} is stated as {ways}."}
    errors: Errors = {}
    if value is None or not isfinite(value) or value <= 0:
        errors["stated_value"] = "Give the limit as a number above zero."
    elif stated_as == "degrees" and value >= 45:
        errors["stated_value"] = "No coupling takes 45 degrees: check the unit of this limit."
    if stated_as == "gap-difference":
        if diameter is None or not isfinite(diameter) or diameter <= 0:
            errors["over_diameter_mm"] = "Say over which diameter the gap difference is taken."
    elif diameter is not None:
        errors["over_diameter_mm"] = "A diameter goes with a gap difference only: leave it out."
    return errors


def judged_value(stated_as: str, stated_value: float, over_diameter_mm: float | None = None) -> float:
    """The number a limit is judged by, from what `stated_errors` found nothing against.

    Parameters
    ----------
    stated_as : {'length', 'slope', 'degrees', 'gap-difference'}
    stated_value : float
        As the sheet states it. [mm for a length or gap difference, mrad for a slope, deg]
    over_diameter_mm : float, optional
        The diameter over which a gap difference is taken: that of the points gapped, not always the hub's. [mm]

    Returns
    -------
    float
        Limit on a magnitude. [mm; mrad (= mm/m) for angles]

    Notes
    -----
    An angle is kept as its slope, 1000 tan(angle). Up to one degree the angle (17.453 mrad) and the slope (17.455)
    differ by 0.01 %, which is why the trade takes mrad, mm/m and thou/inch as one.

    References
    ----------
    Plane geometry: slope = tan(angle); a gap difference g over a diameter D is the slope g / D.
    """
    if stated_as == "degrees":
        return slope_from_degrees(stated_value)
    if stated_as == "gap-difference":
        assert over_diameter_mm is not None
        return slope_from_gap(stated_value, over_diameter_mm)
    return stated_value


def limit_errors(limits: Sequence[Mapping[str, Any]]) -> Errors:
    """Limits of one sheet version: each can be judged by, and no quantity is limited twice."""
    errors: Errors = {}
    seen: dict[str, int] = {}
    for no, limit in enumerate(limits):
        errors |= {f"limits.{no}.{field}": message for field, message in stated_errors(limit).items()}
        quantity = limit.get("quantity", "")
        if quantity in seen:
            errors.setdefault(
                f"limits.{no}.quantity",
                f"{quantity.replace('-', ' ').capitalize()} is limited twice: row {seen[quantity] + 1} has it already.",
            )
        seen.setdefault(quantity, no)
    return errors


def joint_errors(joints: Sequence[Mapping[str, Any]]) -> Errors:
    """Joints of one sheet version: names tell them apart, and whoever forbids a re-check says why."""
    errors: Errors = {}
    names: set[str] = set()
    for no, joint in enumerate(joints):
        name = joint.get("name", "")
        if name in names:
            errors[f"joints.{no}.name"] = "Another joint of this version has this name."
        names.add(name)
        positions = joint.get("positions")
        if not isinstance(positions, int) or not 1 <= positions <= 64:
            errors[f"joints.{no}.positions"] = "A joint has 1 to 64 positions."
        if joint.get("torque_nm") is None:
            errors[f"joints.{no}.torque_nm"] = "Give the torque of this joint."
        if joint.get("recheck") == "not-allowed" and not joint.get("recheck_reason"):
            errors[f"joints.{no}.recheck_reason"] = (
                "Say why it must not be re-checked, such as thread-locking compound or single-use bolts."
            )
        for field, message in fastening_errors(joint).items():
            errors.setdefault(f"joints.{no}.{field}", message)
    return errors


def screw_errors(holding_n: float | None, source: str) -> Errors:
    """A holding power of set screws is believed only with its source."""
    if holding_n is not None and not source.strip():
        return {"set_screw_holding_source": "Say where this holding power is from."}
    if holding_n is None and source.strip():
        return {"set_screw_holding_n": "Give the holding power that this source states, or leave its source out."}
    return {}


def specified_fit_errors(hole: str, shaft: str, bore_mm: float | None) -> Errors:
    """Both classes or neither, each one that the table serves, at a bore that it serves."""
    found: Errors = {}
    if shaft and not hole:
        found["fit_hole"] = "Give the class of the bore as well, or leave the shaft's out."
    elif hole and hole not in HOLES:
        found["fit_hole"] = f"Choose one of: {', '.join(HOLES)}."
    if hole and not shaft:
        found["fit_shaft"] = "Give the class of the shaft as well, or leave the bore's out."
    elif shaft and shaft not in SHAFTS:
        found["fit_shaft"] = f"Choose one of: {', '.join(SHAFTS)}."
    if hole and shaft and bore_mm is not None and not found:
        try:
            band_of(bore_mm)
        except FitError as error:
            found["bore_mm"] = error.message
    return found


def speed_errors(rpm: float | None, lowest_rpm: float | None) -> Errors:
    if rpm is not None and lowest_rpm is not None and lowest_rpm > rpm:
        return {"lowest_rpm": "The lowest speed lies above the highest: exchange the two."}
    return {}


def place_errors(train_id: int, driver: Any, driven: Any) -> Errors:
    """A coupling joins two neighbouring machines of its train, the driver side at the lower position."""
    errors: Errors = {}
    for field, machine in (("driver_machine", driver), ("driven_machine", driven)):
        if machine.train_id != train_id:
            errors[field] = "This machine stands in another train."
    if not errors and driven.position != driver.position + 1:
        errors["driven_machine"] = (
            "A coupling joins two neighbours: the driven side is the next position after the driver side "
            f"(driver side is {driver.position}, this is {driven.position})."
        )
    return errors


def fit_errors(
    *, fitted_on: date, today: date, last_removed_on: date | None, retired_on: date | None, published: bool
) -> Errors:
    """What stands against putting a coupling into its place on a day."""
    errors: Errors = {}
    if not published:
        errors["sheet_version"] = "This version of the data sheet is not published yet: publish it first."
    if retired_on is not None:
        errors["coupling"] = f"This coupling was retired on {retired_on}: nothing can be fitted here any more."
    if fitted_on > today:
        errors["fitted_on"] = f"{fitted_on} is still to come: a fit is recorded once it has happened."
    elif last_removed_on is not None and fitted_on < last_removed_on:
        errors["fitted_on"] = f"Another fit was here until {last_removed_on}."
    return errors


def fit_removal_errors(
    *,
    fitted_on: date,
    removed_on: date,
    today: date,
    last_element_on: date | None,
    last_hub_on: date | None = None,
) -> Errors:
    if removed_on > today:
        return {"removed_on": f"{removed_on} is still to come: a removal is recorded once it has happened."}
    if removed_on < fitted_on:
        return {"removed_on": f"It was fitted on {fitted_on}: it cannot have been removed before."}
    if last_element_on is not None and removed_on < last_element_on:
        return {"removed_on": f"An element was fitted in it on {last_element_on}: it cannot have been removed before."}
    if last_hub_on is not None and removed_on < last_hub_on:
        return {"removed_on": f"A hub half came into it on {last_hub_on}: it cannot have been removed before."}
    return {}


def element_removal_errors(*, fitted_on: date, removed_on: date, today: date, removal_reason: str) -> Errors:
    """What stands against taking an element out and leaving the place empty."""
    errors: Errors = {}
    if removed_on > today:
        errors["removed_on"] = f"{removed_on} is still to come: a removal is recorded once it has happened."
    elif removed_on < fitted_on:
        errors["removed_on"] = f"It was fitted on {fitted_on}: it cannot have been taken out before."
    if not removal_reason.strip():
        errors["removal_reason"] = "Say why it was taken out: its life is learned from it."
    return errors


def movement_errors(*, kind: str, number: int, count: int, on: date, today: date, note: str) -> Errors:
    """What stands against a movement of a lot; `number` is how many moved, or of a correction how many were counted."""
    errors: Errors = {}
    if on > today:
        errors["on"] = f"{on} is still to come: a movement is recorded once it has happened."
    if kind == "correction":
        if number < 0:
            errors["number"] = "Enter how many were counted, nought or more."
        elif number == count:
            errors["number"] = f"{count} is what the record says already: nothing needs correcting."
        if not note.strip():
            errors["note"] = "Say what was counted and why it differs."
        return errors
    if number < 1:
        errors["number"] = "At least one moves."
    elif kind in ("issue", "scrapped") and number > count:
        errors["number"] = f"{number} of {count} in store cannot be taken: count the lot, and enter a correction first."
    if kind == "scrapped" and not note.strip():
        errors["note"] = "Say why they were scrapped."
    return errors


def calibration_errors(*, on: date, due_on: date | None, today: date, result: str) -> Errors:
    """What stands against one certificate of an instrument."""
    errors: Errors = {}
    if on > today:
        errors["on"] = f"{on} is still to come: a calibration is entered from its certificate."
    if due_on is not None and due_on <= on:
        errors["due_on"] = f"It would run out on {due_on}, not later than the day it was done."
    if result == "refused" and due_on is not None:
        errors["due_on"] = "What must not be used has no next date: leave it out."
    return errors


def element_errors(
    *,
    cured_on: date | None,
    fitted_on: date,
    today: date,
    fit_fitted_on: date,
    fit_removed_on: date | None,
    present_fitted_on: date | None,
    removal_reason: str,
) -> Errors:
    """What stands against fitting an element on a day; `present_fitted_on` is that of the element still in place."""
    errors: Errors = {}
    if fit_removed_on is not None:
        errors["fit"] = f"This fit was removed on {fit_removed_on}."
    if cured_on is not None and cured_on > fitted_on:
        errors["cured_on"] = f"The cure date {cured_on} lies after the day it was fitted, {fitted_on}."
    if fitted_on > today:
        errors["fitted_on"] = f"{fitted_on} is still to come: an element is recorded once it is fitted."
    elif fitted_on < fit_fitted_on:
        errors["fitted_on"] = f"The coupling it goes into was fitted on {fit_fitted_on}, later than this."
    elif present_fitted_on is not None and fitted_on < present_fitted_on:
        errors["fitted_on"] = f"The element in place was fitted on {present_fitted_on}, later than this."
    if present_fitted_on is not None and not removal_reason.strip():
        errors["removal_reason"] = "Say why the element in place was taken out: its life is learned from it."
    return errors


def band_errors(rows: Sequence[Mapping[str, Any]]) -> Errors:
    """Rows of one grade: each band has width, limits something, names its source, and none of a kind overlap."""
    errors: Errors = {}
    bands: dict[str, list[tuple[float, float, int]]] = {}
    for no, row in enumerate(rows):
        over, up_to = row.get("over_rpm") or 0.0, row.get("up_to_rpm")
        if up_to is None:
            errors[f"rows.{no}.up_to_rpm"] = "Say up to which speed this row holds."
            continue
        if up_to <= over:
            errors[f"rows.{no}.up_to_rpm"] = "The band ends below its beginning."
            continue
        if not str(row.get("source", "")).strip():
            errors[f"rows.{no}.source"] = "Name the source of this row."
        if all(row.get(name) is None for name in ("offset_mm", "angularity_mrad", "flex_angle_mrad")):
            errors[f"rows.{no}.offset_mm"] = "Give at least one limit in this row."
        of_kind = bands.setdefault(row.get("kind", "short"), [])
        for other_over, other_up_to, other in of_kind:
            if over < other_up_to and other_over < up_to:
                errors[f"rows.{no}.over_rpm"] = f"This band overlaps that of row {other + 1}."
                break
        of_kind.append((over, up_to, no))
    return errors
