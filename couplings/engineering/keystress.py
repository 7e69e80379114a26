"""What a parallel key carries: shear and bearing stress, working length, length needed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from couplings.engineering.keys import KeyStockError, above_zero
from couplings.engineering.tables.keys import BEARING_RANGES, BearingRange

ENDS = ("round", "one round", "square")
TWO_KEYS = 1.5  # two keys never share alike: Jiang, Example 4.1, pp. 95-96
LONGEST_PER_DIAMETER = 1.5  # Shigley, 9th ed., p. 391


@dataclass(frozen=True)
class KeyStress:
    """Stress in one of the keys that carry the torque, and what was counted. [MPa], [mm]"""

    shear_mpa: float
    bearing_mpa: float
    working_length_mm: float
    counted_keys: float


@dataclass(frozen=True)
class StressLine:
    """A stress against what is allowed. [MPa]

    `low_mpa` and `high_mpa` are one figure where the allowed stress was given.
    """

    name: str
    value_mpa: float
    low_mpa: float
    high_mpa: float
    verdict: str
    source: str


def working_length_mm(length_mm: float, width_mm: float, ends: str) -> float:
    """Length of a key that bears along its sides.

    Parameters
    ----------
    length_mm, width_mm : float
        Whole length, and width. [mm]
    ends : str
        'round' (both), 'one round' or 'square'.

    Returns
    -------
    float
        ``L - b``, ``L - b/2`` or ``L``. [mm]

    Raises
    ------
    KeyStockError
        Ends that are not known, or a key whose round ends leave nothing between them.

    References
    ----------
    Jiang, Analysis and Design of Machine Elements, ch. 4.
    """
    above_zero("length", length_mm)
    above_zero("width", width_mm)
    if ends not in ENDS:
        raise KeyStockError("ends", f"Choose one of: {', '.join(ENDS)}.")
    left = length_mm - {"round": width_mm, "one round": width_mm / 2, "square": 0.0}[ends]
    if left <= 0:
        raise KeyStockError("length", "The round ends take the whole key: it must be longer than it is wide.")
    return left


def key_stress(
    torque_nm: float, shaft_mm: float, width_mm: float, height_mm: float, working_mm: float, keys: int = 1
) -> KeyStress:
    """Shear and bearing stress of a key.

    Parameters
    ----------
    torque_nm : float
        Carried by the key, with its service factor if one is wanted. [N*m]
    shaft_mm, width_mm, height_mm, working_mm : float
        Diameter, key width, height and working length. [mm]
    keys : int
        1, or 2, which count as 1.5.

    Returns
    -------
    KeyStress
        ``2T/(d b l)`` and ``4T/(d h l)``, divided by the keys counted. [MPa]

    Raises
    ------
    KeyStockError
        A figure that is not finite or above zero, another number of keys.

    References
    ----------
    Jiang, Analysis and Design of Machine Elements, Example 4.1, pp. 95-96.
    """
    for field, size in (
        ("torque", torque_nm), ("shaft", shaft_mm), ("width", width_mm), ("height", height_mm), ("length", working_mm),
    ):  # fmt: skip
        above_zero(field, size)
    if keys not in (1, 2):
        raise KeyStockError("keys", "One or two keys are computed.")
    counted = 1.0 if keys == 1 else TWO_KEYS
    per_key = torque_nm * 1000 / counted
    return KeyStress(
        2 * per_key / (shaft_mm * width_mm * working_mm),
        4 * per_key / (shaft_mm * height_mm * working_mm),
        working_mm,
        counted,
    )


def length_needed_mm(
    torque_nm: float,
    shaft_mm: float,
    width_mm: float,
    height_mm: float,
    bearing_mpa: float,
    shear_mpa: float | None = None,
    keys: int = 1,
) -> float:
    """Shortest working length that keeps the stresses at what is allowed.

    Parameters
    ----------
    torque_nm : float
        Carried by the key. [N*m]
    shaft_mm, width_mm, height_mm : float
        Diameter, key width and height. [mm]
    bearing_mpa : float
        Allowed bearing stress. [MPa]
    shear_mpa : float, optional
        Allowed shear stress; None leaves shear out. [MPa]
    keys : int
        1, or 2, which count as 1.5.

    Returns
    -------
    float
        The longer of what bearing and shear ask for. [mm]

    Raises
    ------
    KeyStockError
        A figure that is not finite or above zero.

    References
    ----------
    Mott, Machine Elements in Mechanical Design, Ex. 11-1, p. 500.
    """
    above_zero("allowed_bearing", bearing_mpa)
    one = key_stress(torque_nm, shaft_mm, width_mm, height_mm, 1.0, keys)
    lengths = [one.bearing_mpa / bearing_mpa]
    if shear_mpa is not None:
        above_zero("allowed_shear", shear_mpa)
        lengths.append(one.shear_mpa / shear_mpa)
    return max(lengths)


def bearing_range(material: str, rows: Sequence[BearingRange] = BEARING_RANGES) -> BearingRange:
    """Allowable bearing stress of the weakest part.

    Parameters
    ----------
    material : str
        'steel' or 'cast iron' in the starter.
    rows : sequence of BearingRange
        Starter or the site's own. [MPa]

    Returns
    -------
    BearingRange
        Low for shock, high for a steady load. [MPa]

    Raises
    ------
    KeyStockError
        A material without a row.

    References
    ----------
    Jiang, Analysis and Design of Machine Elements, p. 95.
    """
    for row in rows:
        if row.material == material:
            return row
    raise KeyStockError("material", f"Choose one of: {', '.join(row.material for row in rows)}.")


def judged_stress(name: str, value_mpa: float, low_mpa: float, high_mpa: float, source: str = "") -> StressLine:
    """A stress against an allowed one, or against a published range.

    Parameters
    ----------
    name : str
        What is judged.
    value_mpa, low_mpa, high_mpa : float
        Stress, and the ends of what is allowed; both ends alike where one figure was given. [MPa]
    source : str
        Where the range comes from.

    Returns
    -------
    StressLine
        In tolerance up to the low end, out of tolerance above the high end, between them too close to call: the source
        leaves it to the kind of load. [MPa]

    Raises
    ------
    KeyStockError
        A figure that is not finite or above zero, or ends out of order.

    References
    ----------
    Common practice.
    """
    for field, size in (("value", value_mpa), ("allowed", low_mpa), ("allowed", high_mpa)):
        above_zero(field, size)
    if high_mpa < low_mpa:
        raise KeyStockError("allowed", "The allowed stresses are out of order.")
    verdict = "in tolerance" if value_mpa <= low_mpa else "too close to call"
    if value_mpa > high_mpa:
        verdict = "out of tolerance"
    return StressLine(name, value_mpa, low_mpa, high_mpa, verdict, source)


def key_warnings(length_mm: float, shaft_mm: float, keys: int = 1) -> tuple[str, ...]:
    """What the trade would say of a key's length.

    Parameters
    ----------
    length_mm, shaft_mm : float
        Whole key length, and shaft diameter. [mm]
    keys : int
        1 or 2.

    Returns
    -------
    tuple of str
        Sentences, none where there is nothing to say.

    References
    ----------
    Shigley, 9th ed., p. 391: not longer than 1.5 diameters, a second key at 90 degrees.
    """
    said = []
    if length_mm > LONGEST_PER_DIAMETER * shaft_mm:
        said.append("The key is longer than 1.5 shaft diameters: the far end carries little. Two keys share better.")
    if keys == 2:
        said.append("Two keys stand at 90 degrees to each other and count as 1.5, since they never share alike.")
    return tuple(said)
