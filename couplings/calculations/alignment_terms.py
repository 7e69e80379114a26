"""What an alignment is measured against: foot planes, flex planes, target, gap and limits."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from couplings.calculations.alignment_direct import STEEP
from couplings.calculations.alignment_sets import FAR, TRAVEL, WIDE, read_angle
from couplings.calculations.request import Request
from couplings.engineering.conformity import Limit, gap_in_place, slope_from_gap

RULES = ("vector", "per-plane")
FEET_AT_MOST = 12
# Starter, common practice: as for feeler and inside micrometer readings elsewhere.
STARTER_GAP_U_MM = 0.02


@dataclass(frozen=True)
class Axial:
    """The gap between the hubs or the shaft ends. [mm]

    `rotor_from_place_mm` is how far the rotor stands from its proper place towards the coupling; `u_mm` is the
    standard uncertainty of one gap reading.
    """

    gaps_mm: tuple[float, ...]
    rotor_from_place_mm: float = 0.0
    nominal_mm: float | None = None
    float_mm: float | None = None
    u_mm: float = STARTER_GAP_U_MM

    @property
    def in_place_mm(self) -> tuple[float, float]:
        """The gap with the rotor where it belongs, and its standard uncertainty."""
        return gap_in_place(self.gaps_mm, self.rotor_from_place_mm, u_mm=self.u_mm)

    @property
    def from_nominal_mm(self) -> tuple[float, float] | None:
        """Gap in place less the nominal gap, positive is too wide, and its standard uncertainty."""
        gap, u = self.in_place_mm
        return None if self.nominal_mm is None else (gap - self.nominal_mm, u)


@dataclass(frozen=True)
class JudgedBy:
    """The limits and how they are applied."""

    limits: tuple[Limit, ...]
    rule: str = "vector"
    combined: bool = False


def read_flex_planes(request: Request) -> tuple[float, float] | None:
    """[A, B]: A on the stationary side, B on the movable side, from the coupling's centre. [mm]"""
    given = request.given("flex_planes")
    if given is None:
        return None
    if not isinstance(given, list | tuple) or len(given) != 2:
        request.refuse("flex_planes", "Two positions are expected: flex plane A on the stationary side, then B.")
        return None
    both = Request({"0": given[0], "1": given[1]}, request.at("flex_planes"), request.errors)
    a, b = (both.quantity(key, "size", "A value is missing.", within=FAR) for key in ("0", "1"))
    if a is None or b is None:
        return None
    if b <= a:
        both.refuse("1", "Flex plane B must lie on the movable side of flex plane A.")
        return None
    return a, b


def read_feet(request: Request) -> tuple[tuple[str, float], ...]:
    """The movable machine's foot planes by name, with their distance from the coupling's centre. [mm]"""
    feet: list[tuple[str, float]] = []
    for row in request.rows("feet", FEET_AT_MOST):
        name = row.text("name", "Name the foot plane, such as inboard or outboard.")
        x = row.quantity("x", "size", "Say how far the foot plane is from the coupling's centre.", within=FAR)
        row.finish()
        if name and any(name == other for other, _x in feet):
            row.refuse("name", "Two foot planes have this name.")
        if name is not None and x is not None:
            feet.append((name, x))
    return tuple(feet)


def read_axial(request: Request, starters: set[str]) -> Axial | None:
    """The gaps with what they are compared to; `limit` is read with the limits."""
    part = request.part("axial")
    if part is None:
        return None
    gaps = _gaps(part)
    from_place = part.quantity("rotor_from_place", "gap", within=WIDE)
    nominal = part.quantity("nominal", "gap", at_least=0, within=FAR)
    total_float = part.quantity("float", "gap", at_least=0, within=WIDE)
    u = part.quantity("standard_uncertainty", "gap", above=0, within=WIDE)
    if not part.has("standard_uncertainty"):
        starters.add(part.at("standard_uncertainty"))
    if from_place is not None and total_float is not None and abs(from_place) > total_float:
        part.refuse("rotor_from_place", "The rotor cannot stand further from its place than its whole float.")
    part.given("limit")
    part.finish()
    return Axial(gaps, from_place or 0.0, nominal, total_float, u or STARTER_GAP_U_MM) if gaps else None


def _gaps(part: Request) -> tuple[float, ...]:
    """Up to four gaps: each a quantity, or a reading with its position and a quantity as its value."""
    given = part.given("gaps")
    if isinstance(given, list | tuple):
        rows = [{"value": item} if isinstance(item, Mapping) and "unit" in item else item for item in given]
        part = Request({"gaps": rows}, part.path, part.errors)
    gaps: list[float] = []
    seen: list[float] = []
    for row in part.rows("gaps", 4, "Gaps are missing."):
        angle = read_angle(row)
        gap = row.quantity("value", "gap", "A value is missing.", at_least=0, within=FAR)
        row.finish()
        if angle is not None and angle in seen:
            row.refuse("clock" if row.has("clock") else "angle", "This position is there twice.")
        seen += [] if angle is None else [angle]
        gaps += [] if gap is None else [gap]
    return tuple(gaps)


def read_limits(request: Request, axial: Axial | None) -> JudgedBy | None:
    """The limits, or None where none are given and so nothing is judged."""
    given = request.given("axial")
    beside_gap = given.get("limit") if isinstance(given, Mapping) else None
    found: dict[str, float | None] = {}
    if beside_gap is not None:
        gap = Request({"limit": beside_gap}, request.at("axial"), request.errors)
        found["axial"] = gap.quantity("limit", "gap", above=0, within=WIDE)
    part = request.part("limits")
    rule, combined = "vector", False
    if part is not None:
        found["offset"] = part.quantity("offset", "gap", above=0, within=TRAVEL)
        found["angularity"] = _angularity(part)
        found["flex-angle"] = part.quantity("flex_angle", "slope", above=0, within=STEEP)
        if part.has("axial") and beside_gap is not None:
            part.refuse("axial", "The axial limit is given twice, here and in axial.limit.")
        elif part.has("axial"):
            found["axial"] = part.quantity("axial", "gap", above=0, within=WIDE)
        rule = part.choice("rule", RULES, "vector") or "vector"
        combined = part.flag("combined")
        if not any(part.has(key) for key in ("offset", "angularity", "flex_angle", "axial")) and not found.get("axial"):
            part.refuse(
                "", "No limit is given here: give offset, angularity, flex_angle or axial, or leave limits out."
            )
        part.finish()
    if found.get("axial") is not None and axial is not None and axial.nominal_mm is None:
        request.refuse("axial.nominal", "A limit on the gap needs the nominal gap.")
    limits = tuple(Limit(name, value, "sheet") for name, value in found.items() if value is not None)
    return JudgedBy(limits, rule, combined) if limits else None


def _angularity(part: Request) -> float | None:
    """A slope, an angle, or as data sheets print it a gap difference over a diameter. [mrad]"""
    given = part.given("angularity")
    if not isinstance(given, Mapping) or not {"gap_difference", "over_diameter"} & set(given):
        return part.quantity("angularity", "slope", above=0, within=STEEP)
    ratio = Request(given, part.at("angularity"), part.errors)
    gap = ratio.quantity("gap_difference", "gap", "The gap difference is missing.", above=0, within=TRAVEL)
    diameter = ratio.quantity("over_diameter", "size", "Say over which diameter.", above=0, within=WIDE)
    ratio.finish()
    return None if gap is None or diameter is None else slope_from_gap(gap, diameter)


def read_target(request: Request) -> tuple[float, float, float, float]:
    """Offset [mm] and slope [mrad] wanted, (vertical, horizontal) each; named parts add up."""
    part = request.part("target")
    if part is None:
        return 0.0, 0.0, 0.0, 0.0
    if part.has("parts"):
        vectors = []
        for row in part.rows("parts", 20):
            row.text("name", "Name this part of the target, such as growth.")
            vectors.append(_wanted(row))
            row.finish()
    else:
        vectors = [_wanted(part)]
    part.finish()
    v, h, sv, sh = (math.fsum(column) for column in zip(*vectors, strict=True)) if vectors else (0.0,) * 4
    return v, h, sv, sh


def _wanted(part: Request) -> tuple[float, ...]:
    if not part.has("offset") and not part.has("angularity"):
        part.refuse("", "A target needs offset or angularity.")
    numbers: list[float] = []
    for key, kind, within in (("offset", "gap", TRAVEL), ("angularity", "slope", STEEP)):
        vector = part.part(key)
        for word in ("vertical", "horizontal"):
            numbers.append((vector.quantity(word, kind, within=within) if vector else None) or 0.0)
        if vector:
            vector.finish()
    return tuple(numbers)
