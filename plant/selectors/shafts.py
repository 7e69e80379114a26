"""How fast the two shaft ends of a machine turn and what they carry."""

from dataclasses import dataclass
from typing import Any

# Two nameplates of one coupling may differ by the slip of an induction motor or a fluid coupling. From memory.
SPEED_SHARE = 0.05


@dataclass(frozen=True)
class Shaft:
    """One shaft end; the lowest speed only where it varies. [rpm, rpm, kW]"""

    rpm: float | None = None
    lowest_rpm: float | None = None
    power_kw: float | None = None


def shaft_of(machine: Any, side: str) -> Shaft:
    """The shaft end on one side of a machine.

    `side` is "driver" for the end that looks to the driver end of the train, "driven" for the other. A shaft that goes
    through has one speed; what it carries on may be less than what it takes in.
    """
    if side == "driver":
        return Shaft(machine.rpm, machine.lowest_rpm, machine.power_kw)
    if machine.role == machine.Role.GEAR:
        return Shaft(machine.driven_rpm, machine.driven_lowest_rpm, machine.driven_power_kw)
    power_kw = machine.driven_power_kw if machine.driven_power_kw is not None else machine.power_kw
    return Shaft(machine.rpm, machine.lowest_rpm, power_kw)


def apart(one: float | None, other: float | None) -> bool:
    """Whether two speeds are too far from each other to be those of one coupling."""
    return one is not None and other is not None and abs(one - other) > SPEED_SHARE * max(one, other)
