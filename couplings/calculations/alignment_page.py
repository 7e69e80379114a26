"""What the alignment page shows beyond the answer: the shaft picture of the result."""

from __future__ import annotations

from typing import Any

from couplings.calculations.alignment_answer import AlignmentResult
from couplings.calculations.figures import coefficient_row
from couplings.calculations.picture import picture_of


def drawn(result: AlignmentResult, system: str) -> dict[str, Any]:
    """The picture, and the moves with what the reader needs beside it."""
    request = result.request
    found = result.position
    known = found.has_vertical or found.has_horizontal
    picture = picture_of(
        found,
        request.target,
        request.flex_planes_mm,
        request.judged_by.limits if request.judged_by else (),
        result.moves,
        stationary="stationary",
        movable="movable",
        system=system,
    )
    made = result.correction
    return {
        "picture": picture if known else None,
        "moves": result.moves,
        "lines": result.judgement.lines,
        "coefficients": [coefficient_row(one, system) for one in made.coefficients] if made else [],
    }
