"""Machines whose shaft stands upright, or that hang on a flange: positions are compass points.

Nothing sags round a vertical shaft and a flange has no feet, so there is no sag, no soft foot and no move of feet here.
Compass points are the same from above and from below, so the observer's place does not matter; x runs along the shaft
from the stationary towards the movable machine, whichever of them stands on top.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from couplings.engineering.alignment import AlignmentError, ReadingSet, Solution, solve

COMPASS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
KINDS = ("rim", "face", "gap")


def compass_angle_deg(point: str) -> float:
    """Angle of a compass point, clockwise from north seen from above: E is 90.

    Parameters
    ----------
    point : str
        N, NE .. NW.

    Returns
    -------
    float
        [deg]

    Raises
    ------
    AlignmentError
        Not one of the eight points.

    References
    ----------
    Common practice on vertical machines.
    """
    if point not in COMPASS:
        raise AlignmentError("at", f"Choose one of: {', '.join(COMPASS)}.")
    return 45.0 * COMPASS.index(point)


def compass_point(angle_deg: float) -> str:
    """The nearest of the eight compass points.

    Parameters
    ----------
    angle_deg : float
        Clockwise from north seen from above. [deg]

    Returns
    -------
    str
        N, NE .. NW.

    Raises
    ------
    AlignmentError
        Not finite.

    References
    ----------
    Common practice on vertical machines.
    """
    if not math.isfinite(angle_deg):
        raise AlignmentError("angle", "The angle is missing or not a finite number.")
    return COMPASS[round(angle_deg / 45.0) % 8]


def solve_upright(sets: Sequence[ReadingSet]) -> Solution:
    """Offset and slope of the movable shaft against the stationary one, by compass points.

    Parameters
    ----------
    sets : sequence of ReadingSet
        Kinds rim, face and gap, angles clockwise from north seen from above. [deg], [mm]

    Returns
    -------
    Solution
        Its "vertical" figures are those towards north, its "horizontal" ones towards east. [mm, mrad]

    Raises
    ------
    AlignmentError
        As `solve`; another kind of reading, a sag, a half reading.

    References
    ----------
    The linear model of `solve`: its angles are directions square to the shaft and need no vertical.
    """
    errors: dict[str, str] = {}
    for place, item in enumerate(sets):
        if item.kind not in KINDS:
            errors[f"reading_sets.{place}.kind"] = f"Choose one of: {', '.join(KINDS)}."
        if item.sag_mm or item.sag_u_mm:
            errors[f"reading_sets.{place}.sag"] = "A bracket on an upright shaft does not sag: leave it out."
    if errors:
        raise AlignmentError(errors)
    return solve(sets)
