"""In which order the screws of a joint are tightened, pass by pass.

Positions are numbered from 1, clockwise as the crew sees the flange; along a segment from one end to the other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from couplings.engineering.threads import FastenerError, positive

ORDERS = ("opposite", "round", "middle-outward")
MOST_POSITIONS = 64
# About a third, about two thirds, full; then once round at full torque. ASME PCC-1's earlier pattern, from memory:
# 20 to 30, 50 to 70, 100 %. A starter: the data sheet's own steps go first.
STARTER_SHARES = (0.3, 0.7, 1.0)
STARTER_SHARES_SOURCE = "starter: 30, 70 and 100 %, after ASME PCC-1's earlier pattern (from memory)"


@dataclass(frozen=True)
class Pass:
    """One pass: every position once, in this order, to this torque. [N*m]"""

    number: int
    share: float
    torque_nm: float
    order: str
    positions: tuple[int, ...]


def opposite_pairs(positions: int) -> tuple[int, ...]:
    """Opposite pairs: a pair, then the pair a quarter turn away, then those in between.

    Parameters
    ----------
    positions : int
        Screws on the circle, evenly spaced.

    Returns
    -------
    tuple of int
        An even number: each two in a row stand opposite, and each pair as far as can be from those already done. An odd
        number has no opposites: each next one stands nearest to opposite, in one direction (common practice).

    References
    ----------
    MIL-HDBK-60 s. 5.7.
    """
    _count(positions)
    if positions % 2:
        step = max(1, positions // 2)  # has no divisor in common with the odd number, so that it meets every position
        return tuple(1 + (place * step) % positions for place in range(positions))
    half = positions // 2
    done, waiting = [0], list(range(1, half))
    while waiting:
        # max() keeps the first of equals, so that the order is always the same.
        following = max(waiting, key=lambda one: min(min(abs(one - other), half - abs(one - other)) for other in done))
        done.append(following)
        waiting.remove(following)
    return tuple(number for pair in done for number in (pair + 1, pair + 1 + half))


def once_round(positions: int) -> tuple[int, ...]:
    """Round the circle, one after the other.

    Parameters
    ----------
    positions : int
        1 to 64.

    Returns
    -------
    tuple of int
        Positions from 1 on.

    References
    ----------
    Common practice, for a last check round.
    """
    _count(positions)
    return tuple(range(1, positions + 1))


def middle_outward(positions: int, segments: int = 1) -> tuple[int, ...]:
    """From the middle of each segment outward, to both sides in turn, one segment after the other.

    Parameters
    ----------
    positions : int
        All screws, numbered through from the first end of the first segment.
    segments : int
        Equal segments they lie on, such as the two halves of a clamping ring.

    Returns
    -------
    tuple of int
        Every position once.

    Raises
    ------
    FastenerError
        The positions do not divide into the segments.

    References
    ----------
    Common practice for what must lie flat before it is clamped at its ends.
    """
    _count(positions)
    if not 1 <= segments <= positions or positions % segments:
        raise FastenerError("segments", f"{positions} positions do not lie evenly on {segments} segments.")
    length = positions // segments
    middle = (length - 1) / 2
    # Ties, the two neighbours of the middle, begin with the lower number.
    along = sorted(range(length), key=lambda place: (abs(place - middle), place))
    return tuple(segment * length + place + 1 for segment in range(segments) for place in along)


def positions_in_order(order: str, positions: int, segments: int = 1) -> tuple[int, ...]:
    """The positions by one of ORDERS.

    Parameters
    ----------
    order : str
        A key of ORDERS.
    positions, segments : int
        Screws of the joint, and the segments they lie on.

    Returns
    -------
    tuple of int
        Every position once.

    Raises
    ------
    FastenerError
        No such order, or positions that cannot be.

    References
    ----------
    As the order's own function.
    """
    if order == "opposite":
        return opposite_pairs(positions)
    if order == "round":
        return once_round(positions)
    if order == "middle-outward":
        return middle_outward(positions, segments)
    raise FastenerError("order", f"Choose one of: {', '.join(ORDERS)}.")


def tightening_passes(
    torque_nm: float,
    positions: int,
    order: str,
    *,
    shares: Sequence[float] = STARTER_SHARES,
    segments: int = 1,
    check_round: bool = True,
) -> tuple[Pass, ...]:
    """Every pass with its torque and its positions in order; the last is at full torque.

    Parameters
    ----------
    torque_nm : float
        Full torque. [N*m]
    positions : int
        Screws of the joint.
    order : {'opposite', 'round', 'middle-outward'}
    shares : sequence of float
        Of the full torque, pass by pass, rising, the last 1. [1]
    segments : int
        For 'middle-outward'.
    check_round : bool
        Go once round at full torque at the end, where the order is not round already.

    Returns
    -------
    tuple of Pass
        In the order of the work. [N*m]

    Raises
    ------
    FastenerError
        Shares that fall, lie outside (0, 1] or do not end at 1; no such order; not 1 to 64 positions.

    References
    ----------
    MIL-HDBK-60 s. 5.7: in stages, opposite pairs, and again hours later.
    """
    positive("torque", torque_nm)
    if not shares or any(not (math.isfinite(share) and 0 < share <= 1) for share in shares):
        raise FastenerError("shares", "Each pass takes a share of the full torque, above 0 and at most 1.")
    if any(later < earlier for earlier, later in pairwise(shares)):
        raise FastenerError("shares", "No pass may take less than the one before it.")
    if shares[-1] != 1:
        raise FastenerError("shares", "The last pass must be at full torque.")
    in_order = positions_in_order(order, positions, segments)
    rows = [(share, order, in_order) for share in shares]
    if check_round and order != "round" and positions > 1:
        rows.append((1.0, "round", once_round(positions)))
    return tuple(
        Pass(number, share, share * torque_nm, how, where) for number, (share, how, where) in enumerate(rows, start=1)
    )


def _count(positions: int) -> None:
    if not 1 <= positions <= MOST_POSITIONS:
        raise FastenerError("positions", f"A joint has 1 to {MOST_POSITIONS} positions.")
