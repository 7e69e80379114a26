"""What the rows of the invented plant are made of: sites, trains with their machines, couplings, instruments."""

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


def upright(name: str, role: str, length_mm: float) -> dict[str, Any]:
    """A machine that stands on its end: no feet, read by compass points."""
    return {"name": name, "role": role, "mounting": "vertical", "shaft_length_mm": length_mm, "feet": []}


# Machines of one size, invented: shaft end to shaft end, feet from the driver end, height of the shaft. [mm]
Size = tuple[float, tuple[float, float], float]
DRIVERS: dict[str, Size] = {
    "S": (620, (150, 450), 180),
    "M": (760, (180, 560), 225),
    "L": (1180, (260, 900), 355),
    "XL": (1400, (300, 1050), 450),
}
DRIVEN: dict[str, Size] = {
    "S": (840, (180, 640), 180),
    "M": (980, (200, 760), 225),
    "L": (1320, (270, 1010), 355),
    "XL": (1900, (320, 1500), 450),
}


@dataclass(frozen=True)
class Place:
    """One coupling: its tag, sheet and speed, how it is read, the cold position wanted.

    `papers_days` is how many days ago it was fitted where nothing but its papers tells of it; None where its own
    installation does, or nothing is fitted.
    """

    tag: str
    sheet: str
    rpm: float
    power_kw: float
    way: Way
    serial: str = ""
    match_marks: str = ""
    target: Four = (0.0, 0.0, 0.0, 0.0)
    target_note: str = ""
    lowest_rpm: float | None = None
    papers_days: int | None = None


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
    """One site. `way` says how couplings of each sheet are read unless a row says otherwise."""

    name: str
    zone: str
    units: str
    areas: dict[str, str]  # name, and the area it is a part of ("" for none)
    trains: tuple[Row, ...]
    # kind, name, serial, columns; calibrated so many days before the demo's today, and perhaps once more since.
    instruments: tuple[tuple[str, str, str, dict[str, Any], tuple[int, ...]], ...]
    settings: dict[str, Any] = field(default_factory=dict)


def line(
    tag: str,
    name: str,
    area: str,
    criticality: str,
    size: str,
    machines: tuple[str, ...],
    couplings: tuple[Place, ...],
    *,
    cautions: str = "",
    hours_a_day: float | None = None,
) -> Row:
    """A train of machines of one size: the first drives, a gear unit goes between, the others are driven."""
    standing = []
    for number, machine in enumerate(machines):
        role = "driver" if number == 0 else "gear" if machine == GEAR_UNIT else "driven"
        length, feet, height = (DRIVERS if role != "driven" else DRIVEN)[size]
        standing.append(on_feet(machine, role, length, feet, height))
    return Row(tag, name, area, criticality, tuple(standing), couplings, cautions, hours_a_day)
