"""What is said of a hub's fit, its key and its mounting, in the site's units. Thousandths of a millimetre matter."""

from __future__ import annotations

from dataclasses import dataclass

from couplings.calculations.figures import fine
from couplings.engineering.fits import CLEARANCE, INTERFERENCE, FitError, SpecifiedFit, kind_of, specified_fit
from couplings.engineering.interference import heating_rise_k
from couplings.engineering.keys import KeyStockError, inch_key, metric_key
from couplings.engineering.pairs import IN, OUT, clearance_mm, judge_pair
from couplings.engineering.tables.keys import INCH_MM
from inspections.steps.figures import NOT_KNOWN
from inspections.steps.registry import Place
from plant import units

# A nominal size further from what was measured than this belongs to another hub: taken as the larger of both. Nominal
# sizes of shafts lie further apart, wear lies within. Common practice.
FAR_MM, FAR_SHARE = 1.0, 0.02
# Key stock has tolerances of tenths at most, standard sizes lie half a millimetre apart or more. Common practice.
KEY_OFF_MM = 0.2


@dataclass(frozen=True)
class FitFound:
    """A measured pair in words. Clearance is bore less shaft. [mm]"""

    clearance_mm: float
    verdict: str
    sentence: str
    probability: float | None = None


def specified_of(place: Place, nominal_mm: float | None) -> SpecifiedFit | None:
    """The fit that the data sheet asks for at this size; None where it asks for none, or not at this size."""
    version = place.version
    if not (version.fit_hole and version.fit_shaft) or nominal_mm is None:
        return None
    try:
        return specified_fit(nominal_mm, version.fit_hole, version.fit_shaft)
    except FitError:
        return None


def fit_found(
    place: Place,
    nominal_mm: float | None,
    bore_mm: float,
    shaft_mm: float,
    bore_u_mm: float | None,
    shaft_u_mm: float | None,
) -> FitFound:
    """The pair against the data sheet's fit; not known where something to judge by is missing, and what."""
    version, system = place.version, place.system
    clearance = clearance_mm(bore_mm, shaft_mm)
    said = tightness(clearance, system).capitalize()
    specified = specified_of(place, nominal_mm)
    why = ""
    if not version.fit_hole:
        why = "The data sheet specifies no fit."
    elif nominal_mm is None:
        why = "Enter the nominal size: the data sheet states no bore."
    elif max(abs(bore_mm - nominal_mm), abs(shaft_mm - nominal_mm)) > max(FAR_MM, FAR_SHARE * nominal_mm):
        size = units.written(nominal_mm, "size", system)
        why = f"These diameters do not belong to a nominal size of {size}: enter that of this side."
    elif specified is None:
        why = f"The table of fits does not hold {units.written(nominal_mm, 'size', system)}."
    elif bore_u_mm is None or shaft_u_mm is None:
        why = (
            f"{_asked(specified, place)} Name both instruments, their uncertainty in the register: a fit is decided in "
            "thousandths."
        )
    if why or specified is None or bore_u_mm is None or shaft_u_mm is None:
        return FitFound(clearance, NOT_KNOWN, f"{said}. {why}")
    found = judge_pair(specified, bore_mm, shaft_mm, bore_u_mm, shaft_u_mm, place.site.confidence)
    beyond = found.fit.beyond_mm
    if found.verdict == OUT and beyond:
        said += f", {fine(abs(beyond), 'gap', system)} {'looser' if beyond > 0 else 'tighter'} than it may be"
    chance = min(max(round(found.fit.probability * 100), 1), 99)
    sentence = f"{said}. {_asked(specified, place)} The probability that it is kept is about {chance} %."
    return FitFound(
        clearance, found.verdict, f"{sentence} {found.reason}".strip(), units.without_dust(found.fit.probability)
    )


def tightness(clearance: float, system: str) -> str:
    """ "clearance 0.012 mm" or "interference 0.012 mm"."""
    name = INTERFERENCE if kind_of(clearance, clearance) == INTERFERENCE else CLEARANCE
    return f"{name} {fine(abs(clearance), 'gap', system)}"


def _asked(specified: SpecifiedFit, place: Place) -> str:
    version, system = place.version, place.system
    ends = [tightness(end, system) for end in (specified.least_clearance_mm, specified.most_clearance_mm)]
    size = units.written(specified.nominal_mm, "size", system)
    kind = {CLEARANCE: "a clearance", INTERFERENCE: "an interference"}.get(specified.kind, "a transition")
    return (
        f"{version.fit_hole}/{version.fit_shaft} at {size} is {kind} fit, from {ends[0]} to {ends[1]} "
        f"({specified.bore.source})."
    )


def key_found(place: Place, nominal_mm: float | None, width_mm: float, height_mm: float) -> tuple[str, str]:
    """Verdict and sentence of a key against the size that the data sheet's standard gives to this shaft."""
    system, version = place.system, place.version
    found = _key_words(width_mm, height_mm, system)
    standard = version.get_key_standard_display()
    if version.key_standard == version.KeyStandard.NONE:
        return OUT, f"{found}. The data sheet has no key here."
    if not version.key_standard:
        return NOT_KNOWN, f"{found}. The data sheet names no standard of keys."
    if nominal_mm is None:
        return NOT_KNOWN, f"{found}. Enter the nominal size: the size of a key follows from it."
    size = units.written(nominal_mm, "size", system)
    try:
        sizes, source = _standard_sizes(version.key_standard, nominal_mm)
    except KeyStockError:
        return NOT_KNOWN, f"{found}. {standard} has no row for a shaft of {size}."
    asked = " or ".join(_key_words(width, height, system) for width, height in sizes)
    fits = any(abs(width_mm - w) <= KEY_OFF_MM and abs(height_mm - h) <= KEY_OFF_MM for w, h in sizes)
    return (IN if fits else OUT), f"{found}; for a shaft of {size} the standard has {asked} ({source})."


def _standard_sizes(standard: str, nominal_mm: float) -> tuple[list[tuple[float, float]], str]:
    if standard == "din-6885":
        row = metric_key(nominal_mm)
        return [(row.width_mm, row.height_mm)], row.source
    inch = inch_key(nominal_mm / INCH_MM)
    heights = [inch.height_mm(shape) for shape in ("square", "rectangular")]
    return [(inch.width_mm, height) for height in heights if height is not None], inch.source


def _key_words(width_mm: float, height_mm: float, system: str) -> str:
    return f"{fine(width_mm, 'size', system)} × {fine(height_mm, 'size', system)}"


def heating_told(
    place: Place,
    specified: SpecifiedFit | None,
    clearance: float | None,
    nominal_mm: float | None,
    wanted_mm: float | None,
    shaft_c: float | None,
) -> tuple[str, float | None]:
    """What the hub has to be heated to, in words, and as a temperature where that of the shaft is known. [degC]"""
    measured = clearance is not None
    if clearance is None:
        clearance = specified.least_clearance_mm if specified is not None else None
    if clearance is None or nominal_mm is None:
        return "Measure bore and shaft, and enter the nominal size: the heating follows from the interference.", None
    if kind_of(clearance, clearance) != INTERFERENCE:
        return "There is no interference: nothing needs heating.", None
    system, tight = place.system, -clearance
    wanted = tight if wanted_mm is None else wanted_mm
    rise = heating_rise_k(tight, wanted, nominal_mm)
    how = "as measured" if measured else "at the tight end of the fit specified"
    room = "as much again (common practice)" if wanted_mm is None else fine(wanted, "gap", system)
    why = f"interference {fine(tight, 'gap', system)} {how}, {room} of clearance while it slides on, hub of steel"
    hotter = units.written(rise, "temperature-difference", system)
    if shaft_c is None:
        return f"Heat the hub at least {hotter} above the shaft: {why}. Advice to a competent person.", None
    needed = shaft_c + rise
    to = units.written(needed, "temperature", system)
    return f"Heat the hub to at least {to}, {hotter} above the shaft: {why}. Advice to a competent person.", needed


def advance_told(place: Place, advance_mm: float, taper: int) -> str:
    """The interference that an advance on a taper has made: advance over taper, hand-tight being nought."""
    pressed = fine(advance_mm / taper, "gap", place.system)
    return f"{fine(advance_mm, 'size', place.system)} of advance on a taper of 1:{taper} is {pressed} of interference."
