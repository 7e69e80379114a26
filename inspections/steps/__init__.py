"""The steps of a visit as rows, in the order of the work. A new step is a module with its row, added here."""

from inspections.steps.alignment import ALIGNMENT, AS_FOUND, AS_LEFT
from inspections.steps.closing import CLEANING, GUARD, HOLD_DOWN, ROTATION
from inspections.steps.element import ELEMENT
from inspections.steps.excused import excusable
from inspections.steps.fasteners import FASTENERS
from inspections.steps.incidents import BREAKDOWN, STATED
from inspections.steps.isolation import ISOLATION, SIGNATURE
from inspections.steps.lubricant import LUBRICANT
from inspections.steps.mounting import MOUNTING
from inspections.steps.passing import CONDITIONS, RUNNING_LOOK
from inspections.steps.pipestrain import PIPE_STRAIN
from inspections.steps.placement import PLACEMENT, SET_SCREWS
from inspections.steps.registry import Found, Place, Read, Step
from inspections.steps.runout import RUN_OUT
from inspections.steps.softfoot import SOFT_FOOT
from inspections.steps.wear import WEAR

STEPS: dict[str, Step] = {
    # Surveys and the signature have reasons of their own; what is confirmed on the order has none.
    row.key: row if row.surveys or not row.filled or row is SIGNATURE else excusable(row)
    for row in (
        ISOLATION,
        RUNNING_LOOK,
        STATED,
        BREAKDOWN,
        CONDITIONS,
        AS_FOUND,
        CLEANING,
        RUN_OUT,
        PIPE_STRAIN,
        SOFT_FOOT,
        MOUNTING,
        PLACEMENT,
        SET_SCREWS,
        ALIGNMENT,
        HOLD_DOWN,
        AS_LEFT,
        ROTATION,
        ELEMENT,
        FASTENERS,
        WEAR,
        LUBRICANT,
        GUARD,
        SIGNATURE,
    )
}

__all__ = ["STEPS", "Found", "Place", "Read", "Step"]
