"""What this record does not hold, by the words a person would use for it."""

import re

_BELTS = re.compile(
    r"\b(v-?belts?|belt (drive|pulley)s?|timing belts?|belt-driven|chain (drive|wheel)s?|sprockets?)\b", re.I
)
_CARDAN = re.compile(r"\b(cardan|universal[- ]joint)", re.I)
_RIGHT_ANGLE = re.compile(r"\b(right[- ]angled?|bevel|worm) gear", re.I)


def out_of_scope(name: str) -> str:
    """Why a machine or coupling of this name is not for this record; empty where it is."""
    if _BELTS.search(name):
        return (
            "Belt and chain drives are out of scope: their shafts stand side by side. Register what is coupled on "
            "either side as trains of their own."
        )
    if _CARDAN.search(name):
        return (
            "Cardan shafts are out of scope: they want equal angles that are not zero, so the limits of a coupling "
            "would be wrong for them."
        )
    return ""


def turns_a_corner(name: str) -> str:
    """Why a gear unit of this name cannot stand between two couplings of one train; empty where it can."""
    if _RIGHT_ANGLE.search(name):
        return (
            "A right-angle gear between two couplings is out of scope: its shafts do not lie along one train. Let one "
            "train end with it and another begin with it."
        )
    return ""
