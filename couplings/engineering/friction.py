"""Torque per preload from friction and geometry: the long forms, each named, and the preload a yield strength allows.

All are linear in the preload, so each gives a nut factor K of T = K D F. They agree within 1 % on one geometry.
"""

from __future__ import annotations

import math

from couplings.engineering.threads import FastenerError, Thread, positive

HALF_ANGLE = math.radians(30)
MOST_FRICTION = 1.0
FORMS = {
    "shigley": "Shigley, 9th ed., eq. 8-26",
    "motosh": "Motosh",
    "vdi": "VDI 2230 / DIN 946",
    "iso-16047": "ISO 16047 (Kellermann and Klein)",
    "mil-hdbk-60": "MIL-HDBK-60 App. B",
}
BEARING_BUILT_IN = ("shigley", "mil-hdbk-60")


def shigley_nut_factor(
    diameter_mm: float,
    pitch_mm: float,
    minor_diameter_mm: float,
    mu_thread: float,
    mu_bearing: float,
    bearing_diameter_mm: float | None = None,
) -> float:
    """K by Shigley's eq. 8-26, thread of 60 degrees.

    Parameters
    ----------
    diameter_mm, pitch_mm, minor_diameter_mm : float
        d, P and root diameter d_r; the thread acts at d_m = (d + d_r)/2. [mm]
    mu_thread, mu_bearing : float
        Friction in the thread and under the head or nut. [1]
    bearing_diameter_mm : float, optional
        Mean diameter of the bearing face; 1.25 d if not given, which is the 0.625 of the printed form. [mm]

    Returns
    -------
    float
        ``(dm/2d)(tan L + f sec A)/(1 - f tan L sec A) + fc dc/(2 d)``. [1]

    Raises
    ------
    FastenerError
        Friction out of range, or so much that the thread cannot be turned.

    References
    ----------
    Shigley's Mechanical Engineering Design, 9th ed., eq. 8-26 p. 438, Example 8-3.
    """
    _friction(mu_thread, mu_bearing)
    mean = (diameter_mm + minor_diameter_mm) / 2
    lead = pitch_mm / (math.pi * mean)
    secant = 1 / math.cos(HALF_ANGLE)
    below = 1 - mu_thread * lead * secant
    if below <= 0:
        raise FastenerError("friction.thread", "This thread cannot be turned with so much friction.")
    bearing = 1.25 * diameter_mm if bearing_diameter_mm is None else bearing_diameter_mm
    return mean / (2 * diameter_mm) * (lead + mu_thread * secant) / below + mu_bearing * bearing / (2 * diameter_mm)


def motosh_mm(
    pitch_mm: float, pitch_diameter_mm: float, bearing_diameter_mm: float, mu_thread: float, mu_bearing: float
) -> float:
    """Torque per preload after Motosh.

    Parameters
    ----------
    pitch_mm, pitch_diameter_mm : float
        P and d2; the thread acts at r_t = d2/2. [mm]
    bearing_diameter_mm : float
        Mean diameter under the head or nut. [mm]
    mu_thread, mu_bearing : float
        Friction. [1]

    Returns
    -------
    float
        ``P/(2 pi) + mu_t r_t / cos 30 + mu_b r_b``. [N*mm per N]

    References
    ----------
    Machine Design, article on nut factors, 2009.
    """
    _friction(mu_thread, mu_bearing)
    thread = mu_thread * pitch_diameter_mm / 2 / math.cos(HALF_ANGLE)
    return pitch_mm / (2 * math.pi) + thread + mu_bearing * bearing_diameter_mm / 2


def vdi_mm(
    pitch_mm: float, pitch_diameter_mm: float, bearing_diameter_mm: float, mu_thread: float, mu_bearing: float
) -> float:
    """Torque per preload as VDI 2230 and DIN 946 print it: `motosh_mm` with its constants rounded.

    Parameters
    ----------
    pitch_mm, pitch_diameter_mm, bearing_diameter_mm : float
        P, d2 and mean diameter of the bearing face. [mm]
    mu_thread, mu_bearing : float
        Friction in the thread and under the head or nut. [1]

    Returns
    -------
    float
        ``0.159 P + 0.578 mu_t d2 + mu_b Dkm/2``. [N*mm per N]

    References
    ----------
    Machine Design, article on nut factors, 2009.
    """
    _friction(mu_thread, mu_bearing)
    return 0.159 * pitch_mm + 0.578 * mu_thread * pitch_diameter_mm + mu_bearing * bearing_diameter_mm / 2


def iso_16047_mm(
    pitch_mm: float, pitch_diameter_mm: float, bearing_diameter_mm: float, mu_thread: float, mu_bearing: float
) -> float:
    """Torque per preload by ISO 16047, which keeps the product of lead and friction; some 0.5 % above `motosh_mm`.

    Parameters
    ----------
    pitch_mm, pitch_diameter_mm, bearing_diameter_mm : float
        P, d2 and mean diameter of the bearing face. [mm]
    mu_thread, mu_bearing : float
        Friction in the thread and under the head or nut. [1] (Do + dh)/2 is the mean bearing diameter.

    Returns
    -------
    float
        ``(P + 1.154 pi mu_t d2) / (2 (pi - 1.154 mu_t P/d2)) + mu_b (Do + dh)/4``. [N*mm per N]

    References
    ----------
    ISO 16047 after Kellermann and Klein, in Machine Design, article on nut factors, 2009.
    """
    _friction(mu_thread, mu_bearing)
    below = math.pi - 1.154 * mu_thread * pitch_mm / pitch_diameter_mm
    thread = 0.5 * (pitch_mm + 1.154 * math.pi * mu_thread * pitch_diameter_mm) / below
    return thread + mu_bearing * bearing_diameter_mm / 2


def mil_hdbk_60_coefficients(
    pitch_over_diameter: float = 0.92, bearing_over_diameter: float = 1.5
) -> tuple[float, float]:
    """Coefficients of d in MIL-HDBK-60's form.

    Parameters
    ----------
    pitch_over_diameter, bearing_over_diameter : float
        d2/d, and outer diameter of the bearing face over d. [1]

    Returns
    -------
    (thread, bearing)
        The thread acts at d2/2 = 0.46 d on a flank of 30 degrees; the face reaches from d to 1.5 d. [1]

    References
    ----------
    MIL-HDBK-60, App. B.
    """
    return pitch_over_diameter / 2 / math.cos(HALF_ANGLE), (1 + bearing_over_diameter) / 4


def mil_hdbk_60_mm(lead_mm: float, diameter_mm: float, mu_thread: float, mu_bearing: float) -> float:
    """Torque per preload by MIL-HDBK-60.

    Parameters
    ----------
    lead_mm, diameter_mm : float
        L and d. [mm]
    mu_thread, mu_bearing : float
        Friction in the thread and under the head or nut. [1]

    Returns
    -------
    float
        ``L/(2 pi) + d (0.531 mu1 + 0.625 mu2)``. [N*mm per N]

    References
    ----------
    MIL-HDBK-60, App. B.
    """
    _friction(mu_thread, mu_bearing)
    thread, bearing = mil_hdbk_60_coefficients()
    return lead_mm / (2 * math.pi) + diameter_mm * (thread * mu_thread + bearing * mu_bearing)


def nut_factor_by_friction(
    form: str, thread: Thread, mu_thread: float, mu_bearing: float, bearing_diameter_mm: float | None = None
) -> float:
    """K of a thread by one of FORMS.

    Parameters
    ----------
    form : str
        Key of FORMS; the forms agree within 1 % on one geometry, and which one was used is named.
    mu_thread, mu_bearing : float
        Friction in the thread and under the head or nut, above 0 up to 1. [1]
    bearing_diameter_mm : float, optional
        Mean diameter of the bearing face, (head + hole)/2. Needed but for 'shigley' (1.25 d if not given) and
        'mil-hdbk-60' (1.25 d built in). [mm]

    Returns
    -------
    float
        Torque over diameter times preload. [1]

    Raises
    ------
    FastenerError
        No such form, friction out of range, a bearing diameter missing, not above the thread's or far from it.

    References
    ----------
    As the form's own function; see FORMS.
    """
    if form not in FORMS:
        raise FastenerError("friction.form", f"Choose one of: {', '.join(FORMS)}.")
    d, pitch, d2 = thread.diameter_mm, thread.pitch_mm, thread.pitch_diameter_mm
    if bearing_diameter_mm is None:
        if form not in BEARING_BUILT_IN:
            raise FastenerError("friction.bearing_diameter", "This form needs the mean diameter under the head or nut.")
    elif form == "mil-hdbk-60":
        raise FastenerError("friction.bearing_diameter", "This form has its bearing face built in (1.25 times d).")
    else:
        positive("friction.bearing_diameter", bearing_diameter_mm)
        if not d < bearing_diameter_mm < 4 * d:
            raise FastenerError(
                "friction.bearing_diameter", "The mean bearing diameter lies between one and four thread diameters."
            )
    if form == "shigley":
        return shigley_nut_factor(d, pitch, thread.minor_diameter_mm, mu_thread, mu_bearing, bearing_diameter_mm)
    if form == "mil-hdbk-60":
        return mil_hdbk_60_mm(pitch, d, mu_thread, mu_bearing) / d
    long_form = {"motosh": motosh_mm, "vdi": vdi_mm, "iso-16047": iso_16047_mm}[form]
    assert bearing_diameter_mm is not None  # refused above
    return long_form(pitch, d2, bearing_diameter_mm, mu_thread, mu_bearing) / d


def assembly_preload_n(thread: Thread, yield_mpa: float, mu_thread: float, share: float = 0.9) -> float:
    """Preload at which tension and torsion together reach a share of the yield strength.

    Parameters
    ----------
    yield_mpa : float
        Rp0.2. [MPa]
    mu_thread : float
        Friction in the thread. [1]
    share : float
        Of the yield strength, 0.9 in VDI's tables. [1]

    Returns
    -------
    float
        ``share Rp A0 / sqrt(1 + 3 (1.5 (d2/d0)(P/(pi d2) + 1.155 mu))^2)``. [N]

    Raises
    ------
    FastenerError
        A yield strength not above zero, friction out of range, a share outside (0, 1].

    References
    ----------
    VDI 2230-1:2015; its tables agree within 0.8 %.
    """
    positive("yield", yield_mpa)
    _friction(mu_thread, mu_thread)
    if not 0 < share <= 1:
        raise FastenerError("share", "A share of the yield strength is above 0 and at most 1.")
    d2 = thread.pitch_diameter_mm
    twist = 1.5 * d2 / thread.stress_diameter_mm * (thread.pitch_mm / (math.pi * d2) + 1.155 * mu_thread)
    return share * yield_mpa * thread.area_mm2 / math.sqrt(1 + 3 * twist**2)


def _friction(mu_thread: float, mu_bearing: float) -> None:
    for name, mu in (("thread", mu_thread), ("bearing", mu_bearing)):
        if not (math.isfinite(mu) and 0 < mu <= MOST_FRICTION):
            raise FastenerError(f"friction.{name}", "A coefficient of friction is above 0 and at most 1.")
