"""The `fit` request: a specified fit, a measured pair, and what pressing or heating it on would take.

method            iso-286 (hole, shaft classes), site-class (class of the site's own table) or
                  deviations (bore_deviations, shaft_deviations, source)
nominal           size of both
measured          bore, shaft, each with _standard_uncertainty
press             hub_outside, shaft_bore, length, friction, bore_rz, shaft_rz, hub_modulus, shaft_modulus
heating           assembly_clearance, shaft_temperature, expansion, highest
taper             ratio
confidence
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from couplings.calculations.alignment_request import CONFIDENCE
from couplings.calculations.alignment_sets import FAR, WIDE
from couplings.calculations.request import Request
from couplings.engineering.fits import INCH_MM, FitError, SpecifiedFit, Zone, fit_of_class, specified_fit
from couplings.engineering.interference import STEEL_ALPHA_PER_K, STEEL_E_MPA, STEEL_NU, Ring
from couplings.engineering.tables.iso286 import HOLES, INCH_CLASSES, SHAFTS, InchClass

METHODS = ("iso-286", "site-class", "deviations")
ROUGH = (0.5, "A roughness of more than 0.5 mm: is the unit right?")
NEAR_NOMINAL = 0.1  # a tenth of the size away from it is a slip of the keyboard, not a worn bore


@dataclass(frozen=True)
class Measured:
    """[mm]"""

    bore_mm: float
    shaft_mm: float
    bore_u_mm: float = 0.0
    shaft_u_mm: float = 0.0


@dataclass(frozen=True)
class Press:
    """[mm], roughness [um]; `friction` and `length_mm` None leave torque and force out."""

    hub_outside_mm: float
    shaft_bore_mm: float
    length_mm: float | None
    friction: float | None
    bore_rz_um: float
    shaft_rz_um: float
    hub: Ring
    shaft: Ring


@dataclass(frozen=True)
class Heating:
    """[mm], [degC], [1/K]; `highest_c` is what the hub may be heated to."""

    assembly_clearance_mm: float
    shaft_temperature_c: float
    alpha_per_k: float
    highest_c: float | None


@dataclass(frozen=True)
class FitRequest:
    """Everything a fit is computed from."""

    method: str
    specified: SpecifiedFit
    measured: Measured | None
    press: Press | None
    heating: Heating | None
    taper: float | None
    confidence: float


def read_fit(payload: Mapping[str, Any], classes: Sequence[InchClass] = INCH_CLASSES) -> FitRequest:
    """Read the request, with a site's own classes; raises Refused with every error by field path."""
    request = Request(payload)
    method = request.choice(
        "method", METHODS, missing="Say how the fit is specified: iso-286, site-class or deviations."
    )
    nominal = request.quantity("nominal", "size", "The nominal size is missing.", above=0, within=WIDE)
    specified = _iso(request, nominal) if method == "iso-286" else None
    if method == "site-class":
        specified = _site_class(request, nominal, classes)
    if method == "deviations":
        specified = _deviations(request, nominal)
    measured = _measured(request, nominal)
    press = _press(request)
    heating = _heating(request)
    taper = _taper(request)
    confidence = request.number("confidence")
    if confidence is not None and not 0.5 < confidence < 1:
        request.refuse("confidence", "A probability between 0.5 and 1 is expected, such as 0.95.")
    request.finish()
    request.raise_errors()
    assert method is not None  # refused above
    assert specified is not None
    return FitRequest(
        method, specified, measured, press, heating, taper, CONFIDENCE if confidence is None else confidence
    )


def _iso(request: Request, nominal: float | None) -> SpecifiedFit | None:
    hole = request.choice("hole", HOLES, missing="Choose the class of the bore, such as H7.")
    shaft = request.choice("shaft", SHAFTS, missing="Choose the class of the shaft, such as k6.")
    if nominal is None or hole is None or shaft is None:
        return None
    try:
        return specified_fit(nominal, hole, shaft)
    except FitError as error:
        request.refuse(error.field, error.message)
        return None


def _site_class(request: Request, nominal: float | None, classes: Sequence[InchClass]) -> SpecifiedFit | None:
    name = request.text("class", "Name the class of fits, as your site's table has it.")
    if nominal is None or name is None:
        return None
    try:
        return replace(fit_of_class(nominal / INCH_MM, name, classes), nominal_mm=nominal)
    except FitError:
        known = ", ".join(dict.fromkeys(row.name for row in classes)) or "none yet"
        message = f"No row of the site's table gives class {name} at this size. Its classes: {known}."
        request.refuse("class", message)
        return None


def _deviations(request: Request, nominal: float | None) -> SpecifiedFit | None:
    source = request.text("source") or "as given"
    zones: list[Zone] = []
    for key, name in (("bore_deviations", "bore"), ("shaft_deviations", "shaft")):
        part = request.part(key, f"Give the lower and upper deviation of the {name}.")
        if part is None:
            continue
        lower, upper = (
            part.quantity(end, "gap", f"The {end} deviation is missing.", within=WIDE) for end in ("lower", "upper")
        )
        part.finish()
        if lower is None or upper is None:
            continue
        if upper < lower:
            part.refuse("upper", "The upper deviation lies below the lower one.")
        elif nominal is not None and nominal + lower <= 0:
            part.refuse("lower", "This leaves a size of nothing.")
        else:
            zones.append(Zone(name, lower, upper, source, "site"))
    return SpecifiedFit(nominal, *zones) if nominal is not None and len(zones) == 2 else None


def _measured(request: Request, nominal: float | None) -> Measured | None:
    part = request.part("measured")
    if part is None:
        return None
    sizes: list[float] = []
    spreads: list[float] = []
    for key in ("bore", "shaft"):
        size = part.quantity(key, "size", f"The measured {key} is missing.", above=0, within=FAR)
        u = part.quantity(f"{key}_standard_uncertainty", "gap", at_least=0, within=WIDE)
        if size is not None and nominal is not None and abs(size - nominal) > NEAR_NOMINAL * nominal:
            part.refuse(key, "This is more than a tenth away from the nominal size: is the unit right?")
        sizes += [] if size is None else [size]
        spreads.append(u or 0.0)
    part.finish()
    return Measured(sizes[0], sizes[1], *spreads) if len(sizes) == 2 else None


def _press(request: Request) -> Press | None:
    part = request.part("press")
    if part is None:
        return None
    outside = part.quantity("hub_outside", "size", "Give the hub's outside diameter.", above=0, within=FAR)
    bore = part.quantity("shaft_bore", "size", at_least=0, within=FAR)
    length = part.quantity("length", "size", above=0, within=FAR)
    friction = part.number("friction")
    if friction is not None and not 0 < friction <= 2:
        part.refuse("friction", "A coefficient of friction above zero is expected, such as 0.15.")
    if (length is None) != (friction is None) and not {"press.length", "press.friction"} & set(request.errors):
        part.refuse(
            "friction" if friction is None else "length",
            "Torque needs both the length and the coefficient of friction.",
        )
    rz = [part.quantity(key, "gap", at_least=0, within=ROUGH) or 0.0 for key in ("bore_rz", "shaft_rz")]
    rings = []
    for key in ("hub_modulus", "shaft_modulus"):
        modulus = part.quantity(key, "pressure", above=0)
        if modulus is not None and not 1_000 <= modulus <= 1_000_000:
            part.refuse(key, "A modulus lies between 1 000 and 1 000 000 MPa: is the unit right?")
        rings.append(Ring(modulus or STEEL_E_MPA, STEEL_NU))
    part.finish()
    if outside is None:
        return None
    return Press(outside, bore or 0.0, length, friction, rz[0] * 1000, rz[1] * 1000, rings[0], rings[1])


def _heating(request: Request) -> Heating | None:
    part = request.part("heating")
    if part is None:
        return None
    clearance = part.quantity(
        "assembly_clearance", "gap", "Say how much clearance is wanted while it slides on.", at_least=0, within=WIDE
    )
    shaft = part.quantity("shaft_temperature", "temperature", "Give the shaft's temperature.")
    alpha = part.number("expansion")
    if alpha is not None and not 1e-7 < alpha < 1e-3:
        part.refuse("expansion", "A coefficient of expansion per kelvin is expected, such as 0.0000116.")
    highest = part.quantity("highest", "temperature")
    for key, value in (("shaft_temperature", shaft), ("highest", highest)):
        if value is not None and not -100 <= value <= 1_000:
            part.refuse(key, "This lies outside -100 to 1 000 degC: is the unit right?")
    part.finish()
    if clearance is None or shaft is None:
        return None
    return Heating(clearance, shaft, STEEL_ALPHA_PER_K if alpha is None else alpha, highest)


def _taper(request: Request) -> float | None:
    part = request.part("taper")
    if part is None:
        return None
    ratio = part.number("ratio", "Give the taper as the length per unit of diameter, 16 for 1:16.")
    part.finish()
    if ratio is not None and not 1 < ratio < 10_000:
        part.refuse("ratio", "Give the taper as the length per unit of diameter, 16 for 1:16.")
    return ratio
