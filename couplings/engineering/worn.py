"""Wear by subtraction with the hours left, and a chain's elongation."""

from __future__ import annotations

import math
from dataclasses import dataclass

from couplings.engineering.wear import WearError


@dataclass(frozen=True)
class WearLeft:
    """Wear by subtraction, carried on at the same rate. [mm], [hour]

    `hours_left` is negative past the limit, None where nothing has worn.
    """

    worn_mm: float
    left_mm: float
    hours_left: float | None


def wear_left(new_mm: float, now_mm: float, limit_mm: float, hours: float) -> WearLeft:
    """Wear by subtraction, and the hours left at the rate so far.

    Parameters
    ----------
    new_mm, now_mm, limit_mm : float
        Size when new, now, and where it is worn out; the limit is the site's or the data sheet's. [mm]
    hours : float
        Run since new. [hour]

    Returns
    -------
    WearLeft
        [mm], [hour]

    Raises
    ------
    WearError
        A figure that is not finite, hours not above zero, a limit equal to the new size.

    References
    ----------
    Subtraction; a constant rate is a first guess (common practice), and `drift` does it with its spread.
    """
    for field, number in (("new", new_mm), ("now", now_mm), ("limit", limit_mm), ("hours", hours)):
        if not math.isfinite(number):
            raise WearError(field, "This must be a finite number.")
    if hours <= 0:
        raise WearError("hours", "The running hours must be above zero.")
    if new_mm == limit_mm:
        raise WearError("limit", "The limit must differ from the new size.")
    towards = 1.0 if new_mm > limit_mm else -1.0
    worn, left = towards * (new_mm - now_mm), towards * (now_mm - limit_mm)
    return WearLeft(worn, left, left / (worn / hours) if worn > 0 else None)


def chain_elongation_limit(teeth: int | None = None, fixed_centres: bool = False) -> float:
    """At which elongation a roller chain is replaced.

    Parameters
    ----------
    teeth : int, optional
        Of the larger sprocket; None or up to 67 has the general limit.
    fixed_centres : bool
        Whether nothing takes up the slack.

    Returns
    -------
    float
        0.03; 0.015 with fixed centres; 2/N above 67 teeth; the smallest that holds. [1]

    Raises
    ------
    WearError
        Fewer than five teeth.

    References
    ----------
    Public text based on ANSI B29.1: 3 %, 1.5 % with fixed centres, 200/N % above 67 teeth.
    """
    if teeth is not None and teeth < 5:
        raise WearError("teeth", "A sprocket has at least five teeth.")
    limit = 2.0 / teeth if teeth is not None and teeth > 67 else 0.03
    return min(limit, 0.015) if fixed_centres else limit


def chain_length_mm(pitch_mm: float, links: int, elongation: float = 0.0) -> float:
    """Length of a stretch of chain.

    Parameters
    ----------
    pitch_mm : float
        [mm]
    links : int
        Pitches measured over.
    elongation : float
        As a share; 0 is new. [1]

    Returns
    -------
    float
        ``pitch * links * (1 + elongation)``. [mm]

    Raises
    ------
    WearError
        A pitch or count that is not above zero, an elongation that is not finite.

    References
    ----------
    Public text based on ANSI B29.1.
    """
    if not math.isfinite(pitch_mm) or pitch_mm <= 0:
        raise WearError("pitch", "The pitch must be a finite number above zero.")
    if links < 1:
        raise WearError("links", "At least one link is measured.")
    if not math.isfinite(elongation) or abs(elongation) >= 1:
        raise WearError("elongation", "The elongation is a share well below 1.")
    return pitch_mm * links * (1 + elongation)


def chain_elongation(pitch_mm: float, links: int, measured_mm: float) -> float:
    """Elongation of a chain from the length over some links, pulled tight.

    Parameters
    ----------
    pitch_mm, measured_mm : float
        New pitch, and length measured. [mm]
    links : int
        Pitches measured over; common practice is as many as can be reached.

    Returns
    -------
    float
        As a share of the new length. [1]

    Raises
    ------
    WearError
        A figure that is not finite or above zero.

    References
    ----------
    Public text based on ANSI B29.1.
    """
    if not math.isfinite(measured_mm) or measured_mm <= 0:
        raise WearError("measured", "The length must be a finite number above zero.")
    return measured_mm / chain_length_mm(pitch_mm, links) - 1
