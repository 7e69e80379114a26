"""Parallel keys: size by shaft diameter and depth of the keyseats. What a key carries is in `keystress`."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from couplings.engineering.tables.keys import (
    ASME_B17_1,
    DIN_6885,
    INCH_MM,
    InchKey,
    MetricKey,
)

HUB_CLEARANCE_MM = 0.005 * INCH_MM  # ASME B17.1 Table 2, from memory


class KeyStockError(ValueError):
    """A size or load that cannot be used; `field` names it."""

    def __init__(self, field: str, message: str) -> None:
        self.field, self.message = field, message
        super().__init__(f"{field}: {message}")


@dataclass(frozen=True)
class KeyseatDepths:
    """ASME B17.1 depths: `shaft_mm` (S) from the far side of the shaft, `hub_mm` (T) of the bore. [mm]

    `chord_mm` (Y) is the height of the arc that the keyseat cuts off.
    """

    chord_mm: float
    shaft_mm: float
    hub_mm: float


def metric_key(shaft_mm: float, rows: Sequence[MetricKey] = DIN_6885) -> MetricKey:
    """The key of a metric shaft.

    Parameters
    ----------
    shaft_mm : float
        Shaft diameter; a diameter on the edge of two rows belongs to the lower. [mm]
    rows : sequence of MetricKey
        Starter: DIN 6885-1, over 6 up to 230 mm. [mm]

    Returns
    -------
    MetricKey
        Width, height and keyway depths. [mm]

    Raises
    ------
    KeyStockError
        No row holds the diameter.

    References
    ----------
    DIN 6885-1 / ISO 773.
    """
    above_zero("shaft", shaft_mm)
    for row in rows:
        if row.over_mm < shaft_mm <= row.up_to_mm:
            return row
    raise KeyStockError("shaft", f"No row holds {shaft_mm:g} mm: the table serves {_span(rows)} mm.")


def inch_key(shaft_in: float, rows: Sequence[InchKey] = ASME_B17_1) -> InchKey:
    """The key of an inch shaft.

    Parameters
    ----------
    shaft_in : float
        Shaft diameter; a diameter on the edge of two rows belongs to the lower. [inch]
    rows : sequence of InchKey
        Starter: ASME B17.1, over 5/16 up to 6 1/2 inch. [inch]

    Returns
    -------
    InchKey
        Square and rectangular key as printed. [inch]

    Raises
    ------
    KeyStockError
        No row holds the diameter.

    References
    ----------
    ASME B17.1 Table 1.
    """
    above_zero("shaft", shaft_in)
    for row in rows:
        # A diameter that came from millimetres carries binary dust at a row's edge.
        if row.over_in + 1e-9 < shaft_in <= row.up_to_in + 1e-9:
            return row
    span = f"over {rows[0].over_in:g} up to {rows[-1].up_to_in:g}" if rows else "no"
    raise KeyStockError("shaft", f"No row holds {shaft_in:g} inch: the table serves {span} inch.")


def keyseat_depths(
    shaft_mm: float, width_mm: float, height_mm: float, clearance_mm: float = HUB_CLEARANCE_MM
) -> KeyseatDepths:
    """Depths to measure at a keyseat in shaft and hub by the inch standard.

    Parameters
    ----------
    shaft_mm, width_mm, height_mm : float
        Diameter, key width and height. [mm]
    clearance_mm : float
        Over the key in the hub; starter 0.005 inch. [mm]

    Returns
    -------
    KeyseatDepths
        ``Y = (D - sqrt(D^2 - W^2))/2``, ``S = D - Y - H/2``, ``T = D - Y + H/2 + C``. [mm]

    Raises
    ------
    KeyStockError
        A size that is not finite or above zero, a key wider than the shaft.

    References
    ----------
    ASME B17.1 Table 2, from memory.
    """
    for field, size in (("shaft", shaft_mm), ("width", width_mm), ("height", height_mm)):
        above_zero(field, size)
    if width_mm >= shaft_mm:
        raise KeyStockError("width", "The key is wider than the shaft.")
    if not math.isfinite(clearance_mm) or clearance_mm < 0:
        raise KeyStockError("clearance", "The clearance must be finite and not negative.")
    chord = (shaft_mm - math.sqrt(shaft_mm**2 - width_mm**2)) / 2
    return KeyseatDepths(chord, shaft_mm - chord - height_mm / 2, shaft_mm - chord + height_mm / 2 + clearance_mm)


def above_zero(field: str, value: float) -> None:
    """Refuse a size or load that cannot be.

    Parameters
    ----------
    field : str
        Its name, for the error.
    value : float
        In any unit. [mm], [MPa], [N*m]

    Returns
    -------
    None

    Raises
    ------
    KeyStockError
        Not finite, or not above zero.

    References
    ----------
    Common practice.
    """
    if not math.isfinite(value) or value <= 0:
        raise KeyStockError(field, "This must be a finite number above zero.")


def _span(rows: Sequence[MetricKey]) -> str:
    return f"over {rows[0].over_mm:g} up to {rows[-1].up_to_mm:g}" if rows else "no"
