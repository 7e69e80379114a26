"""`shaft-torque`: torque from power and speed, against a rating; rim speed, shear stress, torsional natural frequency.

power or torque, speed
factor with factor_kind (service factor, application factor, safety factor), or load: uniform, moderate, heavy for
the starter service factor; rated_torque
rim_diameter with rim_limit (the data sheet's) or rim: steel, cast iron (published cautions)
shaft_diameter
stiffness, inertia_1, inertia_2, line_frequency
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from couplings.calculations.request import Request
from couplings.calculations.shaft_torque_form import FORM
from couplings.calculations.shaft_torque_words import answer_shaft_torque, drawn
from couplings.engineering.shaft import (
    FACTOR_KINDS,
    Rating,
    hoop_stress_mpa,
    natural_frequency_hz,
    power_kw,
    rating,
    rim_rpm,
    rim_speed_m_s,
    separation,
    shear_stress_mpa,
    torque_nm,
)
from couplings.engineering.tables.service import STARTER_RIMS, STARTER_SERVICE
from plant.calculations import Calculation

LARGEST = (1e9, "This is larger than any shaft: look for a slipped decimal.")
LOADS = tuple(row.load for row in STARTER_SERVICE)
RIMS = tuple(row.rim for row in STARTER_RIMS)
MECHANICAL = ("stiffness", "inertia_1", "inertia_2")


@dataclass(frozen=True)
class ShaftTorqueRequest:
    """[kW, N*m, rpm, mm, m/s, N*m/rad, kg*m^2, Hz]"""

    rpm: float
    power_kw: float
    torque_nm: float
    factor: float = 1.0
    factor_kind: str = ""
    factor_source: str = ""
    rated_nm: float | None = None
    rim_mm: float | None = None
    rim_limit_m_s: float | None = None
    rim_source: str = ""
    rim: str | None = None
    shaft_mm: float | None = None
    torsional: tuple[float, float, float] | None = None
    line_hz: float | None = None


@dataclass(frozen=True)
class Nearness:
    """How far the natural frequency lies from one that excites it; `separation` above is positive. [Hz, 1]"""

    name: str
    hz: float
    separation: float


@dataclass(frozen=True)
class ShaftTorqueResult:
    """What follows from the request; None where nothing was asked. [N*m, m/s, rpm, MPa, Hz]"""

    request: ShaftTorqueRequest
    design_nm: float
    rating: Rating | None
    rim_m_s: float | None
    rim_rpm: float | None
    hoop_mpa: float | None
    shear_mpa: float | None
    design_shear_mpa: float | None
    natural_hz: float | None
    near: tuple[Nearness, ...]


def read_shaft_torque(payload: Mapping[str, Any]) -> ShaftTorqueRequest:
    """Read the request; raises Refused with every error by field path."""
    request = Request(payload)
    rpm = request.quantity("speed", "speed", "Give the shaft's speed.", above=0, within=LARGEST)
    power = request.quantity("power", "power", at_least=0, within=LARGEST)
    torque = request.quantity("torque", "torque", at_least=0, within=LARGEST)
    if request.has("power") and request.has("torque"):
        request.refuse("torque", "Give the power or the torque, not both: one follows from the other.")
    elif not request.has("power") and not request.has("torque"):
        request.refuse("power", "Give the power that the shaft transmits, or its torque.")
    factor, kind, source = _factor(request)
    rated = request.quantity("rated_torque", "torque", above=0, within=LARGEST)
    rim_mm, limit, rim_source, rim = _rim(request)
    shaft_mm = request.quantity("shaft_diameter", "size", above=0, within=(2_000.0, LARGEST[1]))
    torsional, line = _torsional(request)
    request.finish()
    request.raise_errors()
    assert rpm is not None  # a missing one has been refused
    if power is None:
        assert torque is not None
        power = power_kw(torque, rpm)
    return ShaftTorqueRequest(
        rpm=rpm,
        power_kw=power,
        torque_nm=torque_nm(power, rpm) if torque is None else torque,
        factor=factor,
        factor_kind=kind,
        factor_source=source,
        rated_nm=rated,
        rim_mm=rim_mm,
        rim_limit_m_s=limit,
        rim_source=rim_source,
        rim=rim,
        shaft_mm=shaft_mm,
        torsional=torsional,
        line_hz=line,
    )


def _factor(request: Request) -> tuple[float, str, str]:
    """The factor, which kind it is, and where it comes from; 1 and no kind where none was given."""
    factor = request.number("factor")
    kind = request.choice("factor_kind", FACTOR_KINDS)
    load = request.choice("load", LOADS)
    if factor is not None and not 1 <= factor <= 100:
        request.refuse("factor", "A factor between 1 and 100 is expected.")
    if request.has("factor"):
        if kind is None:
            request.refuse("factor_kind", f"Say which kind of factor this is: {', '.join(FACTOR_KINDS)}.")
        if load is not None:
            request.refuse("load", "Give a factor or the kind of load, not both.")
        return factor or 1.0, kind or "", "as stated"
    if load is not None:
        if kind not in (None, FACTOR_KINDS[0]):
            request.refuse("factor_kind", "The kind of load gives a service factor.")
        row = next(row for row in STARTER_SERVICE if row.load == load)
        return row.factor, FACTOR_KINDS[0], f"{row.mark}, {row.source}, {row.title}"
    if kind is not None:
        request.refuse("factor", f"Give the {kind} itself.")
    return 1.0, "", ""


def _rim(request: Request) -> tuple[float | None, float | None, str, str | None]:
    diameter = request.quantity("rim_diameter", "size", above=0, within=(20_000.0, LARGEST[1]))
    limit = request.quantity("rim_limit", "rim-speed", above=0, within=(10_000.0, LARGEST[1]))
    rim = request.choice("rim", RIMS)
    source = "the data sheet" if limit is not None else ""
    if (request.has("rim_limit") or rim) and not request.has("rim_diameter"):
        request.refuse("rim_diameter", "Give the largest diameter that turns.")
    if limit is None and rim is not None:
        row = next(row for row in STARTER_RIMS if row.rim == rim)
        limit, source = row.speed_m_s, f"{row.source}, {row.printed}"
    return diameter, limit, source, rim


def _torsional(request: Request) -> tuple[tuple[float, float, float] | None, float | None]:
    values = [
        request.quantity("stiffness", "torsional-stiffness", above=0, within=(1e12, LARGEST[1])),
        request.quantity("inertia_1", "inertia", above=0, within=LARGEST),
        request.quantity("inertia_2", "inertia", above=0, within=LARGEST),
    ]
    line = request.quantity("line_frequency", "frequency", above=0, within=(1_000.0, "This is no line frequency."))
    some = any(request.has(name) for name in (*MECHANICAL, "line_frequency"))
    for name in MECHANICAL:
        if some and not request.has(name):
            request.refuse(name, "The natural frequency needs the stiffness and both inertias.")
    stiffness, one, other = values
    if stiffness is None or one is None or other is None:
        return None, line
    return (stiffness, one, other), line


def compute_shaft_torque(request: ShaftTorqueRequest) -> ShaftTorqueResult:
    """Everything that was asked for; the reader has refused what cannot be computed."""
    design = request.factor * request.torque_nm
    rim = rim_speed_m_s(request.rim_mm, request.rpm) if request.rim_mm is not None else None
    natural = natural_frequency_hz(*request.torsional) if request.torsional else None
    near = []
    if natural is not None:
        near.append(Nearness("running speed", request.rpm / 60, separation(natural, request.rpm / 60)))
        if request.line_hz is not None:
            near.append(
                Nearness("twice the line frequency", 2 * request.line_hz, separation(natural, 2 * request.line_hz))
            )
    return ShaftTorqueResult(
        request=request,
        design_nm=design,
        rating=rating(request.torque_nm, request.factor, request.rated_nm) if request.rated_nm else None,
        rim_m_s=rim,
        rim_rpm=rim_rpm(request.rim_limit_m_s, request.rim_mm) if request.rim_limit_m_s and request.rim_mm else None,
        hoop_mpa=hoop_stress_mpa(rim) if rim is not None and request.rim == "steel" else None,
        shear_mpa=shear_stress_mpa(request.torque_nm, request.shaft_mm) if request.shaft_mm else None,
        design_shear_mpa=shear_stress_mpa(design, request.shaft_mm) if request.shaft_mm else None,
        natural_hz=natural,
        near=tuple(near),
    )


EXAMPLE: dict[str, Any] = {
    "power": {"value": 30, "unit": "kW"},
    "speed": {"value": 1480, "unit": "rpm"},
    "factor": 1.5,
    "factor_kind": "service factor",
    "rated_torque": {"value": 320, "unit": "N*m"},
    "rim_diameter": {"value": 160, "unit": "mm"},
    "rim": "steel",
    "shaft_diameter": {"value": 48, "unit": "mm"},
}

SHAFT_TORQUE = Calculation(
    name="shaft-torque",
    title="Torque of a shaft",
    summary="Torque from power and speed against the coupling's rating; rim speed, shear stress, natural frequency.",
    reader=read_shaft_torque,
    function=compute_shaft_torque,
    writer=answer_shaft_torque,
    template="couplings/calculations/shaft_torque.html",
    form=FORM,
    drawn=drawn,
    example=EXAMPLE,
)
