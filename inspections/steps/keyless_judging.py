"""What is said of a hub pushed up a taper or held by screws: advance, oil pressure and screw torque, judged.

The advance wanted follows from the interference that the data sheet's fit asks for; the pressure a hub needs to float
follows from the interference that the advance has made. No other figure is assumed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from couplings.calculations.figures import fine
from couplings.engineering.fits import FitError
from couplings.engineering.interference import press_pressure
from couplings.engineering.keyless import HydraulicFit, ShrinkDisc, hydraulic_findings, shrink_disc_findings
from couplings.engineering.pairs import IN, OUT
from couplings.models import HubHalf, SheetScrew
from inspections.steps.figures import NOT_KNOWN
from inspections.steps.mounting_judging import specified_of
from inspections.steps.registry import Place
from plant import units

ROUNDING = 0.01  # a figure converted from another unit and rounded differs by no more than this
ADVICE = "Advice to a competent person."


@dataclass(frozen=True)
class Said:
    """One figure of a mounting judged, in words."""

    subject: str
    verdict: str
    sentence: str


def advance_found(place: Place, nominal_mm: float | None, taper: int | None, advance_mm: float) -> Said:
    """The advance against the range that the data sheet's interference asks for on this taper."""
    system, version = place.system, place.version
    said = f"{fine(advance_mm, 'size', system)} of advance."
    if taper is None:
        return Said("Advance", NOT_KNOWN, f"{said} Enter the taper: the interference made follows from it.")
    specified = specified_of(place, nominal_mm)
    if specified is None:
        why = "The data sheet specifies no fit at this size, so that no advance follows from it."
        return Said("Advance", NOT_KNOWN, f"{said} {why}")
    tightest, loosest = -specified.least_clearance_mm, max(0.0, -specified.most_clearance_mm)
    if tightest <= 0:
        return Said("Advance", NOT_KNOWN, f"{said} {version.fit_hole}/{version.fit_shaft} is no interference fit.")
    least, most = loosest * taper, tightest * taper
    record = HydraulicFit(
        advance_mm=advance_mm, advance_wanted_mm=(least + most) / 2, advance_tolerance_mm=(most - least) / 2
    )
    verdict = next(one.verdict for one in hydraulic_findings(record) if one.field == "advance_mm")
    ends = [fine(end, "size", system) for end in (least, most)]
    pressed = [fine(end, "gap", system) for end in (loosest, tightest)]
    asked = (
        f"{version.fit_hole}/{version.fit_shaft} is {pressed[0]} to {pressed[1]} of interference, on a taper of "
        f"1:{taper} {ends[0]} to {ends[1]} of advance."
    )
    return Said("Advance", verdict, f"{said} {asked} {ADVICE}")


def pressure_found(
    place: Place, nominal_mm: float | None, taper: int | None, advance_mm: float | None, pressure_mpa: float
) -> Said:
    """The oil's pressure against the one in the fit: below it a steel hub on a solid shaft does not float."""
    system, outside = place.system, place.version.hub_diameter_mm
    said = f"{units.written(pressure_mpa, 'pressure', system)} of oil pressure."
    missing = [
        words
        for words, known in (
            ("the nominal size", nominal_mm),
            ("the taper", taper),
            ("the advance", advance_mm),
            ("the hub's diameter on the data sheet", outside),
        )
        if known is None
    ]
    if nominal_mm is None or taper is None or advance_mm is None or outside is None:
        return Said("Oil pressure", NOT_KNOWN, f"{said} Missing: {', '.join(missing)}.")
    try:
        needed = press_pressure(advance_mm / taper, nominal_mm, outside).pressure_mpa
    except FitError as error:
        return Said("Oil pressure", NOT_KNOWN, f"{said} {error.message}")
    asked = units.written(needed, "pressure", system)
    tail = f"At this advance the fit itself has {asked} (thick ring, steel hub on a solid steel shaft)"
    if pressure_mpa < needed * (1 - ROUNDING):
        why = f"{tail}: oil below that does not float the hub. See that it sits where it belongs. {ADVICE}"
        return Said("Oil pressure", OUT, f"{said} {why}")
    return Said("Oil pressure", IN, f"{said} {tail}. {ADVICE}")


def screws_found(place: Place, wanted_nm: float | None, source: str, torque_nm: float) -> Said:
    """Torque of the screws that hold a hub, against what the data sheet states for its bore."""
    said = f"{units.written(torque_nm, 'screw-torque', place.system)} at its screws."
    if wanted_nm is None:
        return Said("Screws of the hub", NOT_KNOWN, f"{said} The data sheet states no torque for them at this bore.")
    near = abs(torque_nm / wanted_nm - 1) <= ROUNDING
    record = ShrinkDisc(screw_torque_nm=wanted_nm if near else torque_nm, screw_torque_wanted_nm=wanted_nm)
    verdict = next(one.verdict for one in shrink_disc_findings(record) if one.field == "screw_torque_nm")
    asked = units.written(wanted_nm, "screw-torque", place.system)
    return Said("Screws of the hub", verdict, f"{said} The data sheet asks {asked} ({source}).")


def screws_asked(place: Place, bore_mm: float | None) -> tuple[float | None, str]:
    """Torque of the screws that hold a hub at this bore and its source, from the data sheet's table. [N*m]"""
    if bore_mm is None:
        return None, ""
    clamps = [row for row in place.screws if row.kind == SheetScrew.Kind.CLAMP]
    row = next((one for one in clamps if one.over_bore_mm < bore_mm <= one.up_to_bore_mm), None)
    return (row.torque_nm, row.source) if row is not None else (None, "")


def before_told(half: HubHalf | None, system: str) -> str:
    """What this half was mounted with before, where that is on record; "" where nothing is."""
    if half is None:
        return ""
    said = []
    for name, words, kind in (("advance_mm", "advance", "size"), ("pressure_mpa", "oil pressure", "pressure")):
        figure = getattr(half, name)
        if figure is not None:
            said.append(f"{words} {units.written(figure, kind, system)}")
    number = f" {half.serial}" if half.serial else ""
    return f"On record of this hub half{number}: {', '.join(said)}." if said else ""


def apart_told(half: HubHalf | None, kind: str, measured: Mapping[str, Any], system: str) -> list[str]:
    """In what a hub is not the half that the fit has on record: its bore, its key, how it is held.

    A bore is another one beyond twice the uncertainty of both measurements together (coverage factor 2, JCGM 100:2008,
    G.6.6, from memory), the one on record taken as uncertain as this one. Without an uncertainty, and of a key, it is
    another one when it prints differently.
    """
    if half is None:
        return []
    number = f" {half.serial}" if half.serial else ""
    said = []
    for name, words in (("bore_mm", "bore"), ("key_width_mm", "key width"), ("key_height_mm", "key height")):
        was, now = getattr(half, name), measured.get(name)
        if was is None or now is None:
            continue
        u = measured.get("bore_u_mm") if name == "bore_mm" else None
        before, after = fine(was, "size", system), fine(now, "size", system)
        if abs(now - was) > 2 * math.sqrt(2) * u if u is not None else before != after:
            said.append(f"{words} {before} on record, {after} measured")
    if kind and half.mounting_kind and kind != half.mounting_kind:
        said.append(f"held by: {half.get_mounting_kind_display()} on record")
    if not said:
        return []
    tail = "See that it is the same half; another one is entered in the fit as an exchange."
    return [f"This is not as the fit has its hub half{number}: {'; '.join(said)}. {tail}"]
