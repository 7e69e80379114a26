"""The method `end-float` of `run-out`: what the coupling leaves of a rotor's axial float, and the gap to set now.

rotor_end_float, coupling_end_float
gap_running with rotor_from_centre, how far the rotor stands from its magnetic centre towards the coupling
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from couplings.calculations.alignment_sets import WIDE
from couplings.calculations.plain_form import Variant, row
from couplings.calculations.request import Request
from couplings.engineering.endfloat import EndFloatError, float_left_mm, gap_to_set_mm
from plant import units

FLOATS, GAPS = ("rotor_end_float", "coupling_end_float"), ("gap_running", "rotor_from_centre")


@dataclass(frozen=True)
class FloatRequest:
    """[mm]"""

    rotor_mm: float | None
    coupling_mm: float | None
    gap_running_mm: float | None
    from_centre_mm: float | None


@dataclass(frozen=True)
class FloatResult:
    """None where it was not asked. [mm]"""

    left_each_side_mm: float | None
    gap_to_set_mm: float | None

    @property
    def rotor_can_touch(self) -> bool | None:
        """Whether the coupling lets the rotor run against its bearing."""
        return None if self.left_each_side_mm is None else self.left_each_side_mm <= 0


def read_float(request: Request) -> FloatRequest:
    """Read both halves, either of which may be left out."""
    floats, gaps = (any([request.has(key) for key in pair]) for pair in (FLOATS, GAPS))  # asked of every key
    if not floats and not gaps:
        request.refuse("rotor_end_float", "Give both end floats, or the running gap with the rotor's distance.")
    of_float, of_gap = ("A value is missing." if wanted else "" for wanted in (floats, gaps))
    rotor, coupling = (request.quantity(key, "gap", of_float, at_least=0, within=WIDE) for key in FLOATS)
    gap = request.quantity(GAPS[0], "gap", of_gap, at_least=0, within=WIDE)
    from_centre = request.quantity(GAPS[1], "gap", of_gap, within=WIDE)
    if gap is not None and from_centre is not None:
        try:
            gap_to_set_mm(gap, from_centre)
        except EndFloatError as error:
            request.refuse(error.field, error.message)
    request.finish()
    request.raise_errors()
    return FloatRequest(rotor, coupling, gap, from_centre)


def compute_float(request: FloatRequest) -> FloatResult:
    """What is left, and what to set."""
    left = gap = None
    if request.rotor_mm is not None and request.coupling_mm is not None:
        left = float_left_mm(request.rotor_mm, request.coupling_mm)
    if request.gap_running_mm is not None and request.from_centre_mm is not None:
        gap = gap_to_set_mm(request.gap_running_mm, request.from_centre_mm)
    return FloatResult(left, gap)


def answer_float(result: FloatResult, system: str) -> dict[str, Any]:
    """The answer in the units asked for; null for what was not asked."""
    return {
        "method": "end-float",
        "left_each_side": units.quantity(result.left_each_side_mm, "gap", system),
        "rotor_can_touch": result.rotor_can_touch,
        "gap_to_set": units.quantity(result.gap_to_set_mm, "gap", system),
    }


VARIANTS = {
    "end-float": Variant(
        "end float of a sleeve-bearing motor",
        (
            row("rotor_end_float", "Rotor, in all", "gap", group="End float"),
            row("coupling_end_float", "Coupling, in all", "gap", group="End float"),
            row("gap_running", "Gap wanted with the rotor at its magnetic centre", "gap", group="Gap to set"),
            row("rotor_from_centre", "Rotor from there, towards the coupling", "gap", group="Gap to set"),
        ),
    )
}
