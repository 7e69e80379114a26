"""Is this bore with this shaft the fit that was specified: a measured pair, judged with its uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.special import ndtr, ndtri

from couplings.engineering.fits import CLEARANCE, DUST_MM, INTERFERENCE, FitError, SpecifiedFit

IN, CLOSE, OUT = "in tolerance", "too close to call", "out of tolerance"


@dataclass(frozen=True)
class Checked:
    """One measured figure against its band. [mm]

    `beyond_mm` is how far the value lies outside, 0 inside. `probability` that the true value lies inside.
    """

    name: str
    value_mm: float
    u_mm: float
    lower_mm: float
    upper_mm: float
    probability: float
    verdict: str

    @property
    def beyond_mm(self) -> float:
        """How far outside; positive above the band, negative below it. [mm]"""
        return max(0.0, self.value_mm - self.upper_mm) + min(0.0, self.value_mm - self.lower_mm)


@dataclass(frozen=True)
class PairJudgement:
    """A measured pair: its clearance against the fit, and each part against its own zone. [mm]"""

    fit: Checked
    bore: Checked
    shaft: Checked
    kind: str
    specified_kind: str
    reason: str

    @property
    def verdict(self) -> str:
        """The fit's; a part outside its zone is told in `reason`."""
        return self.fit.verdict


def clearance_mm(bore_mm: float, shaft_mm: float) -> float:
    """Bore less shaft as measured; negative is interference.

    Parameters
    ----------
    bore_mm, shaft_mm : float
        Measured diameters, both at the same temperature. [mm]

    Returns
    -------
    float
        ``bore - shaft``. [mm]

    Raises
    ------
    FitError
        A diameter that is not finite or not above zero.

    References
    ----------
    Arithmetic of a fit, ISO 286-1.
    """
    for field, size in (("bore", bore_mm), ("shaft_measured", shaft_mm)):
        if not math.isfinite(size) or size <= 0:
            raise FitError(field, "The diameter must be a finite number above zero.")
    return bore_mm - shaft_mm


def judge_pair(
    specified: SpecifiedFit,
    bore_mm: float,
    shaft_mm: float,
    bore_u_mm: float = 0.0,
    shaft_u_mm: float = 0.0,
    confidence: float = 0.95,
) -> PairJudgement:
    """A measured bore and shaft against the fit that was specified.

    Parameters
    ----------
    specified : SpecifiedFit
        Nominal size and both zones. [mm]
    bore_mm, shaft_mm : float
        Measured diameters at one temperature. [mm]
    bore_u_mm, shaft_u_mm : float
        Their standard uncertainties; the errors are taken as independent and normal. [mm]
    confidence : float
        Probability from which a figure counts as inside, or, as 1 less it, as outside.

    Returns
    -------
    PairJudgement
        Clearance against the fit, and each part against its own zone. [mm]

    Raises
    ------
    FitError
        A diameter, an uncertainty or a confidence that cannot be used.

    References
    ----------
    Decision rule ISO 14253-1 and JCGM 106; fit arithmetic ISO 286-1.
    """
    clearance = clearance_mm(bore_mm, shaft_mm)
    for field, u in (("bore_u", bore_u_mm), ("shaft_u", shaft_u_mm)):
        if not math.isfinite(u) or u < 0:
            raise FitError(field, "An uncertainty must be a finite number, not negative.")
    if not 0.5 < confidence < 1:
        raise FitError("confidence", "A probability between 0.5 and 1 is expected.")
    size = specified.nominal_mm
    least, most = specified.least_clearance_mm, specified.most_clearance_mm
    fit = _checked("fit", clearance, math.hypot(bore_u_mm, shaft_u_mm), least, most, confidence)
    bore, shaft = (
        _checked(name, value, u, size + zone.lower_mm, size + zone.upper_mm, confidence)
        for name, value, u, zone in (
            ("bore", bore_mm, bore_u_mm, specified.bore),
            ("shaft", shaft_mm, shaft_u_mm, specified.shaft),
        )
    )
    kind = INTERFERENCE if clearance < -DUST_MM else CLEARANCE
    return PairJudgement(fit, bore, shaft, kind, specified.kind, _reason(fit, bore, shaft))


def _checked(name: str, value: float, u: float, lower: float, upper: float, confidence: float) -> Checked:
    # Limits belong to their zone (ISO 286-1), and a difference of sizes leaves binary dust.
    inside = lower - DUST_MM <= value <= upper + DUST_MM
    probability = float(ndtr((upper - value) / u) - ndtr((lower - value) / u)) if u > 0 else float(inside)
    verdict = IN if probability >= confidence else OUT if probability <= 1 - confidence else CLOSE
    # Where the band is narrow against the uncertainty, a value in its middle must not read as out of it.
    if verdict == OUT and inside:
        verdict = CLOSE
    return Checked(name, value, u, lower, upper, probability, verdict)


def _reason(fit: Checked, bore: Checked, shaft: Checked) -> str:
    odd = [part.name for part in (bore, shaft) if part.verdict == OUT]
    if fit.verdict == CLOSE:
        return "The uncertainty of the two diameters reaches across an end of the fit: measure again, or finer."
    if fit.verdict == IN and odd:
        return f"The fit holds, though the {' and the '.join(odd)} alone would not: the two make up for each other."
    if fit.verdict == OUT and odd:
        return f"The {' and the '.join(odd)} lies outside its own zone." if len(odd) == 1 else "Both lie outside."
    return ""


def reach_mm(checked: Checked, confidence: float = 0.95) -> float:
    """Half width that stands behind a measured figure in words and drawings.

    Parameters
    ----------
    checked : Checked
        A judged figure. [mm]
    confidence : float
        One-sided, as the decision uses it.

    Returns
    -------
    float
        Quantile times standard uncertainty. [mm]

    References
    ----------
    JCGM 106.
    """
    return float(ndtri(confidence)) * checked.u_mm
