"""Readings as a clock face shows them: the sag taken out, signed so that plus means the shaft stands there."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from couplings.calculations.typed import payload_from_typed
from couplings.engineering.alignment import METHODS
from plant import units

# Kinds whose reading grows where the movable shaft stands lower; see the reading equations in engineering/alignment.
TURNED = frozenset({"gap"})


def rings(method: str, typed: Mapping[str, str], system: str) -> dict[str, dict[float, float]]:
    """For each set of a method, what was read so far.

    Returns
    -------
    dict of "set0", "set1", .. to {angle: reading}
        Angle in degrees clockwise from 12, as it was typed; reading less its sag, plus where the movable shaft stands
        higher (rim, step) or its slope rises (face, gap). Places that cannot be read are left out. [deg], [mm]
    """
    payload, _errors = payload_from_typed(method, typed, system)
    found = {}
    own = METHODS[method].sets if method in METHODS else ()
    for number, one in enumerate(payload.get("reading_sets", [])[: len(own)]):
        sag_mm = units.parse(one["sag"], "gap") if "sag" in one else 0.0
        turned = one["kind"] in TURNED or (one["kind"] == "rim" and one.get("carried_by") == "movable")
        turned ^= one.get("surface") == "far"
        sign = -1.0 if turned else 1.0
        found[f"set{number}"] = {
            (angle := _angle_deg(reading)): sign
            * (units.parse(reading["value"], "gap") - sag_mm * (1 - math.cos(math.radians(angle))) / 2)
            for reading in one["readings"]
            if "value" in reading
        }
    return found


def _angle_deg(reading: Mapping[str, Any]) -> float:
    return float(reading["clock"] % 12) * 30 if "clock" in reading else float(reading["angle"]) % 360.0
