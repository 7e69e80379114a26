"""Calculations without a record, as this app offers them to the API and the pages.

The same readers and answers serve the record: a visit step turns its typed fields into the request of its method.
"""

from couplings.calculations.alignment_answer import (
    CLOSURE_LIMIT_MM,
    AlignmentResult,
    answer_alignment,
    compute_alignment,
    solve_alignment,
)
from couplings.calculations.alignment_example import EXAMPLE
from couplings.calculations.alignment_page import drawn
from couplings.calculations.alignment_request import AlignmentRequest, read_alignment
from couplings.calculations.alignment_temperatures_form import page_field_of
from couplings.calculations.bolt_torque import BOLT_TORQUE
from couplings.calculations.dials import dial_pictures
from couplings.calculations.fit import FIT
from couplings.calculations.form import form_fields, page_fields, payload_from_page
from couplings.calculations.key import KEY
from couplings.calculations.moves import MOVES
from couplings.calculations.on_the_phone import phone_data
from couplings.calculations.pipe_strain import PIPE_STRAIN
from couplings.calculations.placement import PLACEMENT
from couplings.calculations.rings import rings
from couplings.calculations.run_out import RUN_OUT
from couplings.calculations.set_screws import SET_SCREWS
from couplings.calculations.shaft_torque import SHAFT_TORQUE
from couplings.calculations.soft_foot import SOFT_FOOT
from couplings.calculations.thermal_growth import THERMAL_GROWTH
from couplings.calculations.torque_check import TORQUE_CHECK
from couplings.calculations.typed import field_of, flat_errors, payload_from_typed, read_typed
from couplings.calculations.wear import WEAR
from couplings.engineering.alignment import METHODS
from plant.calculations import Calculation, Form, register

__all__ = [
    "ALIGNMENT",
    "CLOSURE_LIMIT_MM",
    "AlignmentRequest",
    "AlignmentResult",
    "answer_alignment",
    "compute_alignment",
    "field_of",
    "flat_errors",
    "form_fields",
    "payload_from_page",
    "payload_from_typed",
    "read_alignment",
    "read_typed",
    "register_all",
    "rings",
    "solve_alignment",
]

ALIGNMENT = Calculation(
    name="alignment",
    title="Alignment",
    summary="Offset, angularity, moves and verdict from readings by any method, with how sure they are.",
    reader=read_alignment,
    function=compute_alignment,
    writer=answer_alignment,
    template="couplings/calculations/alignment.html",
    form=Form(
        variants=lambda: tuple((method.name, method.title) for method in METHODS.values()),
        fields=page_fields,
        payload=payload_from_page,
        field_of=page_field_of,
        rings=rings,
        pictures=dial_pictures,
        script_data=phone_data,
    ),
    drawn=drawn,
    example=EXAMPLE,
)


def register_all() -> None:
    """Make this app's calculations known; harmless when called twice."""
    for each in (
        ALIGNMENT,
        BOLT_TORQUE,
        FIT,
        KEY,
        MOVES,
        PIPE_STRAIN,
        PLACEMENT,
        RUN_OUT,
        SET_SCREWS,
        SHAFT_TORQUE,
        SOFT_FOOT,
        THERMAL_GROWTH,
        TORQUE_CHECK,
        WEAR,
    ):
        register(each)


register_all()  # importing the package is enough for an app that is made ready
