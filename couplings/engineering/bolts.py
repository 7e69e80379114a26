"""What a bolt may carry: strength by class and size, proof load, share of it, and stretch."""

from __future__ import annotations

from collections.abc import Sequence

from couplings.engineering.tables.bolt_strengths import STARTER_STRENGTHS, StrengthRow
from couplings.engineering.threads import FastenerError, Thread, positive

SET_SCREW_CLASSES = ("14H", "22H", "33H", "45H")
# Upper end of the published preload policies: 75 to 90 % of yield or proof (MIL-HDBK-60 s. 5.2), 65 to 90 %
# (NASA TM-106943); lower end 65 % (NASA TM-106943, MSFC-STD-486B, the latter of yield). Starters, a site's to change.
SHARE_AT_MOST = 0.90
SHARE_AT_LEAST = 0.65


def strength_of(
    standard: str,
    name: str,
    diameter_mm: float,
    *,
    superseded: bool = False,
    table: Sequence[StrengthRow] = STARTER_STRENGTHS,
) -> StrengthRow:
    """Strength of a property class or grade at a diameter.

    Parameters
    ----------
    standard : {'ISO 898-1', 'SAE J429'}
    name : str
        '8.8', '10.9' ..; '2', '5', '8'.
    diameter_mm : float
        Nominal diameter; it decides: 8.8 is stronger above 16 mm, grade 5 weaker above 1 in. [mm]
    superseded : bool
        Take the old value where there is one: only to understand an old table, never to tighten by.
    table : rows
        Starter: tables/bolt_strengths.py.

    Returns
    -------
    StrengthRow
        With its source. [MPa]

    Raises
    ------
    FastenerError
        No such class, a set-screw class, or a size for which the standard has no row.

    References
    ----------
    ISO 898-1:2013 Table 3; SAE J429 as in Shigley, 9th ed., Table 8-9 p. 433.
    """
    positive("diameter", diameter_mm)
    if name in SET_SCREW_CLASSES:
        raise FastenerError("class", f"{name} is a class of set screws: for compression only, never in tension.")
    of_name = [row for row in table if (row.standard, row.name) == (standard, name)]
    if not of_name:
        known = dict.fromkeys(f"{row.standard} {row.name}" for row in table)
        raise FastenerError("class", f"There is no {standard} {name} here. There are: {', '.join(known)}.")
    holding = [row for row in of_name if row.holds(diameter_mm)]
    for row in holding:
        if row.superseded == superseded:
            return row
    current = [row for row in holding if not row.superseded]
    if current:
        return current[0]  # nothing was superseded at this size
    today = [row for row in of_name if not row.superseded]
    smallest, largest = min(row.from_mm for row in today), max(row.to_mm for row in today)
    raise FastenerError(
        "class", f"{standard} {name} covers {smallest:g} to {largest:g} mm; this is {diameter_mm:g} mm."
    )


def proof_load_n(thread: Thread, strength: StrengthRow, area_mm2: float | None = None) -> float:
    """Load that leaves no measurable set: proof strength times stress area.

    Parameters
    ----------
    thread : Thread
        Its stress area. [mm^2]
    strength : StrengthRow
        Its proof strength. [MPa]
    area_mm2 : float, optional
        In place of the thread's own: ISO's tables multiply areas rounded to three figures. [mm^2]

    Returns
    -------
    float
        [N]

    References
    ----------
    ISO 898-1:2013 Table 5; SAE J429.
    """
    return strength.proof_mpa * (thread.area_mm2 if area_mm2 is None else area_mm2)


def tensile_load_n(thread: Thread, strength: StrengthRow) -> float:
    """Smallest breaking load: tensile strength times stress area.

    Parameters
    ----------
    thread : Thread
        Its stress area. [mm^2]
    strength : StrengthRow
        Its tensile strength. [MPa]

    Returns
    -------
    float
        [N]

    Raises
    ------
    FastenerError
        The row has no tensile strength on record.

    References
    ----------
    ISO 898-1:2013 Table 4.
    """
    if strength.tensile_mpa is None:
        raise FastenerError("class", "No tensile strength is on record for this row.")
    return strength.tensile_mpa * thread.area_mm2


def share_warnings(
    nominal: float, low: float, high: float, *, at_most: float = SHARE_AT_MOST, at_least: float = SHARE_AT_LEAST
) -> tuple[str, ...]:
    """What to say about a preload's share of the proof load.

    Parameters
    ----------
    nominal, low, high : float
        Preload over proof load: at the nominal torque, and at both ends of its range. [1]
    at_most, at_least : float
        The policy. [1]

    Returns
    -------
    tuple of str
        Sentences, the gravest first; empty where nothing stands out.

    References
    ----------
    Policies: MIL-HDBK-60 s. 5.2, NASA TM-106943, MSFC-STD-486B.
    """
    positive("at_most", at_most)
    said = []
    if nominal > 1:
        said.append(
            f"The nominal preload is {100 * nominal:.0f} % of the proof load: the bolt would be stretched for good."
        )
    elif high > 1:
        said.append(f"At the high end of the scatter the preload reaches {100 * high:.0f} % of the proof load.")
    if at_most < nominal <= 1:
        said.append(
            f"The nominal preload is {100 * nominal:.0f} % of the proof load, "
            f"above the {100 * at_most:.0f} % of the policy."
        )
    if nominal < at_least:
        said.append(
            f"The nominal preload is {100 * nominal:.0f} % of the proof load, less than the {100 * at_least:.0f} % "
            "that published policies begin at: it may be meant so, for a soft part or a short bolt."
        )
    if low <= 0:
        said.append("At the low end of the scatter, after its losses, nothing of the preload is left.")
    return tuple(said)


def elongation(stress: float, length: float, modulus: float) -> float:
    """Stretch of a bolt of one diameter.

    Parameters
    ----------
    stress, modulus : float
        In one unit. [MPa]
    length : float
        That is stretched, in any unit. [mm]

    Returns
    -------
    float
        ``stress length / modulus``, in the unit of `length`. [mm]

    References
    ----------
    Hooke's law; MIL-HDBK-60 s. 6.2.1.
    """
    for name, value in (("stress", stress), ("length", length), ("modulus", modulus)):
        positive(name, value)
    return stress * length / modulus


def stretching_temperature(stress: float, modulus: float, expansion: float, start: float) -> float:
    """Temperature to which a bolt is heated so that it cools to a wanted stress.

    Parameters
    ----------
    stress, modulus : float
        In one unit.
    expansion : float
        Coefficient of the bolt. [1/degree]
    start : float
        Temperature of the joint, in the same degrees.

    Returns
    -------
    float
        ``start + stress / (modulus * expansion)``, in the same degrees.

    References
    ----------
    MIL-HDBK-60 s. 6.3.2.
    """
    for name, value in (("stress", stress), ("modulus", modulus), ("expansion", expansion)):
        positive(name, value)
    return start + stress / (modulus * expansion)
