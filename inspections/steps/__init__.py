"""The steps of a visit as rows, in the order of the work. A new step is a module with its row, added here."""

from inspections.steps.alignment import ALIGNMENT, AS_FOUND, AS_LEFT
from inspections.steps.element import ELEMENT
from inspections.steps.fasteners import FASTENERS
from inspections.steps.isolation import ISOLATION, SIGNATURE
from inspections.steps.lubricant import LUBRICANT
from inspections.steps.mounting import MOUNTING
from inspections.steps.pipestrain import PIPE_STRAIN
from inspections.steps.placement import PLACEMENT, SET_SCREWS
from inspections.steps.registry import Found, Place, Read, Step
from inspections.steps.runout import RUN_OUT
from inspections.steps.softfoot import SOFT_FOOT
from inspections.steps.wear import WEAR

STEPS: dict[str, Step] = {
    row.key: row
    for row in (
        ISOLATION,
        AS_FOUND,
        RUN_OUT,
        PIPE_STRAIN,
        SOFT_FOOT,
        MOUNTING,
        PLACEMENT,
        SET_SCREWS,
        ALIGNMENT,
        AS_LEFT,
        ELEMENT,
        FASTENERS,
        WEAR,
        LUBRICANT,
        SIGNATURE,
    )
}

__all__ = ["STEPS", "Found", "Place", "Read", "Step"]
