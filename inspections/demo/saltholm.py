"""Saltholm Mill, the invented paper mill: in inches, in the time of Chicago."""

from __future__ import annotations

from typing import Any

from inspections.demo.places import MOTOR, PUMP, Place, Row, Works, line, on_feet
from inspections.demo.readings import Way

CLICK = {"standard_u_share": 0.04, "calibration_days": 365}
DIAL = {"standard_u_mm": 0.0127, "calibration_days": 365}
DIALS = ("D-201", "D-202")
WRENCHES = {"set": "W-231"}
WAYS = {
    "Gear G-3": Way("rim-and-face", arms=(50.8, 88.9), instruments=DIALS),
    "Shear spacer SS-5": Way("reverse-rim", arms=(88.9, -88.9), sag_mm=-0.0508, instruments=DIALS),
    "Grid GR-7": Way("rim-and-face", arms=(50.8, 101.6), instruments=DIALS),
    "Jaw JX-4": Way("reverse-rim", arms=(63.5, -63.5), sag_mm=-0.0254, instruments=DIALS),
}
GEAR, SHEAR, GRID, JAW = WAYS


def at(tag: str, sheet: str, rpm: float, kw: float, serial: str = "", **more: Any) -> Place:
    return Place(tag, sheet, rpm, kw, WAYS[sheet], serial, **more)


STOCK = (
    Row(
        "ST-07", "Machine chest pump", "Stock preparation", "A",
        (
            on_feet(MOTOR, "driver", 914.4, (203.2, 698.5), 254.0),
            on_feet(PUMP, "driven", 1117.6, (228.6, 863.6), 254.0),
        ),
        (at("ST-07", GEAR, 1785, 149, "G-3-0415"),), "Hot stock: 70 °C in the casing after stopping.", 21.0,
    ),
    line(
        "ST-08", "Blend chest pump", "Stock preparation", "B", "M", (MOTOR, PUMP),
        (at("ST-08", JAW, 1780, 93, "JX-0207"),), hours_a_day=20.0,
    ),
    line(
        "ST-09", "Couch pit pumps in tandem", "Stock preparation", "B", "M", (MOTOR, PUMP, "second pump"),
        (at("ST-09-1", JAW, 1780, 75, "JX-0211"), at("ST-09-2", JAW, 1780, 37, "JX-0212")), hours_a_day=19.0,
    ),
    line(
        "BR-41", "Broke pulper pumps", "Stock preparation", "C", "M", (MOTOR, PUMP, "second pump"),
        (at("BR-41-1", JAW, 1180, 56, "JX-0230", papers_days=310), at("BR-41-2", JAW, 1180, 30, "", papers_days=310)),
    ),
)  # fmt: skip
MACHINE = (
    line(
        "LS-11", "Line shaft of the couch section", "Paper machine", "A", "L",
        (MOTOR, "first bearing shaft", "second bearing shaft", "third bearing shaft", "fourth bearing shaft", "roll"),
        (
            at("LS-11-1", GEAR, 890, 224, "G-3-0431"),
            at("LS-11-2", GRID, 890, 224, "GR-7-118", papers_days=180),
            at("LS-11-3", GRID, 890, 224, "GR-7-119", papers_days=180),
            at("LS-11-4", GRID, 890, 224, "GR-7-120", papers_days=180),
            at("LS-11-5", GEAR, 890, 224, "G-3-0432", papers_days=180),
        ),
        cautions="The whole line turns when one roll is inched: lock it at the motor.", hours_a_day=22.0,
    ),
    line(
        "LS-12", "Line shaft of the dryers", "Paper machine", "A", "L",
        (MOTOR, "first bearing shaft", "second bearing shaft", "third bearing shaft", "roll"),
        (
            at("LS-12-1", GEAR, 890, 186, "G-3-0440", papers_days=90),
            at("LS-12-2", GRID, 890, 186, "GR-7-131", papers_days=90),
            at("LS-12-3", GRID, 890, 186, "GR-7-132", papers_days=90),
            at("LS-12-4", GRID, 890, 186, "GR-7-133", papers_days=90),
        ),
        cautions="Dryers are under steam until they are blown down.",
    ),
    line(
        "FA-21", "Fan pump on a jackshaft", "Paper machine", "A", "XL", (MOTOR, "jackshaft", "fan pump"),
        (at("FA-21-1", GEAR, 1190, 560, "G-3-0450"), at("FA-21-2", GEAR, 1190, 560, "G-3-0451")), hours_a_day=22.0,
    ),
    line(
        "FA-22", "Second fan pump", "Paper machine", "B", "L", (MOTOR, "fan pump"),
        (at("FA-22", GRID, 1190, 300, "GR-7-140"),), hours_a_day=15.0,
    ),
    line(
        "CK-31", "Shower pumps in tandem", "Paper machine", "C", "S", (MOTOR, PUMP, "second pump"),
        (at("CK-31-1", JAW, 1780, 37, "JX-0241", papers_days=60), at("CK-31-2", JAW, 1780, 15)),
    ),
)  # fmt: skip
TREATMENT = (
    Row(
        "WW-02", "Aeration blower", "Water treatment", "B",
        (
            on_feet(MOTOR, "driver", 812.8, (177.8, 609.6), 228.6),
            on_feet("blower", "driven", 965.2, (190.5, 762.0), 228.6),
        ),
        (at("WW-02", SHEAR, 3570, 112, "SS-0091"),),
    ),
    line(
        "WW-03", "Aeration blower 2", "Water treatment", "B", "M", (MOTOR, "blower"),
        (at("WW-03", SHEAR, 3570, 112, "SS-0092"),), hours_a_day=18.0,
    ),
    line(
        "WW-04", "Lift screw on a jackshaft", "Water treatment", "C", "M", (MOTOR, "jackshaft", "screw"),
        (at("WW-04-1", JAW, 1180, 30, "JX-0250", papers_days=280), at("WW-04-2", GRID, 1180, 30)),
    ),
)  # fmt: skip

SALTHOLM = Works(
    name="Saltholm Mill",
    zone="America/Chicago",
    units="us",
    areas={"Mill": "", "Stock preparation": "Mill", "Paper machine": "Mill", "Water treatment": ""},
    settings={
        "currency": "USD", "labour_rate": 68.0, "element_cost": 240.0, "failure_cost": 7400.0, "down_cost": 1100.0,
        "crew_hours_week": 24.0,
    },
    trains=(*STOCK, *MACHINE, *TREATMENT),
    instruments=(
        ("dial", "Dial 0.4 in", "D-201", DIAL, (1140, 850, 560, 120)),
        ("dial", "Dial 0.4 in", "D-202", DIAL, (1140, 850, 560, 120)),
        ("torque-set", "Click wrench 30 to 150", "W-231", CLICK, (1140, 845, 555, 118)),
    ),
)  # fmt: skip
