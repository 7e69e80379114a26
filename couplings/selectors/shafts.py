"""What the register says of the two shafts that a coupling joins."""

from __future__ import annotations

from typing import Any

from couplings.models import Coupling
from plant.selectors.shafts import Shaft, apart, shaft_of


def shafts_joined(driver_machine: Any, driven_machine: Any) -> Shaft:
    """Speeds and power of a coupling as its two shafts have them; None for what neither has.

    The highest and the lowest of the two; the power is what the driver side gives, for that is what goes through.
    [rpm, rpm, kW]
    """
    one, other = shaft_of(driver_machine, "driven"), shaft_of(driven_machine, "driver")
    speeds = [rpm for rpm in (one.rpm, other.rpm) if rpm is not None]
    lowest = [rpm for rpm in (one.lowest_rpm, other.lowest_rpm) if rpm is not None]
    power_kw = one.power_kw if one.power_kw is not None else other.power_kw
    return Shaft(max(speeds, default=None), min(lowest, default=None), power_kw)


def speed_disagreements(coupling: Coupling) -> dict[str, str]:
    """Where the speeds of a coupling and of the shafts it joins differ by more than slip, a sentence per field."""
    errors: dict[str, str] = {}
    sides = ((coupling.driver_machine, "driven"), (coupling.driven_machine, "driver"))
    for machine, side in sides:
        shaft = shaft_of(machine, side)
        for name in ("rpm", "lowest_rpm"):
            here, there = getattr(coupling, name), getattr(shaft, name)
            if apart(here, there):
                errors.setdefault(
                    name,
                    f"The coupling is said to turn at {here:g} rpm and the shaft of the {machine.name} at {there:g} "
                    "rpm: they turn together, so one of the two is wrong.",
                )
    return errors
