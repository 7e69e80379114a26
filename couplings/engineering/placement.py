"""Where a hub sits on its shaft: engagement, flange planes, and what stays free between two hubs and two shaft ends.

One side: the shaft's end at 0, the other half of the coupling ahead. The shaft is there from -S to 0, the bore from
p - L to p, p being the overhang. Which way round a hub can stand, and where, is orientations.py.
"""

from __future__ import annotations

import math


class PlacementError(ValueError):
    """A length that cannot be used; `field` names it."""

    def __init__(self, field: str, message: str) -> None:
        self.field, self.message = field, message
        super().__init__(f"{field}: {message}")


def engagement_mm(bore_length_mm: float, overhang_mm: float, shaft_length_mm: float | None = None) -> float:
    """Length of shaft inside the hub's bore.

    Parameters
    ----------
    bore_length_mm : float
        L. [mm]
    overhang_mm : float
        p, how far the hub's gap face stands past the shaft's end; negative: the shaft stands proud. [mm]
    shaft_length_mm : float, optional
        S, straight length of the shaft from its end; None: longer than any bore. [mm]

    Returns
    -------
    float
        ``max(0, min(p, 0) - max(p - L, -S))``. [mm]

    Raises
    ------
    PlacementError
        A length that is missing, not finite or, for L and S, not above zero.

    References
    ----------
    Interval geometry along the shaft: the shaft spans [-S, 0], the bore [p - L, p].
    """
    _positive("bore_length", bore_length_mm)
    _finite("overhang", overhang_mm)
    back = overhang_mm - bore_length_mm
    if shaft_length_mm is not None:
        _positive("shaft_length", shaft_length_mm)
        back = max(back, -shaft_length_mm)
    return max(0.0, min(overhang_mm, 0.0) - back)


def engaged_share(bore_length_mm: float, overhang_mm: float, shaft_length_mm: float | None = None) -> float:
    """Engagement as a share of the bore, 0 to 1.

    Parameters
    ----------
    bore_length_mm, overhang_mm, shaft_length_mm : float
        As for `engagement_mm`. [mm]

    Returns
    -------
    float
        ``e / L``. [1]

    Raises
    ------
    PlacementError
        As `engagement_mm`.

    References
    ----------
    The limit it is held against, 80 % of the bore, is common practice.
    """
    return engagement_mm(bore_length_mm, overhang_mm, shaft_length_mm) / bore_length_mm


def most_overhang_mm(bore_length_mm: float, share: float, at_least_mm: float = 0.0) -> float:
    """How far a hub may stand past its shaft's end and still be engaged enough, on a shaft that is long enough.

    Parameters
    ----------
    bore_length_mm : float
        L. [mm]
    share : float
        Least share of the bore that must be on the shaft, 0 to 1. [1]
    at_least_mm : float
        Least engagement as a length, such as one shaft diameter; 0: no such rule. [mm]

    Returns
    -------
    float
        ``min((1 - share) L, L - at_least)``; negative: even a flush hub is engaged too little. [mm]

    Raises
    ------
    PlacementError
        A length that is not finite or not above zero, a share outside 0 to 1.

    References
    ----------
    80 % of the bore and one shaft diameter: common practice.
    """
    _positive("bore_length", bore_length_mm)
    _finite("at_least", at_least_mm)
    if not 0 <= share <= 1:
        raise PlacementError("share", "A share between 0 and 1 is expected.")
    return min((1 - share) * bore_length_mm, bore_length_mm - at_least_mm)


def flange_behind_gap_face_mm(bore_length_mm: float, flange_mm: float, reversed_: bool) -> float:
    """Where the flange plane lies behind the face that looks into the gap.

    Parameters
    ----------
    bore_length_mm : float
        L. [mm]
    flange_mm : float
        u, the flange plane behind the hub's flange-side face; negative: in front of it. [mm]
    reversed_ : bool
        False: the flange side faces the gap. True: it faces the machine.

    Returns
    -------
    float
        o: ``u`` facing in, ``L - u`` reversed. [mm]

    Raises
    ------
    PlacementError
        A length that is missing, not finite or, for L, not above zero.

    References
    ----------
    Interval geometry along the hub.
    """
    _positive("bore_length", bore_length_mm)
    _finite("flange", flange_mm)
    return bore_length_mm - flange_mm if reversed_ else flange_mm


def plane_to_plane_mm(
    dbse_mm: float, overhang_1_mm: float, overhang_2_mm: float, behind_1_mm: float, behind_2_mm: float
) -> float:
    """Distance between the two flange planes: the length an element or spacer must have.

    Parameters
    ----------
    dbse_mm : float
        Distance between the shaft ends. [mm]
    overhang_1_mm, overhang_2_mm : float
        p, how far each gap face stands past its shaft's end; negative: the shaft stands proud. [mm]
    behind_1_mm, behind_2_mm : float
        o, each flange plane behind its gap face (`flange_behind_gap_face_mm`). [mm]

    Returns
    -------
    float
        E: ``DBSE - p1 - p2 + o1 + o2``. [mm]

    Raises
    ------
    PlacementError
        A length that is missing or not finite.

    References
    ----------
    Both machines on one number line: the planes lie at ``p1 - o1`` and ``DBSE - p2 + o2``.
    """
    for name, length in (("behind_1", behind_1_mm), ("behind_2", behind_2_mm)):
        _finite(name, length)
    return hub_face_gap_mm(dbse_mm, overhang_1_mm, overhang_2_mm) + behind_1_mm + behind_2_mm


def overhangs_needed_mm(dbse_mm: float, length_mm: float, behind_1_mm: float, behind_2_mm: float) -> float:
    """What both overhangs add up to with an element of this length in place.

    Parameters
    ----------
    dbse_mm : float
        Distance between the shaft ends. [mm]
    length_mm : float
        E, the element's or spacer's length from flange plane to flange plane. [mm]
    behind_1_mm, behind_2_mm : float
        o, each flange plane behind its gap face. [mm]

    Returns
    -------
    float
        ``p1 + p2 = DBSE + o1 + o2 - E``. [mm]

    Raises
    ------
    PlacementError
        A length that is missing or not finite.

    References
    ----------
    `plane_to_plane_mm` solved for the overhangs.
    """
    _finite("length", length_mm)
    return plane_to_plane_mm(dbse_mm, 0.0, 0.0, behind_1_mm, behind_2_mm) - length_mm


def running_clearance_mm(distance_mm: float, growth_1_mm: float, growth_2_mm: float, float_in_mm: float) -> float:
    """What stays free between two shaft ends (or hub faces) hot and with the rotors floated towards each other.

    Parameters
    ----------
    distance_mm : float
        The cold distance: DBSE, or the gap between the hubs' faces. [mm]
    growth_1_mm, growth_2_mm : float
        How far each shaft's end grows towards the other; negative: away. [mm]
    float_in_mm : float
        How far the rotors can float towards each other, both together. [mm]

    Returns
    -------
    float
        ``distance - growth 1 - growth 2 - float``; at or below zero they touch. [mm]

    Raises
    ------
    PlacementError
        A length that is missing or not finite, a float below zero.

    References
    ----------
    Interval geometry. That shaft ends must never touch: common practice.
    """
    for name, length in (("distance", distance_mm), ("growth_1", growth_1_mm), ("growth_2", growth_2_mm)):
        _finite(name, length)
    _finite("float_in", float_in_mm)
    if float_in_mm < 0:
        raise PlacementError("float_in", "The inward float cannot be below zero.")
    return distance_mm - growth_1_mm - growth_2_mm - float_in_mm


def hub_face_gap_mm(shaft_ends_mm: float, overhang_1_mm: float, overhang_2_mm: float) -> float:
    """Gap between the hubs' faces; negative: they overlap and cannot be fitted so.

    Parameters
    ----------
    shaft_ends_mm : float
        DBSE, distance between the shaft ends. [mm]
    overhang_1_mm, overhang_2_mm : float
        How far each hub's gap face stands past its shaft's end; negative: the shaft stands proud. [mm]

    Returns
    -------
    float
        ``DBSE - p1 - p2``. [mm]

    Raises
    ------
    PlacementError
        A distance that is missing or not finite.

    References
    ----------
    Interval geometry along the shaft, as `engagement_mm`.
    """
    for name, length in (("dbse", shaft_ends_mm), ("overhang_1", overhang_1_mm), ("overhang_2", overhang_2_mm)):
        _finite(name, length)
    return shaft_ends_mm - overhang_1_mm - overhang_2_mm


def _finite(name: str, length_mm: float) -> None:
    if not math.isfinite(length_mm):
        raise PlacementError(name, "This length is missing or not a finite number.")


def _positive(name: str, length_mm: float) -> None:
    _finite(name, length_mm)
    if length_mm <= 0:
        raise PlacementError(name, "This length must be above zero.")
