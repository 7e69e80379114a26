"""Starter limits on run-out: by shaft diameter, and for vertical units. A site's own table goes in as an argument."""

from __future__ import annotations

from dataclasses import dataclass

INCH = 25.4


@dataclass(frozen=True)
class RunOutRow:
    """Diameters over `over_mm` (0: from any) up to and with `up_to_mm`, and the permitted total run-out. [mm]"""

    over_mm: float
    up_to_mm: float
    limit_mm: float


@dataclass(frozen=True)
class RunOutTable:
    """Rows of one source; `lowest_included` where the first band also holds at its lower end."""

    name: str
    title: str
    source: str
    mark: str
    rows: tuple[RunOutRow, ...]
    lowest_included: bool = False


_BANDS = (6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500, 630)
_LIMITS = (0.030, 0.035, 0.040, 0.050, 0.060, 0.070, 0.080, 0.090, 0.100, 0.110, 0.125, 0.140)

IEC = RunOutTable(
    "iec",
    "shaft extension of an IEC motor",
    "ANSI/EASA AR100-2015, table 2-4",
    "published",
    tuple(RunOutRow(over, up_to, limit) for over, up_to, limit in zip(_BANDS, _BANDS[1:], _LIMITS, strict=False)),
)
NEMA = RunOutTable(
    "nema",
    "shaft extension of a NEMA motor",
    "ANSI/EASA AR100, table 2-3, from memory: compare with your own copy",
    "memory",
    (
        RunOutRow(0.1875 * INCH, 1.625 * INCH, 0.002 * INCH),
        RunOutRow(1.625 * INCH, 6.5 * INCH, 0.003 * INCH),
    ),
    lowest_included=True,
)
_MACKAY = "R. Mackay, The Practical Pumping Handbook, Elsevier 2004, p. 179"
PUMP_SHAFT = RunOutTable("pump-shaft", "pump shaft", _MACKAY, "textbook", (RunOutRow(0.0, float("inf"), 0.001 * INCH),))
PUMP_HUB = RunOutTable(
    "pump-hub", "coupling hub of a pump", _MACKAY, "textbook", (RunOutRow(0.0, float("inf"), 0.002 * INCH),)
)
STARTER_TABLES = {table.name: table for table in (IEC, NEMA, PUMP_SHAFT, PUMP_HUB)}

# U.S. Bureau of Reclamation, FIST 2-1, Alignment of Vertical Shaft Hydrounits (rev. 2000), table 1.
VERTICAL_SOURCE = "U.S. Bureau of Reclamation, FIST 2-1 (2000), table 1"
STATIC_RUN_OUT_MM = 0.002 * INCH
PLUMB_PER_LENGTH = 0.000025
STRAIGHTNESS_MM = 0.003 * INCH
