"""Sites, areas, trains, couplings and instruments of the invented plant, as rows."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from inspections.demo.readings import Four, Way

MOTOR, PUMP, GEAR_UNIT = "motor", "pump", "gear unit"


def on_feet(name: str, role: str, length_mm: float, feet_mm: tuple[float, float], height_mm: float) -> dict[str, Any]:
    """A machine on two foot planes; the nearer to the driver end is outboard on a driver, inboard on a driven one."""
    names = ("outboard", "inboard") if role == "driver" else ("inboard", "outboard")
    if role == "gear":
        names = ("input", "output")
    feet = [
        {"name": foot, "distance_mm": at, "support_height_mm": height_mm}
        for foot, at in zip(names, feet_mm, strict=True)
    ]
    return {"name": name, "role": role, "movable": role == "driver", "shaft_length_mm": length_mm, "feet": feet}


@dataclass(frozen=True)
class Place:
    """One coupling: its tag, sheet and speed, how it is read, the cold position wanted."""

    tag: str
    sheet: str
    rpm: float
    power_kw: float
    way: Way
    serial: str = ""
    match_marks: str = ""
    target: Four = (0.0, 0.0, 0.0, 0.0)
    target_note: str = ""


@dataclass(frozen=True)
class Row:
    """One train with its machines from the driver end and the couplings between them; hours a day where it has a
    meter."""

    tag: str
    name: str
    area: str
    criticality: str
    machines: tuple[dict[str, Any], ...]
    couplings: tuple[Place, ...]
    cautions: str = ""
    hours_a_day: float | None = None


@dataclass(frozen=True)
class Works:
    """One site."""

    name: str
    zone: str
    units: str
    areas: tuple[str, ...]
    trains: tuple[Row, ...]
    # kind, name, serial, columns; calibrated so many days before the demo's today, and perhaps once more since.
    instruments: tuple[tuple[str, str, str, dict[str, Any], tuple[int, ...]], ...]
    settings: dict[str, Any] = field(default_factory=dict)


CLICK = {"standard_u_share": 0.04, "calibration_days": 365}
MM_DIAL = {"standard_u_mm": 0.01, "calibration_days": 365}
INCH_DIAL = {"standard_u_mm": 0.0127, "calibration_days": 365}
DIALS, WRENCH, READER = ("D-101", "D-102"), "W-31", "R-41"
FEEDER = (
    on_feet(MOTOR, "driver", 1180, (260, 900), 355),
    on_feet(PUMP, "driven", 1320, (270, 1010), 355),
)
HOT = (0.15, 0.0, 0.08, 0.0)
HOT_NOTE = "Casing at 140 °C grows more than the motor: set the motor high when cold."
REVERSE = Way("reverse-rim", arms=(112.0, -112.0), sag_mm=-0.06, instruments=DIALS)

GREYFEN = Works(
    name="Greyfen Works",
    zone="Europe/Oslo",
    units="metric",
    areas=("Boiler house", "Cooling water", "Pulp line"),
    settings={"currency": "NOK", "labour_rate": 780.0},
    trains=(
        Row(
            "BF-21", "Boiler feed pump 1", "Boiler house", "A", FEEDER,
            (Place("BF-21", "Disc spacer DS-180", 2980, 315, REVERSE, "DS-1107", "A1 to A2", HOT, HOT_NOTE),),
            "Casing and suction line at 140 °C. The check valve can hold pressure: drain before opening.", 20.5,
        ),
        Row(
            "BF-22", "Boiler feed pump 2", "Boiler house", "A", FEEDER,
            (Place("BF-22", "Disc spacer DS-180", 2980, 315, REVERSE, "DS-1108", "B1 to B2", HOT, HOT_NOTE),),
            "Casing and suction line at 140 °C. The check valve can hold pressure: drain before opening.", 19.0,
        ),
        Row(
            "FN-41", "Induced-draft fan", "Boiler house", "A",
            (
                on_feet(MOTOR, "driver", 1400, (300, 1050), 450),
                on_feet("fan shaft", "driven", 2600, (320, 2150), 700),
            ),
            (
                Place(
                    "FN-41", "Pin and bush PB-6", 1480, 400,
                    Way("rim-and-face", arms=(45.0, 120.0), instruments=DIALS), "PB-0642", "0 to 0",
                ),
            ),
            "The wheel turns in any draught: block it mechanically as well.",
        ),
        Row(
            "CW-11", "Circulating water pump 1", "Cooling water", "B",
            (on_feet(MOTOR, "driver", 1250, (280, 960), 400), on_feet(PUMP, "driven", 1450, (300, 1120), 400)),
            (
                Place(
                    "CW-11", "Tyre T-250", 990, 250,
                    Way("reverse-rim", arms=(70.0, -70.0), sag_mm=-0.04, instruments=DIALS), "T-5521",
                ),
            ),
            "Runs backwards when the discharge valve leaks: close the isolating valve too.", 23.0,
        ),
        Row(
            "CW-12", "Circulating water pump 2", "Cooling water", "B",
            (on_feet(MOTOR, "driver", 1250, (280, 960), 400), on_feet(PUMP, "driven", 1450, (300, 1120), 400)),
            (
                Place(
                    "CW-12", "Tyre T-250", 990, 250,
                    Way("reverse-rim", arms=(70.0, -70.0), sag_mm=-0.04, instruments=DIALS), "T-5522",
                ),
            ),
            "Runs backwards when the discharge valve leaks: close the isolating valve too.",
        ),
        Row(
            "VP-61", "Vacuum pump", "Pulp line", "B",
            (on_feet(MOTOR, "driver", 760, (180, 560), 225), on_feet(PUMP, "driven", 980, (200, 760), 225)),
            (
                Place(
                    "VP-61", "Shear sleeve SL-8", 1480, 75,
                    Way("reverse-rim", arms=(58.0, -58.0), sag_mm=-0.03, instruments=DIALS), "SL-0318",
                ),
            ),
        ),
        Row(
            "AG-31", "Side-entry agitator of the blend chest", "Pulp line", "B",
            (
                on_feet(MOTOR, "driver", 620, (150, 450), 180),
                on_feet(GEAR_UNIT, "gear", 540, (90, 430), 180),
                on_feet("agitator shaft", "driven", 1900, (260, 1250), 320),
            ),
            (
                Place("AG-31-1", "Jaw J-95", 1480, 45, Way("direct", instruments=("A-21",)), "J-2210"),
                Place(
                    "AG-31-2", "Gear G-2", 96, 45,
                    Way("straightedge", stationary="driver", arms=(0.0, 95.0), instruments=("S-12", "F-11")),
                    "G-0077", "I to I",
                ),
            ),
            "Liquor in the chest turns the propeller: block the shaft.", 22.0,
        ),
        Row(
            "SL-51", "Reject slurry pump", "Pulp line", "C",
            (on_feet(MOTOR, "driver", 700, (170, 510), 200), on_feet(PUMP, "driven", 840, (180, 640), 200)),
            (
                Place(
                    "SL-51", "Jaw J-95", 740, 30,
                    Way("straightedge", arms=(0.0, 75.0), instruments=("S-12", "F-11")), "J-2187",
                ),
            ),
        ),
    ),
    instruments=(
        ("dial", "Dial 10 mm", "D-101", MM_DIAL, (560, 205)),
        ("dial", "Dial 10 mm", "D-102", MM_DIAL, (560, 205)),
        ("straightedge", "Straightedge 300 mm", "S-12", {}, ()),
        ("feeler", "Feeler gauges 0.05 to 1 mm", "F-11", {}, ()),
        ("alignment", "Shaft instrument", "A-21", {"standard_u_mm": 0.008, "calibration_days": 730}, (560,)),
        ("torque-set", "Click wrench 20 to 200", "W-31", CLICK, (550, 190)),
        ("torque-set", "Click wrench 5 to 50", "W-32", CLICK, (610,)),
        ("torque-read", "Electronic wrench", "R-41", {"standard_u_share": 0.02, "calibration_days": 365}, (550, 195)),
        ("thermometer", "Contact thermometer", "C-05", {"calibration_days": 730}, (560,)),
    ),
)  # fmt: skip

SALTHOLM = Works(
    name="Saltholm Mill",
    zone="America/Chicago",
    units="us",
    areas=("Stock preparation", "Water treatment"),
    settings={"currency": "USD", "labour_rate": 68.0},
    trains=(
        Row(
            "ST-07", "Machine chest pump", "Stock preparation", "A",
            (
                on_feet(MOTOR, "driver", 914.4, (203.2, 698.5), 254.0),
                on_feet(PUMP, "driven", 1117.6, (228.6, 863.6), 254.0),
            ),
            (
                Place(
                    "ST-07", "Gear G-3", 1785, 149,
                    Way("rim-and-face", arms=(50.8, 88.9), sag_mm=0.0, instruments=("D-201", "D-202")), "G-3-0415",
                ),
            ),
            "Hot stock: 70 °C in the casing after stopping.", 21.0,
        ),
        Row(
            "WW-02", "Aeration blower", "Water treatment", "B",
            (
                on_feet(MOTOR, "driver", 812.8, (177.8, 609.6), 228.6),
                on_feet("blower", "driven", 965.2, (190.5, 762.0), 228.6),
            ),
            (
                Place(
                    "WW-02", "Shear spacer SS-5", 3570, 112,
                    Way("reverse-rim", arms=(88.9, -88.9), sag_mm=-0.0508, instruments=("D-201", "D-202")), "SS-0091",
                ),
            ),
        ),
    ),
    instruments=(
        ("dial", "Dial 0.4 in", "D-201", INCH_DIAL, (560, 120)),
        ("dial", "Dial 0.4 in", "D-202", INCH_DIAL, (560, 120)),
        ("torque-set", "Click wrench 30 to 150", "W-231", CLICK, (555, 118)),
    ),
)  # fmt: skip
WORKS = (GREYFEN, SALTHOLM)
