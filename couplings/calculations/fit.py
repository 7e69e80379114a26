"""`fit`: whether a bore and a shaft are the fit that was specified, and what an interference holds and asks for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from couplings.calculations.alignment_answer import measured
from couplings.calculations.figures import between, fine
from couplings.calculations.fit_form import FORM, form_by
from couplings.calculations.fit_request import FitRequest, read_fit
from couplings.engineering.fits import FitError, Zone
from couplings.engineering.interference import (
    Pressed,
    heating_rise_k,
    interference_left_mm,
    press_force_n,
    press_pressure,
    press_torque_nm,
    taper_advance_mm,
)
from couplings.engineering.pairs import Checked, PairJudgement, judge_pair
from couplings.selectors.tables import fit_classes_at
from plant import units
from plant.calculations import Calculation
from plant.models import Site
from plant.refusals import Refused

NO_MEASURE = "No pair was measured: this is what the two classes allow."
HOT = (
    "A hot hub burns the skin and sets fire to oil, grease and rags. Heat evenly, by oven, induction or oil bath below "
    "its flash point, never with a flame on one spot; gloves and face shield on, lifting gear ready, vapours away; "
    "hot work by the site's permit."
)
_PATHS = {"hub_outside": "press.hub_outside", "shaft_bore": "press.shaft_bore", "bore": "measured.bore"}


@dataclass(frozen=True)
class Tight:
    """One interference carried through. [mm], [N*m], [N], [degC]; None where it was not asked for."""

    name: str
    interference_mm: float
    left_mm: float | None = None
    pressed: Pressed | None = None
    torque_nm: float | None = None
    force_n: float | None = None
    hub_temperature_c: float | None = None
    advance_mm: float | None = None


@dataclass(frozen=True)
class FitResult:
    """The judgement of the pair, and what its interference (or both ends of the specified one) comes to."""

    request: FitRequest
    judgement: PairJudgement | None
    tight: tuple[Tight, ...]
    warnings: tuple[str, ...]

    @property
    def verdict(self) -> str:
        return self.judgement.verdict if self.judgement else "not known"

    @property
    def reason(self) -> str:
        return self.judgement.reason if self.judgement else NO_MEASURE


def compute_fit(request: FitRequest) -> FitResult:
    """Judge the pair; then pressure, torque, heating and advance at the interference measured or allowed."""
    specified, pair = request.specified, request.measured
    try:
        judgement = None
        if pair is not None:
            judgement = judge_pair(
                specified, pair.bore_mm, pair.shaft_mm, pair.bore_u_mm, pair.shaft_u_mm, request.confidence
            )
            ends = [("as measured", -judgement.fit.value_mm)]
        else:
            ends = [("loosest", -specified.most_clearance_mm), ("tightest", -specified.least_clearance_mm)]
        asked = request.press or request.heating or request.taper
        tight = tuple(_tight(name, interference, request) for name, interference in ends if asked and interference > 0)
    except FitError as error:
        raise Refused({_PATHS.get(error.field, error.field): error.message}) from error
    return FitResult(request, judgement, tight, tuple(_warnings(request, tight, bool(asked))))


def _tight(name: str, interference: float, request: FitRequest) -> Tight:
    press, heating = request.press, request.heating
    size = request.measured.shaft_mm if request.measured else request.specified.nominal_mm
    left = pressed = torque = force = None
    if press is not None:
        left = interference_left_mm(interference, press.bore_rz_um, press.shaft_rz_um)
        pressed = press_pressure(left, size, press.hub_outside_mm, press.shaft_bore_mm, press.hub, press.shaft)
        if press.length_mm is not None and press.friction is not None:
            torque = press_torque_nm(pressed.pressure_mpa, size, press.length_mm, press.friction)
            force = press_force_n(pressed.pressure_mpa, size, press.length_mm, press.friction)
    hot = None
    if heating is not None:
        rise = heating_rise_k(interference, heating.assembly_clearance_mm, size, heating.alpha_per_k)
        hot = heating.shaft_temperature_c + rise
    advance = taper_advance_mm(interference, request.taper) if request.taper is not None else None
    return Tight(name, interference, left, pressed, torque, force, hot, advance)


def _warnings(request: FitRequest, tight: tuple[Tight, ...], asked: bool) -> list[str]:
    said = []
    if asked and not tight:
        said.append("There is no interference: nothing is pressed, and nothing needs heating.")
    elif asked and request.measured is None and len(tight) == 1:
        said.append("At its loosest this fit is not tight at all: only its tightest end is carried on.")
    highest = request.heating.highest_c if request.heating else None
    if highest is not None and any((one.hub_temperature_c or 0.0) > highest for one in tight):
        said.append("The hub would have to be hotter than is allowed: take less clearance, or cool the shaft as well.")
    return said


def answer_fit(result: FitResult, system: str) -> dict[str, Any]:
    """The answer in the units asked for; negative clearance is interference."""
    specified, judgement = result.request.specified, result.judgement
    return {
        "method": result.request.method,
        "specified": {
            "nominal": units.quantity(specified.nominal_mm, "size", system),
            "kind": specified.kind,
            "least_clearance": units.quantity(specified.least_clearance_mm, "gap", system),
            "most_clearance": units.quantity(specified.most_clearance_mm, "gap", system),
            "bore": _zone(specified.bore, system),
            "shaft": _zone(specified.shaft, system),
        },
        "measured": None if judgement is None else _pair(judgement, system),
        "interference": [_carried(one, system) for one in result.tight],
        "confidence": result.request.confidence,
        "verdict": result.verdict,
        "reason": result.reason,
        "warnings": list(result.warnings),
        "cautions": [HOT] if result.request.heating else [],
    }


def _zone(zone: Zone, system: str) -> dict[str, Any]:
    return {
        "class": zone.code,
        "lower": units.quantity(zone.lower_mm, "gap", system),
        "upper": units.quantity(zone.upper_mm, "gap", system),
        "source": zone.source,
        "mark": zone.mark,
    }


def _pair(judgement: PairJudgement, system: str) -> dict[str, Any]:
    return {
        "kind": judgement.kind,
        "clearance": measured(judgement.fit.value_mm, judgement.fit.u_mm, "gap", system),
        "beyond": units.quantity(judgement.fit.beyond_mm, "gap", system),
        "probability_in_tolerance": units.without_dust(judgement.fit.probability),
        "bore": _part(judgement.bore, system),
        "shaft": _part(judgement.shaft, system),
    }


def _part(part: Checked, system: str) -> dict[str, Any]:
    return {
        "value": measured(part.value_mm, part.u_mm, "size", system),
        "smallest": units.quantity(part.lower_mm, "size", system),
        "largest": units.quantity(part.upper_mm, "size", system),
        "beyond": units.quantity(part.beyond_mm, "gap", system),
        "verdict": part.verdict,
    }


def _carried(one: Tight, system: str) -> dict[str, Any]:
    pressed = one.pressed
    return {
        "at": one.name,
        "interference": units.quantity(one.interference_mm, "gap", system),
        "after_smoothing": units.quantity(one.left_mm, "gap", system),
        "pressure": units.quantity(pressed.pressure_mpa if pressed else None, "pressure", system),
        "hub_hoop_stress": units.quantity(pressed.hub_hoop_mpa if pressed else None, "pressure", system),
        "shaft_hoop_stress": units.quantity(pressed.shaft_hoop_mpa if pressed else None, "pressure", system),
        "slip_torque": units.quantity(one.torque_nm, "torque", system),
        "slip_force": units.quantity(one.force_n, "force", system),
        "hub_temperature": units.quantity(one.hub_temperature_c, "temperature", system),
        "advance": units.quantity(one.advance_mm, "size", system),
    }


def drawn(result: FitResult, system: str) -> dict[str, Any]:
    """Rows of figures for the page, to the digits in which fits are measured."""
    specified, judgement = result.request.specified, result.judgement
    rows = [
        ("Fit", f"{specified.kind}, clearance " + between(
            specified.least_clearance_mm, specified.most_clearance_mm, "gap", system, signed=True)),
        *[
            (f"{name} {zone.code}", between(
                specified.nominal_mm + zone.lower_mm, specified.nominal_mm + zone.upper_mm, "size", system))
            for name, zone in (("Bore", specified.bore), ("Shaft", specified.shaft))
        ],
    ]  # fmt: skip
    parts = []
    if judgement is not None:
        for name, part, kind in (
            ("Clearance" if judgement.kind == "clearance" else "Interference", judgement.fit, "gap"),
            ("Bore", judgement.bore, "size"),
            ("Shaft", judgement.shaft, "size"),
        ):
            value = abs(part.value_mm) if part.name == "fit" else part.value_mm
            beyond = f", {fine(abs(part.beyond_mm), 'gap', system)} beyond" if abs(part.beyond_mm) > 1e-9 else ""
            parts.append((name, fine(value, kind, system) + beyond, part.verdict))
    sources = list(dict.fromkeys(_source(zone) for zone in (specified.bore, specified.shaft)))
    return {
        "specified_rows": rows,
        "parts": parts,
        "tight": [(one.name, _tight_rows(one, system)) for one in result.tight],
        "sources": sources,
        "hot": HOT,
    }


def _source(zone: Zone) -> str:
    return zone.source if zone.mark == "published" else f"{zone.source} ({zone.mark})"


def _tight_rows(one: Tight, system: str) -> list[tuple[str, str]]:
    pressed = one.pressed
    rows = [("Interference", fine(one.interference_mm, "gap", system))]
    if one.left_mm is not None and one.left_mm != one.interference_mm:
        rows.append(("once the surfaces are smoothed", fine(one.left_mm, "gap", system)))
    if pressed is not None:
        rows.append(("Pressure in the fit", units.written(pressed.pressure_mpa, "pressure", system)))
        rows.append(("Tension at the bore of the hub", units.written(pressed.hub_hoop_mpa, "pressure", system)))
    if one.torque_nm is not None:
        rows.append(("Slips at a torque of", units.written(one.torque_nm, "torque", system)))
        rows.append(("Slides at a force of", units.written(one.force_n, "force", system)))
    if one.hub_temperature_c is not None:
        rows.append(("Hub heated to", units.written(one.hub_temperature_c, "temperature", system)))
    if one.advance_mm is not None:
        rows.append(("Advance on the taper from hand-tight", fine(one.advance_mm, "size", system)))
    return rows


def _mm(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "mm"}


def _at(site: Site) -> Calculation:
    classes = fit_classes_at(site)
    return replace(FIT, reader=partial(read_fit, classes=classes), form=form_by(classes))


FIT = Calculation(
    name="fit",
    title="Fit of a hub on its shaft",
    summary="Whether a bore and a shaft are the fit that was specified, and what the interference holds and asks for.",
    reader=read_fit,
    function=compute_fit,
    writer=answer_fit,
    template="couplings/calculations/fit.html",
    form=FORM,
    drawn=drawn,
    example={
        "method": "iso-286",
        "nominal": _mm(60),
        "hole": "H7",
        "shaft": "k6",
        "measured": {
            "bore": _mm(60.005),
            "shaft": _mm(60.018),
            "bore_standard_uncertainty": _mm(0.002),
            "shaft_standard_uncertainty": _mm(0.001),
        },
        "press": {"hub_outside": _mm(100), "length": _mm(70), "friction": 0.15},
        "heating": {"assembly_clearance": _mm(0.03), "shaft_temperature": {"value": 20, "unit": "degC"}},
    },
    at=_at,
)
