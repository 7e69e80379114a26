"""Starter rows for set screws, each with its source mark; a site edits them for what it uses."""

from __future__ import annotations

from dataclasses import dataclass

LBF_N = 4.4482216152605  # NIST SP 811, exact
INCH_MM = 25.4
LBF_IN_NM = LBF_N * INCH_MM / 1000


@dataclass(frozen=True)
class HoldingRow:
    """Seating torque [N*m] and axial holding power [N] of a cup point on a shaft of 15 HRC; printed [lbf*in, lbf]."""

    size: str
    diameter_mm: float
    seating_nm: float
    holding_n: float
    mark: str
    source: str
    printed: tuple[float, float] | None = None


@dataclass(frozen=True)
class AngleRow:
    """Holding power of two screws over that of one [1], by the angle between them about the shaft. [deg]"""

    angle_deg: float
    factor: float
    mark: str
    source: str


@dataclass(frozen=True)
class ProofRow:
    """Torque that a hexagon-socket set screw must bear: a ceiling for seating, never a seating torque. [N*m]"""

    size: str
    diameter_mm: float
    property_class: str
    proof_nm: float
    mark: str = "published"
    source: str = "ISO 898-5, table 5, 45H hexagon-socket set screws"


@dataclass(frozen=True)
class ClassRow:
    """A property class of set screws: a least hardness, and no tensile strength at all."""

    name: str
    hv_min: int
    mark: str = "published"
    source: str = "ISO 898-5: for compression only"


@dataclass(frozen=True)
class FactorRow:
    """A range of design factors [1] by kind of load."""

    load: str
    low: float
    high: float
    mark: str
    source: str


_SHIGLEY = "Shigley's Mechanical Engineering Design, 9th ed., table 7-4, p. 389"
# (size, diameter in, seating lbf*in, holding lbf, mark). Only two rows were seen in print; the rest is from memory.
_INCH = (
    ("#0", 0.060, 1.0, 50, "from memory"),
    ("#1", 0.073, 1.8, 65, "from memory"),
    ("#2", 0.086, 1.8, 85, "from memory"),
    ("#3", 0.099, 5, 120, "from memory"),
    ("#4", 0.112, 5, 160, "published"),
    ("#5", 0.125, 10, 200, "from memory"),
    ("#6", 0.138, 10, 250, "from memory"),
    ("#8", 0.164, 20, 385, "published"),
    ("#10", 0.190, 36, 540, "from memory"),
    ("1/4", 1 / 4, 87, 1000, "from memory"),
    ("5/16", 5 / 16, 165, 1500, "from memory"),
    ("3/8", 3 / 8, 290, 2000, "from memory"),
    ("7/16", 7 / 16, 430, 2500, "from memory"),
    ("1/2", 1 / 2, 620, 3000, "from memory"),
    ("9/16", 9 / 16, 620, 3500, "from memory"),
    ("5/8", 5 / 8, 1325, 4000, "from memory"),
    ("3/4", 3 / 4, 2400, 5000, "from memory"),
    ("7/8", 7 / 8, 5200, 6000, "from memory"),
    ("1", 1.0, 7200, 7000, "from memory"),
)
STARTER_HOLDING = tuple(
    HoldingRow(size, d * INCH_MM, torque * LBF_IN_NM, force * LBF_N, mark, _SHIGLEY, (torque, force))
    for size, d, torque, force, mark in _INCH
)

# No public source gives the holding power of metric set screws: a site states it from its own data sheet.
STARTER_PROOF = tuple(
    ProofRow(f"M{d}", d, "45H", torque)
    for d, torque in ((3, 0.9), (4, 2.5), (5, 5), (6, 8.5), (8, 20), (10, 40), (12, 65), (16, 160), (20, 310))
)

CLASSES = tuple(ClassRow(name, hv) for name, hv in (("14H", 140), ("22H", 220), ("33H", 330), ("45H", 450)))

_MACHINE_DESIGN = "Machine Design, “Setscrews”, 15 November 2002"
STARTER_ANGLES = (
    AngleRow(0.0, 2.0, "from memory", f"{_MACHINE_DESIGN}: both in one axial line"),
    AngleRow(60.0, 1.75, "from memory", _MACHINE_DESIGN),
    AngleRow(65.0, 1.75, "common practice", "common practice"),
    AngleRow(180.0, 1.3, "from memory", f"{_MACHINE_DESIGN}: about"),
)

_P390 = "Shigley's Mechanical Engineering Design, 9th ed., p. 390"
STARTER_FACTORS = (
    FactorRow("static", 1.5, 2.0, "published", _P390),
    FactorRow("dynamic", 4.0, 8.0, "published", _P390),
)

# Machine Design as above: a flat under the point adds about 6 % against turning; a screw less than 10 HRC harder than
# the shaft can lose up to 15 %.
FLAT_ADDS = 0.06
SOFT_LOSES = 0.15
HARDER_HRC = 10.0
EFFECTS_SOURCE = _MACHINE_DESIGN
