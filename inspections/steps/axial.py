"""The gap as it was measured at up to four positions, and as it is with the rotor in place: cold, and as it runs.

The gap in place is the mean gap and how far the rotor stands from its place towards the coupling; as it runs, less what
both shafts grow towards each other. Nominal is the distance between shaft ends of the data sheet, between the hubs'
faces less both overhangs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from couplings.engineering.endfloat import float_left_mm
from couplings.engineering.limits import gap_in_place
from inspections.models import Visit
from inspections.steps.registry import Found, Place
from inspections.steps.typed import Reading
from inspections.steps.upright import POINTS, upright
from plant import units
from plant.calculations import FormField

HOURS = (12, 3, 6, 9)
BETWEEN = (("shaft-ends", "the shaft ends"), ("hub-faces", "the hubs' faces"))
GROUP = "Gap round the coupling, and the rotor"
# Feeler or rule between the shaft ends once; feeler or inside micrometer at positions round it. Common practice.
DBSE_U_MM, GAP_U_MM = 0.1, 0.02


@dataclass(frozen=True)
class Axial:
    """The gap of one coupling; what was not measured is empty. [mm]

    `deviation_mm` is what the axial limit is held against, as it runs where the growth is known, else cold: positive is
    too wide. None where the data sheet has no nominal.
    """

    gaps: tuple[tuple[str, str, float], ...] = ()
    between: str = ""
    rotor_from_place_mm: float | None = None
    float_mm: float | None = None
    growth_mm: float | None = None
    in_place_mm: float | None = None
    hot_mm: float | None = None
    nominal_mm: float | None = None
    u_mm: float = DBSE_U_MM

    @property
    def told(self) -> bool:
        """Whether more was measured than the distance between shaft ends with the rotor in place."""
        return bool(self.gaps) or self.rotor_from_place_mm is not None or self.growth_mm is not None

    @property
    def deviation_mm(self) -> float | None:
        if self.in_place_mm is None or self.nominal_mm is None:
            return None
        return (self.in_place_mm if self.hot_mm is None else self.hot_mm) - self.nominal_mm


def positions(visit: Visit) -> dict[int, str]:
    """What the four places round the coupling are called there."""
    return POINTS if upright(visit.coupling) else {hour: f"{hour} o'clock" for hour in HOURS}


def axial_fields(visit: Visit) -> list[FormField]:
    """The rows below those of the placement, all of them optional."""
    return [
        FormField("gap_between", "Gaps measured between", "choice", group=GROUP, choices=BETWEEN),
        *(FormField(f"gap{hour}", f"Gap at {words}", "size", group=GROUP) for hour, words in positions(visit).items()),
        FormField(
            "rotor_from_place",
            "Rotor from its proper place, towards the coupling",
            "gap",
            group=GROUP,
            hint="How far it stands from its magnetic centre or thrust face now; − is away from the coupling.",
        ),
        FormField("rotor_float", "Total float of the rotor", "gap", group=GROUP),
        FormField(
            "axial_growth",
            "Both shafts grow towards each other when hot",
            "gap",
            group=GROUP,
            hint="Where it is known; the gap is then judged as it runs.",
        ),
    ]


def read_axial(reading: Reading, dbse_mm: float | None, overhangs_mm: float | None) -> Axial | None:
    """The axial part of a placement; None where something is wrong with it. `overhangs_mm`: of both hubs together."""
    place, version = reading.place, reading.place.version
    before = len(reading.read.errors)
    gaps = _gaps(reading, place)
    between = reading.choice("gap_between", BETWEEN)
    if gaps:
        reading.want("gap_between", "Say between what the gaps were measured.")
    elif between:
        reading.read.missing.setdefault("gap12", "The gaps themselves are not there yet.")
    from_place = reading.quantity("rotor_from_place", "gap", -500, 500)
    total = reading.quantity("rotor_float", "gap", 0, 500)
    growth = reading.quantity("axial_growth", "gap", -50, 50)
    if from_place is not None and total is not None and abs(from_place) > total + 1e-9:
        reading.refuse("rotor_from_place", "The rotor cannot stand further from its place than its whole float.")
    nominal = version.dbse_mm
    if between == "hub-faces" and nominal is not None:
        if overhangs_mm is None:
            nominal = None
            reading.warn("The nominal gap between the hubs' faces follows from both engagements: enter them.")
        else:
            nominal -= overhangs_mm
    if len(reading.read.errors) > before or (not gaps and dbse_mm is None):
        return None
    measured, u_mm = ([mm for _at, _typed, mm in gaps], GAP_U_MM) if gaps else ([dbse_mm or 0.0], DBSE_U_MM)
    in_place, u_mm = gap_in_place(measured, from_place or 0.0, u_mm=u_mm)
    hot = None if growth is None else in_place - growth
    found = Axial(gaps, between, from_place, total, growth, in_place, hot, nominal, u_mm)
    if found.told:
        _say(reading, found)
    _float(reading, found)
    return found


def _gaps(reading: Reading, place: Place) -> tuple[tuple[str, str, float], ...]:
    found = []
    for hour, words in positions(place.visit).items():
        value = reading.quantity(f"gap{hour}", "size", 0, 20_000)
        if value is not None:
            found.append((words, reading.given(f"gap{hour}")[:40], value))
    return tuple(found)


def limit_of(version: Any) -> float | None:
    """The data sheet's axial limit. [mm]"""
    return min((float(row.value) for row in version.limits.all() if row.quantity == "axial"), default=None)


def _say(reading: Reading, found: Axial) -> None:
    place, limit = reading.place, limit_of(reading.place.version)
    parts = [f"Gap with the rotor in place {_size(found.in_place_mm, place)}"]
    if found.hot_mm is not None:
        parts.append(f"as it runs {_size(found.hot_mm, place)}")
    if found.nominal_mm is not None:
        parts.append(f"on the data sheet {_size(found.nominal_mm, place)}")
    sentence = ", ".join(parts) + "."
    off = found.deviation_mm
    if off is None or limit is None:
        reading.read.notes.append(sentence)
        return
    verdict = "in tolerance" if abs(off) <= limit + 1e-9 else "out of tolerance"
    length = units.written(off, "gap", place.system, signed=True)
    allowed = units.written(limit, "gap", place.system)
    reading.read.found.append(Found("Gap", f"{sentence} That is {length}; the limit is {allowed} either way.", verdict))


def _float(reading: Reading, found: Axial) -> None:
    """The coupling holds a rotor on sleeve bearings in its place: it has to allow less travel than the rotor has."""
    limit, place = limit_of(reading.place.version), reading.place
    if found.float_mm is None or limit is None:
        return
    left = float_left_mm(found.float_mm, 2.0 * limit)
    if left <= 0:
        reading.warn(
            f"The rotor's float is {units.written(found.float_mm, 'gap', place.system)} and the coupling allows "
            f"{units.written(2 * limit, 'gap', place.system)} in all: the rotor can run against its bearings' faces."
        )
    else:
        reading.read.notes.append(
            f"With the coupling at the end of its travel {units.written(left, 'gap', place.system)} of float is left "
            "on each side."
        )


def _size(mm: float | None, place: Place) -> str:
    return units.written(mm, "size", place.system)
