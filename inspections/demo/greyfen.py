"""Greyfen Works, the invented pulp mill with its power house: metric, in Norway's time."""

from __future__ import annotations

from typing import Any

from inspections.demo.places import GEAR_UNIT, MOTOR, PUMP, Place, Row, Works, line, on_feet, upright
from inspections.demo.readings import Way

CLICK = {"standard_u_share": 0.04, "calibration_days": 365}
DIAL = {"standard_u_mm": 0.01, "calibration_days": 365}
DIALS, WRENCH, READER = ("D-101", "D-102"), "W-31", "R-41"
WRENCHES = {"set": WRENCH, "read": READER}
HOT = (0.15, 0.0, 0.08, 0.0)
HOT_NOTE = "Casing at 140 °C grows more than the motor: set the motor high when cold."
HOT_FEED = "Casing and suction line at 140 °C. The check valve can hold pressure: drain before opening."
BACKWARDS = "Runs backwards when the discharge valve leaks: close the isolating valve too."
DRAUGHT = "The wheel turns in any draught: block it mechanically as well."
# How a coupling of each sheet is read here, unless its row says otherwise.
WAYS = {
    "Disc spacer DS-180": Way("reverse-rim", arms=(112.0, -112.0), sag_mm=-0.06, instruments=DIALS),
    "Tyre T-250": Way("reverse-rim", arms=(70.0, -70.0), sag_mm=-0.04, instruments=DIALS),
    "Jaw J-95": Way("direct", instruments=("A-21",)),
    "Pin and bush PB-6": Way("rim-and-face", arms=(45.0, 120.0), instruments=DIALS),
    "Gear G-2": Way("direct", instruments=("A-21",)),
    "Grid GR-4": Way("rim-and-face", arms=(50.0, 105.0), instruments=DIALS),
    "Shear sleeve SL-8": Way("reverse-rim", arms=(58.0, -58.0), sag_mm=-0.03, instruments=DIALS),
    "Rigid R-3": Way("run-out", instruments=DIALS),
}
FEELERS = ("S-12", "F-11")


def at(tag: str, sheet: str, rpm: float, kw: float, serial: str = "", way: Way | None = None, **more: Any) -> Place:
    return Place(tag, sheet, rpm, kw, way or WAYS[sheet], serial, **more)


FEEDER = (
    on_feet(MOTOR, "driver", 1180, (260, 900), 355),
    on_feet(PUMP, "driven", 1320, (270, 1010), 355),
)
CIRCULATING = (on_feet(MOTOR, "driver", 1250, (280, 960), 400), on_feet(PUMP, "driven", 1450, (300, 1120), 400))
DISC, TYRE, JAW, BUSH, GEAR, GRID, SLEEVE = list(WAYS)[:7]

BOILER = (
    Row(
        "BF-21", "Boiler feed pump 1", "Boiler house", "A", FEEDER,
        (at("BF-21", DISC, 2980, 315, "DS-1107", match_marks="A1 to A2", target=HOT, target_note=HOT_NOTE),),
        HOT_FEED, 20.5,
    ),
    Row(
        "BF-22", "Boiler feed pump 2", "Boiler house", "A", FEEDER,
        (at("BF-22", DISC, 2980, 315, "DS-1108", match_marks="B1 to B2", target=HOT, target_note=HOT_NOTE),),
        HOT_FEED, 19.0,
    ),
    Row(
        "BF-23", "Boiler feed pump 3, variable drive", "Boiler house", "A", FEEDER,
        (
            at(
                "BF-23", DISC, 2980, 315, "DS-1131", match_marks="C1 to C2", target=HOT, target_note=HOT_NOTE,
                lowest_rpm=1790,
            ),
        ),
        HOT_FEED, 17.5,
    ),
    Row(
        "FN-41", "Induced-draft fan", "Boiler house", "A",
        (on_feet(MOTOR, "driver", 1400, (300, 1050), 450), on_feet("fan shaft", "driven", 2600, (320, 2150), 700)),
        (at("FN-41", BUSH, 1480, 400, "PB-0642", match_marks="0 to 0"),), DRAUGHT,
    ),
    line(
        "FN-42", "Forced-draft fan on a jackshaft", "Boiler house", "A", "L", (MOTOR, "jackshaft", "fan shaft"),
        (at("FN-42-1", BUSH, 1480, 250, "PB-0655"), at("FN-42-2", GRID, 1480, 250, "GR-4410")),
        cautions=DRAUGHT, hours_a_day=22.5,
    ),
    line(
        "FN-43", "Primary air fan", "Boiler house", "B", "M", (MOTOR, "fan shaft"),
        (at("FN-43", GRID, 1480, 110, "GR-4417"),), cautions=DRAUGHT, hours_a_day=21.0,
    ),
)  # fmt: skip
TURBINES = (
    line(
        "TG-01", "Feed pump with its turbine", "Turbine hall", "A", "L", ("steam turbine", GEAR_UNIT, PUMP),
        (
            at("TG-01-1", DISC, 5200, 480, "DS-1140", match_marks="T1 to T2"),
            at("TG-01-2", GEAR, 1490, 470, "G-0103", match_marks="I to I"),
        ),
        cautions="Steam: gland and exhaust stay hot for a day. The oil pump runs on turning gear.", hours_a_day=14.0,
    ),
    line(
        "CM-81", "Process air compressor", "Turbine hall", "A", "XL", (MOTOR, GEAR_UNIT, "compressor"),
        (
            at("CM-81-1", GEAR, 1490, 620, "G-0111", match_marks="II to II"),
            at("CM-81-2", DISC, 5150, 610, "DS-1152", match_marks="K1 to K2"),
        ),
        cautions="Pressure stands in the discharge line after stopping: vent at the silencer.", hours_a_day=20.0,
    ),
    Row(
        "CP-71", "Condensate pump, vertical", "Turbine hall", "B",
        (upright(MOTOR, "driver", 900), upright(PUMP, "driven", 2400)),
        (at("CP-71", "Rigid R-3", 1480, 55, "R-3-027", match_marks="N to N"),),
        "Draws from a vessel under vacuum: air is drawn in as soon as the gland is opened.", 18.0,
    ),
    line(
        "CP-72", "Condensate pump, horizontal", "Turbine hall", "B", "M", (MOTOR, PUMP),
        (at("CP-72", JAW, 1480, 55, "J-2301"),), hours_a_day=16.0,
    ),
)  # fmt: skip
WATER = (
    Row(
        "CW-11", "Circulating water pump 1", "Cooling water", "B", CIRCULATING,
        (at("CW-11", TYRE, 990, 250, "T-5521"),), BACKWARDS, 23.0,
    ),
    Row(
        "CW-12", "Circulating water pump 2", "Cooling water", "B", CIRCULATING,
        (at("CW-12", TYRE, 990, 250, "T-5522"),), BACKWARDS,
    ),
    Row(
        "CW-13", "Circulating water pump 3", "Cooling water", "B", CIRCULATING,
        (at("CW-13", TYRE, 990, 250, "T-5530"),), BACKWARDS, 19.5,
    ),
    line(
        "CL-15", "Closed cooling pump 1", "Cooling water", "B", "S", (MOTOR, PUMP),
        (at("CL-15", SLEEVE, 1480, 45, "SL-0340"),), hours_a_day=12.0,
    ),
    line(
        "CL-16", "Closed cooling pump 2", "Cooling water", "B", "S", (MOTOR, PUMP),
        (at("CL-16", SLEEVE, 1480, 45, "SL-0341", papers_days=250),),
    ),
    line(
        "HY-91", "Recovery turbine with motor and pump", "Cooling water", "C", "M", (MOTOR, PUMP, "recovery turbine"),
        (
            at("HY-91-1", SLEEVE, 1480, 75, "SL-0355", papers_days=200),
            at("HY-91-2", GRID, 1480, 40, "", papers_days=200),
        ),
    ),
)  # fmt: skip
PULP = (
    Row(
        "VP-61", "Vacuum pump", "Pulp line", "B",
        (on_feet(MOTOR, "driver", 760, (180, 560), 225), on_feet(PUMP, "driven", 980, (200, 760), 225)),
        (at("VP-61", SLEEVE, 1480, 75, "SL-0318"),),
    ),
    line(
        "VP-62", "Vacuum pump 2", "Pulp line", "B", "M", (MOTOR, PUMP),
        (at("VP-62", SLEEVE, 1480, 75, "SL-0319"),), hours_a_day=20.0,
    ),
    Row(
        "AG-31", "Side-entry agitator of the blend chest", "Pulp line", "B",
        (
            on_feet(MOTOR, "driver", 620, (150, 450), 180),
            on_feet(GEAR_UNIT, "gear", 540, (90, 430), 180),
            on_feet("agitator shaft", "driven", 1900, (260, 1250), 320),
        ),
        (
            at("AG-31-1", JAW, 1480, 45, "J-2210"),
            at(
                "AG-31-2", GEAR, 96, 45, "G-0077", match_marks="I to I",
                way=Way("straightedge", stationary="driver", arms=(0.0, 95.0), instruments=FEELERS),
            ),
        ),
        "Liquor in the chest turns the propeller: block the shaft.", 22.0,
    ),
    Row(
        "SL-51", "Reject slurry pump", "Pulp line", "C",
        (on_feet(MOTOR, "driver", 700, (170, 510), 200), on_feet(PUMP, "driven", 840, (180, 640), 200)),
        (at("SL-51", JAW, 740, 30, "J-2187", way=Way("straightedge", arms=(0.0, 75.0), instruments=FEELERS)),),
    ),
    line(
        "SL-52", "Reject slurry pump 2", "Pulp line", "C", "S", (MOTOR, PUMP),
        (at("SL-52", JAW, 740, 30, "J-2188", papers_days=330),),
    ),
    line(
        "MC-34", "Machine chest pumps in tandem", "Pulp line", "A", "M", (MOTOR, PUMP, "second pump"),
        (at("MC-34-1", JAW, 1480, 90, "J-2330"), at("MC-34-2", JAW, 1480, 45, "J-2331")),
        cautions="Stock at 70 °C behind both valves.", hours_a_day=23.0,
    ),
    line(
        "DR-35", "Drum pulper on its line shaft", "Pulp line", "B", "L",
        (MOTOR, "first bearing shaft", "second bearing shaft", "pinion shaft"),
        (
            at("DR-35-1", BUSH, 740, 200, "PB-0671"),
            at("DR-35-2", GRID, 740, 200, "GR-4433"),
            at("DR-35-3", GRID, 740, 200, "GR-4434"),
        ),
        cautions="The drum rolls back when it is not balanced: lock it.", hours_a_day=18.5,
    ),
    line(
        "WP-38", "White water pump, variable drive", "Pulp line", "B", "M", (MOTOR, PUMP),
        (at("WP-38", SLEEVE, 1480, 75, "SL-0362", lowest_rpm=600),), hours_a_day=21.5,
    ),
)  # fmt: skip
REFINING = (
    line(
        "RF-32", "Refiner 1", "Refining", "A", "XL", (MOTOR, "refiner"),
        (at("RF-32", GEAR, 1490, 900, "G-0120", match_marks="A to A"),),
        cautions="The plates hold the shaft: open them before turning.", hours_a_day=21.0,
    ),
    line(
        "RF-33", "Refiner 2", "Refining", "A", "XL", (MOTOR, "refiner"),
        (at("RF-33", GEAR, 1490, 900, "G-0121", match_marks="B to B"),),
        cautions="The plates hold the shaft: open them before turning.", hours_a_day=20.0,
    ),
    line(
        "SC-36", "Pressure screen 1", "Refining", "B", "M", (MOTOR, "screen rotor"),
        (at("SC-36", TYRE, 990, 132, "T-5541", papers_days=120),),
    ),
    line(
        "SC-37", "Pressure screen 2", "Refining", "B", "M", (MOTOR, "screen rotor"),
        (at("SC-37", TYRE, 990, 132),),
    ),
)  # fmt: skip

GREYFEN = Works(
    name="Greyfen Works",
    zone="Europe/Oslo",
    units="metric",
    areas={
        "Power house": "", "Boiler house": "Power house", "Turbine hall": "Power house",
        "Cooling water": "Power house", "Pulp mill": "", "Pulp line": "Pulp mill", "Refining": "Pulp mill",
    },
    settings={"currency": "NOK", "labour_rate": 780.0, "element_cost": 2900.0, "failure_cost": 85000.0,
              "down_cost": 12000.0, "crew_hours_week": 48.0},
    trains=(*BOILER, *TURBINES, *WATER, *PULP, *REFINING),
    instruments=(
        ("dial", "Dial 10 mm", "D-101", DIAL, (1140, 880, 560, 205)),
        ("dial", "Dial 10 mm", "D-102", DIAL, (1140, 880, 560, 205)),
        ("straightedge", "Straightedge 300 mm", "S-12", {}, ()),
        ("feeler", "Feeler gauges 0.05 to 1 mm", "F-11", {}, ()),
        ("caliper", "Inside micrometer", "M-71", {"standard_u_mm": 0.003, "calibration_days": 730}, (1140, 560)),
        ("alignment", "Shaft instrument", "A-21", {"standard_u_mm": 0.008, "calibration_days": 730}, (1140, 560)),
        ("torque-set", "Click wrench 20 to 200", "W-31", CLICK, (1140, 890, 550, 190)),
        # Nobody sent this one in again: it is out of date.
        ("torque-set", "Click wrench 5 to 50", "W-32", CLICK, (1140, 610)),
        (
            "torque-read", "Electronic wrench", "R-41", {"standard_u_share": 0.02, "calibration_days": 365},
            (1140, 885, 550, 195),
        ),
        ("thermometer", "Contact thermometer", "C-05", {"calibration_days": 730}, (1140, 560)),
    ),
)  # fmt: skip
