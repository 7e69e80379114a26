"""What cannot be true of the speeds of one machine, or of two neighbours."""

from typing import Any

from plant.selectors.shafts import apart, shaft_of

PAIRS = (("rpm", "lowest_rpm"), ("driven_rpm", "driven_lowest_rpm"))


def shaft_errors(machine: Any) -> dict[str, str]:
    """Speeds of one machine: one through, a gear unit one per side, the lowest not above the highest."""
    errors: dict[str, str] = {}
    for highest, lowest in PAIRS:
        high, low = getattr(machine, highest), getattr(machine, lowest)
        if low is not None and high is None:
            errors[highest] = "Give the highest speed as well."
        elif low is not None and high is not None and low > high:
            errors[lowest] = "The lowest speed lies above the highest: exchange the two."
    if machine.role != machine.Role.GEAR:
        for name in PAIRS[1]:
            if getattr(machine, name) is not None:
                errors[name] = (
                    "Only a gear unit has another speed on its driven side: a shaft that goes through has one."
                )
        return errors
    if (machine.rpm is None) != (machine.driven_rpm is None):
        missing = "rpm" if machine.rpm is None else "driven_rpm"
        errors.setdefault(
            missing, "A gear unit has a speed on each side: give both, or neither while they are not known."
        )
    elif (machine.lowest_rpm is None) != (machine.driven_lowest_rpm is None):
        missing = "lowest_rpm" if machine.lowest_rpm is None else "driven_lowest_rpm"
        errors.setdefault(missing, "Where one side of a gear unit varies, the other does: give its lowest speed too.")
    return errors


def neighbour_errors(before: Any, after: Any) -> dict[str, str]:
    """What is wrong with the second of two neighbours: the shafts of one coupling turn together."""
    one, other = shaft_of(before, "driven"), shaft_of(after, "driver")
    errors = {}
    for name in ("rpm", "lowest_rpm"):
        theirs, ours = getattr(one, name), getattr(other, name)
        if apart(theirs, ours):
            which = "lowest speed" if name == "lowest_rpm" else "speed"
            errors[name] = (
                f"The {which} here is {ours:g} rpm, that of the {before.name} before it {theirs:g} rpm: two shafts of "
                "one coupling turn together."
            )
    return errors
