"""The steps of a visit as rows, in the order of the work. A new step is a module with its row, added here."""

from inspections.steps.alignment import ALIGNMENT, AS_FOUND, AS_LEFT
from inspections.steps.element import ELEMENT
from inspections.steps.fasteners import FASTENERS
from inspections.steps.isolation import ISOLATION, SIGNATURE
from inspections.steps.placement import PLACEMENT, SET_SCREWS
from inspections.steps.registry import Place, Read, Step

STEPS: dict[str, Step] = {
    row.key: row
    for row in (ISOLATION, AS_FOUND, PLACEMENT, SET_SCREWS, ALIGNMENT, AS_LEFT, ELEMENT, FASTENERS, SIGNATURE)
}

__all__ = ["STEPS", "Place", "Read", "Step"]
