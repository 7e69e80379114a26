"""The shaft picture of a misalignment: the numbers of its table as two drawings."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from couplings.engineering.alignment import Misalignment
from couplings.engineering.conformity import Limit
from couplings.engineering.moves import FootMove
from plant.drawings import Foot, Position, ShaftPicture
from plant.drawings import Limits as Gates

FAMILIES = {"sheet": "the data sheet", "grade": "the speed grade"}


def picture_of(
    misalignment: Misalignment,
    target: Sequence[float],
    planes_mm: tuple[float, float] | None,
    limits: Iterable[Limit],
    moves: Iterable[FootMove],
    *,
    stationary: str,
    movable: str,
    system: str,
    expected: str = "",
) -> ShaftPicture:
    """Put a misalignment on squared paper.

    The band is what the tightest limits leave: angles at the flex planes where such a limit stands, else offset and
    angularity at the coupling's centre. Working frame. `expected` says when, where it is not measured. [mm, mrad]
    """
    limits = list(limits)
    tightest = {
        name: min((limit for limit in limits if limit.quantity in names), key=lambda limit: limit.value, default=None)
        for name, names in {
            "a": ("flex-angle", "flex-angle-a"),
            "b": ("flex-angle", "flex-angle-b"),
            "offset": ("offset",),
            "slope": ("angularity",),
        }.items()
    }
    a, b, offset, slope = (tightest[name] for name in ("a", "b", "offset", "slope"))
    gates, allowed = None, ""
    if planes_mm is not None and a is not None and b is not None:
        gates = Gates.of_flex_angles(a.value, b.value, planes_mm)
        allowed = FAMILIES[a.family]
    elif offset is not None:
        gates = Gates(offset_mm=offset.value, slope_mrad=slope.value if slope is not None else None)
        allowed = FAMILIES[offset.family]
        planes_mm = None  # the gate then stands at the centre
    v, h, sv, sh = misalignment.mean
    return ShaftPicture(
        stationary=stationary,
        movable=movable,
        vertical=Position(v, sv) if misalignment.has_vertical else None,
        horizontal=Position(h, sh) if misalignment.has_horizontal else None,
        target_vertical=Position(target[0], target[2]),
        target_horizontal=Position(target[1], target[3]),
        planes_mm=planes_mm,
        limits=gates,
        feet=tuple(Foot(move.name, move.x_mm, _known(move.up_mm), _known(move.right_mm)) for move in moves),
        system=system,
        allowed_by=allowed or "the limits",
        expected=expected,
    )


def _known(move_mm: float) -> float | None:
    return move_mm if math.isfinite(move_mm) else None
