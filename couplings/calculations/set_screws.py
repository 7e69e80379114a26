"""`set-screws`: what the set screws of one hub hold, axially and against turning.

count             0, 1, 2 or 4 (two rows of two); angle between the two screws of a row
size              of the table, or any name with its holding
holding           of one screw, as its data sheet states it; without it the table's
seating_torque    what it is seated with; without it the table's
property_class    14H to 45H
shaft_diameter, flat, hardness_difference (screw over shaft, HRC)
load              static or dynamic: the published range of design factors; design_factor: one of your own
torque, thrust    what the hub must bear; key: a key carries the torque
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from couplings.calculations.request import Request
from couplings.calculations.set_screws_form import FORM
from couplings.engineering.setscrew_classes import SetScrewError, check_class, proof_of
from couplings.engineering.setscrews import COUNTS, Holding, Screw, factor_range, holding, row_of, seated, share_used
from couplings.engineering.tables.setscrews import (
    CLASSES,
    STARTER_ANGLES,
    STARTER_FACTORS,
    STARTER_HOLDING,
    AngleRow,
    FactorRow,
)
from couplings.selectors.tables import second_screws_at
from plant import units
from plant.calculations import Calculation
from plant.models import Site
from plant.refusals import Refused

LONGEST = (2_000.0, "No shaft is thicker than 2 m: look for a slipped decimal.")
STRONGEST = (1e8, "No set screw holds that much: look for a slipped decimal.")
LOADS = tuple(row.load for row in STARTER_FACTORS)
NONE_WORDS = "No set screw: a key, a clamp or the fit itself holds the hub along and against the shaft."


@dataclass(frozen=True)
class SetScrewRequest:
    """[mm, N, N*m, deg, HRC]"""

    count: int
    shaft_mm: float
    size: str = ""
    holding_n: float | None = None
    seating_nm: float | None = None
    angle_deg: float | None = None
    property_class: str | None = None
    flat: bool = False
    harder_hrc: float | None = None
    load: str | None = None
    design_factor: float | None = None
    torque_nm: float | None = None
    thrust_n: float | None = None
    key: bool = False
    angles: tuple[AngleRow, ...] = STARTER_ANGLES


@dataclass(frozen=True)
class SetScrewResult:
    """What one screw and all of them hold, and how much of it the load uses."""

    request: SetScrewRequest
    screw: Screw | None
    held: Holding | None
    range: FactorRow | None
    share: float | None
    verdict: str
    warnings: tuple[str, ...]

    @property
    def none(self) -> str:
        return NONE_WORDS if self.request.count == 0 else ""


def read_set_screws(payload: Mapping[str, Any], angles: tuple[AngleRow, ...] = STARTER_ANGLES) -> SetScrewRequest:
    """Read the request, with a table of second screws; raises Refused with every error by field path."""
    request = Request(payload)
    number = request.number("count", "Say how many set screws the hub has: none, one, two or four.")
    count = int(number) if number in COUNTS else None
    if number is not None and count is None:
        request.refuse("count", "None, one, two or four screws are reckoned with.")
    shaft = request.quantity("shaft_diameter", "size", "Give the diameter of the shaft.", above=0, within=LONGEST)
    size = request.text("size", "" if count == 0 else "Say which size the screws have.") or ""
    held = request.quantity("holding", "force", above=0, within=STRONGEST)
    seating = request.quantity("seating_torque", "screw-torque", above=0)
    angle = request.quantity("angle", "angle", at_least=0)
    if angle is not None and angle > 180:
        request.refuse("angle", "The angle between two screws is at most 180 degrees.")
    if angle is None and count in (2, 4):
        request.refuse("angle", "Say at which angle about the shaft the screws stand to each other.")
    named = request.text("property_class")
    load = request.choice("load", LOADS)
    factor = request.number("design_factor")
    if factor is not None and not 1 <= factor <= 100:
        request.refuse("design_factor", "A design factor between 1 and 100 is expected.")
    if load is None and factor is None and count != 0:
        request.refuse("load", "Say whether the load is static or dynamic, or give a design factor.")
    read = SetScrewRequest(
        count=count or 0,
        shaft_mm=shaft or 1.0,
        size=size,
        holding_n=held,
        seating_nm=seating,
        angle_deg=angle,
        property_class=named,
        flat=request.flag("flat"),
        harder_hrc=request.number("hardness_difference"),
        load=load,
        design_factor=factor,
        torque_nm=request.quantity("torque", "screw-torque", at_least=0),
        thrust_n=request.quantity("thrust", "force", at_least=0),
        key=request.flag("key"),
        angles=angles,
    )
    if named is not None:
        _checked(request, "property_class", lambda: check_class(named))
    if size and held is None:
        _checked(request, "holding", lambda: row_of(size), only="size")
        if seating is not None and size in {row.size for row in STARTER_HOLDING}:
            _checked(request, "seating_torque", lambda: seated(row_of(size), seating))
    request.finish()
    request.raise_errors()
    return read


def compute_set_screws(request: SetScrewRequest) -> SetScrewResult:
    """What they hold; Refused names the field that cannot be used."""
    if request.count == 0:
        return SetScrewResult(request, None, None, None, None, "not known", ())
    span = factor_range(request.load) if request.load else None
    # The careful end of the published range, unless somebody decided.
    factor = request.design_factor if request.design_factor is not None else (span.high if span else 1.0)
    try:
        screw = _screw(request)
        held = holding(
            screw.holding_n,
            request.count,
            request.angle_deg,
            request.shaft_mm,
            factor,
            flat=request.flat,
            harder_hrc=request.harder_hrc,
            table=request.angles,
        )
    except SetScrewError as error:
        raise Refused({_FIELDS.get(error.field, error.field): error.message}) from error
    loaded = request.torque_nm is not None or request.thrust_n is not None
    torque = 0.0 if request.key else request.torque_nm or 0.0
    share = share_used(held, torque, request.thrust_n or 0.0) if loaded else None
    verdict = "not known" if share is None else ("in tolerance" if share <= 1 else "out of tolerance")
    return SetScrewResult(request, screw, held, span, share, verdict, _warnings(request, screw, span, factor))


_FIELDS = {"harder_hrc": "hardness_difference"}


def _screw(request: SetScrewRequest) -> Screw:
    if request.holding_n is None:
        return seated(row_of(request.size), request.seating_nm)
    known = next((row.diameter_mm for row in STARTER_HOLDING if row.size == request.size), None)
    return Screw(request.size, known, request.seating_nm, request.holding_n, "stated", "as stated in the request")


def _checked(request: Request, field: str, ask: Any, only: str = "") -> None:
    """Refuse at `field` what the tables refuse; an error that names `only` is the one that belongs there."""
    try:
        ask()
    except SetScrewError as error:
        if not only or error.field == only:
            request.refuse(field, error.message)


def _warnings(request: SetScrewRequest, screw: Screw, span: FactorRow | None, factor: float) -> tuple[str, ...]:
    found = []
    if span is not None and factor < span.low:
        found.append(f"The design factor is below the published range for a {span.load} load, {_span(span)}.")
    proof = proof_of(request.size, request.property_class) if request.property_class else None
    if proof is not None and screw.seating_nm is not None and screw.seating_nm > proof.proof_nm:
        found.append(
            f"The seating torque is above the {proof.proof_nm:g} N·m that a {proof.size} of class "
            f"{proof.property_class} must bear ({proof.source})."
        )
    if request.harder_hrc is None:
        found.append("The screw must be at least 10 HRC harder than the shaft, or it holds up to 15 % less.")
    if request.count == 4:
        found.append("Four screws are counted as two rows in one axial line, twice a pair: constructed.")
    if request.key and request.torque_nm:
        found.append("The key carries the torque; the screws are held against the thrust alone.")
    return tuple(found)


def _span(row: FactorRow) -> str:
    return f"{row.low:g} to {row.high:g}"


def answer_set_screws(result: SetScrewResult, system: str) -> dict[str, Any]:
    """The answer of `POST /api/v1/calculations/set-screws/`."""
    request, screw, held, span = result.request, result.screw, result.held, result.range

    def pair(factor: float) -> dict[str, Any] | None:
        if held is None:
            return None
        return {
            "axial": units.quantity(held.axial_n / factor, "force", system),
            "torsional": units.quantity(held.torsional_nm / factor, "screw-torque", system),
        }

    return {
        "count": request.count,
        "screw": None
        if screw is None
        else {
            "size": screw.size,
            "seating_torque": units.quantity(screw.seating_nm, "screw-torque", system),
            "holding": units.quantity(screw.holding_n, "force", system),
            "mark": screw.mark,
            "source": screw.source,
        },
        "count_factor": None if held is None else units.without_dust(held.factor),
        "count_factor_mark": (held.mark or None) if held is not None else None,
        "count_factor_source": _angle_source(result),
        "holding": pair(1.0),
        "design_factor": None if held is None else units.without_dust(held.design_factor),
        "design_factor_range": None
        if span is None
        else {"load": span.load, "low": span.low, "high": span.high, "source": span.source},
        "allowed": None if held is None else pair(held.design_factor),
        "share_used": None if result.share is None else units.without_dust(result.share),
        "verdict": result.verdict,
        "warnings": [*([result.none] if result.none else []), *result.warnings],
    }


def _angle_source(result: SetScrewResult) -> str | None:
    """The rows of the table that the angle lies on or between."""
    request = result.request
    if result.held is None or request.angle_deg is None or request.count < 2:
        return None
    rows = sorted(request.angles, key=lambda row: row.angle_deg)
    below = max((row for row in rows if row.angle_deg <= request.angle_deg + 1e-9), key=lambda row: row.angle_deg)
    above = min((row for row in rows if row.angle_deg >= request.angle_deg - 1e-9), key=lambda row: row.angle_deg)
    return "; ".join(dict.fromkeys(row.source for row in (below, above)))


def drawn(result: SetScrewResult, system: str) -> dict[str, Any]:
    """The published range of design factors as two columns beside the one that was used."""
    held, span = result.held, result.range
    rows = []
    if held is not None:
        factors = {1.0: "no design factor", held.design_factor: "judged with"}
        if span is not None:
            factors = {span.low: "lower end", span.high: "upper end", **factors}
        rows = [
            {
                "factor": f"{factor:g}",
                "words": words,
                "axial_n": held.axial_n / factor,
                "torsional_nm": held.torsional_nm / factor,
            }
            for factor, words in sorted(factors.items())
        ]
    return {
        "rows": rows,
        "table": STARTER_HOLDING,
        "classes": CLASSES,
        "used": units.written(result.share, "share", system),
        "count_factor": "" if held is None else f"{held.factor:.3g}",
        "count_factor_source": _angle_source(result) or "",
        "proof": proof_of(result.request.size),
    }


EXAMPLE: dict[str, Any] = {
    "count": 2,
    "size": "3/8",
    "angle": {"value": 65, "unit": "deg"},
    "shaft_diameter": {"value": 1.5, "unit": "inch"},
    "design_factor": 4,
    "load": "dynamic",
    "torque": {"value": 500, "unit": "lbf*in"},
}


def _at(site: Site) -> Calculation:
    return replace(SET_SCREWS, reader=partial(read_set_screws, angles=second_screws_at(site)))


SET_SCREWS = Calculation(
    name="set-screws",
    title="Set screws",
    summary="What none, one, two or four set screws hold along the shaft and against turning, with a design factor.",
    reader=read_set_screws,
    function=compute_set_screws,
    writer=answer_set_screws,
    template="couplings/calculations/set_screws.html",
    form=FORM,
    drawn=drawn,
    example=EXAMPLE,
    at=_at,
)
