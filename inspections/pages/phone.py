"""What a survey's page hands its script, so that the phone works a round out by itself while no server answers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from couplings.calculations import payload_from_typed
from couplings.calculations.dials import dial_pictures
from couplings.calculations.on_the_phone import phone_data
from couplings.engineering.alignment import METHODS, Misalignment, from_record
from couplings.selectors import instruments_at
from inspections.models import Entry, Visit
from inspections.selectors.visits import read_entry, with_axial
from inspections.steps import STEPS
from inspections.steps.alignment import DIALS
from inspections.steps.judging import Judged, Yardstick, yardstick_for
from inspections.steps.temperatures import correct
from inspections.steps.upright import upright
from plant import units

SIDES = ("driver", "driven")
NOTHING = Misalignment.of([0.0] * 4, [[0.0] * 4] * 4)


def survey_data(
    person: Any, visit: Visit, step: str, number: int, typed: Mapping[str, str], judged: Judged | None
) -> dict[str, Any]:
    """Sets, units, flex planes, feet, targets, limits and rule of one survey, each machine standing still."""
    method, site, compass = typed.get("method", ""), visit.site, upright(visit.coupling)
    data = phone_data(method, site.units)
    by = judged.yardstick if judged is not None else _yardstick(visit, step)
    for row in data["sets"]:
        if row["kind"] in DIALS:
            row["u"] = site.reading_u_mm
    data["units"]["temperature"] = units.for_script("temperature", site.units)
    data["units"]["instruments"] = {
        str(one.uuid): one.standard_u_mm for one in instruments_at(person, site) if one.standard_u_mm is not None
    }
    return data | {
        "asks": False,
        "closure_limit": by.closure_limit_mm,
        "planes": by.flex_planes_mm,
        "feet": by.feet,
        "targets": {
            side: from_record(Misalignment.of(by.target, NOTHING.covariance), side, compass=compass).mean
            for side in SIDES
        },
        "judged": _judged_by(by),
        "growth": None if compass else _growth(by),
        "compass": compass,
        "before": _before(visit, step, number, method),
    }


def _yardstick(visit: Visit, step: str) -> Yardstick:
    by = yardstick_for(visit.coupling, visit.sheet_version)
    return with_axial(by, visit, read_entry(visit, "placement").values) if step == "as-left" else by


def pictures(method: str, typed: Mapping[str, str]) -> dict[str, list[Any]]:
    """Where each dial of a method sits."""
    return dial_pictures(method, typed) if method in METHODS else {}


def _judged_by(by: Yardstick) -> dict[str, Any]:
    return {
        "limits": [
            {"quantity": one.quantity, "value": one.value, "family": one.family, "source": one.source}
            for one in by.limits.limits
            if one.quantity != "axial" or by.axial_counts
        ],
        "rule": by.limits.rule,
        "combined": by.limits.combined,
        "axial": by.axial[0] if by.axial else None,
    }


def _growth(by: Yardstick) -> dict[str, Any] | None:
    """Offset [mm] and slope [mrad] that one kelvin of either side's supports adds, as each working frame has it."""
    if by.ground is None or by.ground.missing:
        return None
    reference = by.ground.reference_degc
    found: dict[str, Any] = {"reference": reference}
    per_kelvin = {
        side: correct(NOTHING, by.ground, *[reference - (1.0 if one == side else 0.0) for one in SIDES])[1].added
        for side in SIDES
    }
    for stationary in SIDES:
        found[stationary] = {}
        for side, added in per_kelvin.items():
            if added is None:
                return None
            mean = from_record(added, stationary).mean
            found[stationary][side] = [mean[0], mean[2]]
    return found


def _before(visit: Visit, step: str, number: int, method: str) -> dict[str, list[float]]:
    """Readings of the survey before this one, if it was taken by the same method. [mm]"""
    earlier: list[Entry] = [
        one
        for one in visit.entries.all()
        if STEPS[one.step].surveys and (one.step, one.number) != (step, number) and one.typed.get("method") == method
    ]
    if not earlier or method not in METHODS:
        return {}
    last = max(earlier, key=lambda one: one.at)
    payload, _errors = payload_from_typed(method, last.typed, visit.site.units)
    return {
        f"set{place}": [units.parse(reading["value"], "gap") for reading in row["readings"] if "value" in reading]
        for place, row in enumerate(payload.get("reading_sets", [])[: len(METHODS[method].sets)])
    }
