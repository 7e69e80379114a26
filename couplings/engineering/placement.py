"""Where a hub sits on its shaft: engagement, and the gap between two hubs' faces."""

from __future__ import annotations

import math


class PlacementError(ValueError):
    """A length that cannot be used; `field` names it."""

    def __init__(self, field: str, message: str) -> None:
        self.field, self.message = field, message
        super().__init__(f"{field}: {message}")


def engagement_mm(bore_length_mm: float, overhang_mm: float, shaft_length_mm: float) -> float:
    """Length of shaft inside the hub's bore.

    Parameters
    ----------
    bore_length_mm : float
        L. [mm]
    overhang_mm : float
        p, how far the hub's gap face stands past the shaft's end; negative: the shaft stands proud. [mm]
    shaft_length_mm : float
        S, straight length of the shaft from its end. [mm]

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
    _positive("shaft_length", shaft_length_mm)
    _finite("overhang", overhang_mm)
    return max(0.0, min(overhang_mm, 0.0) - max(overhang_mm - bore_length_mm, -shaft_length_mm))


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
