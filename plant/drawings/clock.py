"""The ring inside the clock face: dial readings as points on a circle, and the circle that fits them best."""

from collections.abc import Mapping
from math import cos, radians, sin

import numpy as np

from plant.drawings.svg import circle, line, picture

CENTRE, RADIUS = 70.0, 46.0
UNITS_PER_MM = (260.0, 130.0, 65.0, 26.0, 13.0, 6.5, 2.6, 1.3)
ROOM = 22.0  # points stay between the face's centre and its edge


def _fit(angles: list[float], values: list[float]) -> tuple[float, float, float] | None:
    """Mean, vertical and horizontal part of c + v cos + h sin; None while the points do not fix all three."""
    if len(values) < 3:
        return None
    theta = np.radians(angles)
    design = np.column_stack([np.ones_like(theta), np.cos(theta), np.sin(theta)])
    solved, _, rank, _ = np.linalg.lstsq(design, np.asarray(values), rcond=1e-9)
    return (float(solved[0]), float(solved[1]), float(solved[2])) if rank == 3 else None


def clock_ring(readings_mm: Mapping[float, float], active: float | None = None) -> str:
    """The readings of one dial around the clock, 140 x 140.

    Parameters
    ----------
    readings_mm : mapping of float to float
        Degrees clockwise from 12 as the observer at the movable machine sees them -> reading with the sag taken
        out, signed so that plus on top means the shaft stands higher. A place not read is left out, never zero. [mm]
    active : float or None
        The place whose field is in hand. [deg]

    Returns
    -------
    str
        SVG. A point lies at r = 46 + 260 per mm of (reading - mean); where that would leave the face, 260 is
        halved until it does not, and the label says so.
    """
    angles, values = list(readings_mm), list(readings_mm.values())
    fitted = _fit(angles, values)
    mean = fitted[0] if fitted else (sum(values) / len(values) if values else 0.0)
    reach = max((abs(v - mean) for v in values), default=0.0)
    k = next((k for k in UNITS_PER_MM if reach * k <= ROOM), ROOM / reach if reach else UNITS_PER_MM[0])

    body = circle(CENTRE, CENTRE, RADIUS, "ring-base")
    body += line(CENTRE, 8, CENTRE, 132, "grid") + line(8, CENTRE, 132, CENTRE, "grid")
    for hour in range(12):
        turn, inner, css = radians(30 * hour), 58 if hour % 3 == 0 else 62, "tick2" if hour % 3 == 0 else "tick1"
        body += line(
            CENTRE + inner * sin(turn),
            CENTRE - inner * cos(turn),
            CENTRE + 66 * sin(turn),
            CENTRE - 66 * cos(turn),
            css,
        )
    if fitted:
        x, y = CENTRE + fitted[2] * k, CENTRE - fitted[1] * k
        body += circle(x, y, RADIUS, "ring-fit") + line(CENTRE, CENTRE, x, y, "spool")
        body += circle(CENTRE, CENTRE, 2.2, "dot") + circle(x, y, 4, "ring")
    for angle, value in zip(angles, values, strict=True):
        turn, r = radians(angle), RADIUS + (value - mean) * k
        on = active is not None and (angle - active) % 360 == 0
        body += circle(CENTRE + r * sin(turn), CENTRE - r * cos(turn), 4.5, "pt-on" if on else "dot")

    label = f"{len(values)} readings as points on a circle" if values else "No reading yet"
    if fitted:
        label += "; the thin circle is the best fit"
    if k < UNITS_PER_MM[0]:
        label += f", drawn {UNITS_PER_MM[0] / k:.0f} times smaller than usual"
    return picture(140, 140, body, label, "rg")
