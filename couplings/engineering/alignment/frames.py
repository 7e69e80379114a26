"""From the crew's frame to the record's and back: who is movable today must not change what the record says."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from couplings.engineering.alignment.misalignment import Misalignment
from couplings.engineering.alignment.readings import AlignmentError

# Order: vertical offset, horizontal offset, vertical slope, horizontal slope. The observer walks to the other end, so
# right turns over, and "relative to" turns over: offsets change sign once vertically and twice horizontally; slopes
# gain one more change because x changes sign.
CLOCK_SIGNS = np.array([-1.0, 1.0, 1.0, -1.0])
# Compass points stay where they are when the observer walks.
COMPASS_SIGNS = np.array([-1.0, -1.0, 1.0, 1.0])


def swapped(misalignment: Misalignment, *, compass: bool = False) -> Misalignment:
    """The same two shafts with the stationary and the movable machine exchanged.

    x becomes -x and the flex planes change names: use `swapped_planes`.

    Parameters
    ----------
    misalignment : Misalignment
        Seen from the movable machine.
    compass : bool
        Vertical machines: components are compass points (north, east), not up and right.

    Returns
    -------
    Misalignment
        Offset (-V, +H), slope (+V, -H); by compass offset (-, -), slope (+, +).

    References
    ----------
    Geometry of two frames: offsets change sign by who is relative to whom and by left and right, slopes also by x.
    """
    signs = COMPASS_SIGNS if compass else CLOCK_SIGNS
    return Misalignment.of(signs * misalignment.mean_array, np.outer(signs, signs) * misalignment.covariance_array)


def swapped_planes(flex_planes_mm: Sequence[float]) -> tuple[float, float]:
    """Flex planes A and B after the machines are exchanged.

    Parameters
    ----------
    flex_planes_mm : (x_A, x_B)
        From the coupling's centre. [mm]

    Returns
    -------
    (float, float)
        (-x_B, -x_A). [mm]

    References
    ----------
    Geometry of two frames: x turns over, and A stays on the stationary side.
    """
    xa, xb = flex_planes_mm
    return (-xb, -xa)


def to_record(misalignment: Misalignment, stationary: str, *, compass: bool = False) -> Misalignment:
    """The driver-side shaft relative to the driven-side shaft, seen from the driver end.

    Parameters
    ----------
    misalignment : Misalignment
        As measured: movable relative to stationary, seen from the movable machine.
    stationary : {'driven', 'driver'}
        The side that stood still that day. 'driven' is the record's own frame.

    Returns
    -------
    Misalignment
        In the record's frame, which stays the same whichever machine was moved. [mm, mrad]

    Raises
    ------
    AlignmentError
        Another word than 'driver' or 'driven'.

    References
    ----------
    Geometry of two frames, as `swapped`.
    """
    if stationary not in ("driver", "driven"):
        raise AlignmentError("stationary", "Say which side stands still: driver or driven.")
    return misalignment if stationary == "driven" else swapped(misalignment, compass=compass)


def from_record(misalignment: Misalignment, stationary: str, *, compass: bool = False) -> Misalignment:
    """From the record's frame to that of a survey in which `stationary` stands still; undoes `to_record`.

    Parameters
    ----------
    misalignment : Misalignment
        In the record's frame. [mm, mrad]
    stationary : {'driven', 'driver'}
        The side that stands still.
    compass : bool
        Vertical machines: components are compass points.

    Returns
    -------
    Misalignment
        Movable relative to stationary. [mm, mrad]

    Raises
    ------
    AlignmentError
        As `to_record`.

    References
    ----------
    Geometry of two frames, as `swapped`.
    """
    return to_record(misalignment, stationary, compass=compass)
