"""What set screws hold: axially by the point on the shaft, torsionally by that force on the shaft's radius.

The tables are starters that a site edits (tables/setscrews.py) and are handed in as arguments.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from couplings.engineering.setscrew_classes import SetScrewError
from couplings.engineering.tables.setscrews import (
    FLAT_ADDS,
    HARDER_HRC,
    SOFT_LOSES,
    STARTER_ANGLES,
    STARTER_FACTORS,
    STARTER_HOLDING,
    AngleRow,
    FactorRow,
    HoldingRow,
)

COUNTS = (0, 1, 2, 4)


@dataclass(frozen=True)
class Screw:
    """One screw as seated: what it holds and where that figure comes from. [mm, N*m, N]"""

    size: str
    diameter_mm: float | None
    seating_nm: float | None
    holding_n: float
    mark: str
    source: str


@dataclass(frozen=True)
class Holding:
    """What all screws hold together, before and after the design factor. [N, N*m]

    `mark` is of `factor`: from memory, common practice, constructed (between two rows), or "" where none is needed.
    """

    count: int
    factor: float
    mark: str
    axial_n: float
    torsional_nm: float
    design_factor: float
    axial_allowed_n: float
    torsional_allowed_nm: float


def row_of(size: str, table: Sequence[HoldingRow] = STARTER_HOLDING) -> HoldingRow:
    """The table's row for a size.

    Parameters
    ----------
    size : str
        As the table names it: "#10", "3/8".
    table : sequence of HoldingRow
        The site's table.

    Returns
    -------
    HoldingRow
        Seating torque and holding power. [N*m, N]

    Raises
    ------
    SetScrewError
        The table has no such size: the holding power then has to be stated.

    References
    ----------
    Shigley's Mechanical Engineering Design, 9th ed., table 7-4 (starter rows, each marked).
    """
    for row in table:
        if row.size == size:
            return row
    raise SetScrewError(
        "size",
        f"The table has no holding power for {size}: state it from the data sheet. It has "
        + ", ".join(row.size for row in table)
        + ".",
    )


def seated(row: HoldingRow, seating_nm: float | None = None) -> Screw:
    """One screw of the table, seated to a torque.

    Parameters
    ----------
    row : HoldingRow
        Of the table.
    seating_nm : float, optional
        Torque it is seated with; None: the table's. [N*m]

    Returns
    -------
    Screw
        Holding power in proportion to the seating torque. [N]

    Raises
    ------
    SetScrewError
        A torque at or below zero, or above the table's, which the table says nothing about.

    References
    ----------
    Holding power is proportional to seating torque: Machine Design, "Setscrews", 15 November 2002.
    """
    if seating_nm is None:
        return Screw(row.size, row.diameter_mm, row.seating_nm, row.holding_n, row.mark, row.source)
    _positive("seating_torque", seating_nm)
    share = seating_nm / row.seating_nm
    if share > 1 + 1e-9:
        raise SetScrewError("seating_torque", "This is more than the table's seating torque for this size.")
    mark = row.mark if share > 1 - 1e-9 else "constructed"
    return Screw(row.size, row.diameter_mm, seating_nm, row.holding_n * share, mark, row.source)


def factor_by_angle(angle_deg: float, table: Sequence[AngleRow] = STARTER_ANGLES) -> tuple[float, str]:
    """What two screws hold over what one holds.

    Parameters
    ----------
    angle_deg : float
        Angle between them about the shaft, 0 (one axial line) to 180. [deg]
    table : sequence of AngleRow
        The site's table.

    Returns
    -------
    tuple of float and str
        The factor and its mark; linear between two rows, which is "constructed" where they differ.

    Raises
    ------
    SetScrewError
        An angle outside the table, a table without rows.

    References
    ----------
    No public formula gives these figures: the table is kept as data, its rows marked.
    """
    if not math.isfinite(angle_deg):
        raise SetScrewError("angle", "This angle is missing or not a finite number.")
    rows = sorted(table, key=lambda row: row.angle_deg)
    if not rows or not rows[0].angle_deg <= angle_deg <= rows[-1].angle_deg:
        covered = f"{rows[0].angle_deg:g} to {rows[-1].angle_deg:g}" if rows else "no"
        raise SetScrewError("angle", f"The table of two screws covers {covered} degrees.")
    for row in rows:
        if math.isclose(row.angle_deg, angle_deg, rel_tol=0, abs_tol=1e-9):
            return row.factor, row.mark
    above = next(place for place, row in enumerate(rows) if row.angle_deg > angle_deg)
    a, b = rows[above - 1], rows[above]
    if (a.factor, a.mark, a.source) == (b.factor, b.mark, b.source):
        return a.factor, a.mark  # two ends of one range
    part = (angle_deg - a.angle_deg) / (b.angle_deg - a.angle_deg)
    return a.factor + part * (b.factor - a.factor), "constructed"


def count_factor(count: int, angle_deg: float | None, table: Sequence[AngleRow] = STARTER_ANGLES) -> tuple[float, str]:
    """What several screws hold over what one holds.

    Parameters
    ----------
    count : int
        0, 1, 2, or 4: two rows of two at the same angle.
    angle_deg : float, optional
        Angle between the two screws of a row; needed for 2 and 4. [deg]
    table : sequence of AngleRow
        The site's table.

    Returns
    -------
    tuple of float and str
        The factor and its mark. Four count as two pairs in one axial line: twice a pair, which is constructed.

    Raises
    ------
    SetScrewError
        Another count, no angle where one is needed, an angle outside the table.

    References
    ----------
    As `factor_by_angle`; doubling for a second row follows its row at 0 degrees (from memory).
    """
    if count not in COUNTS:
        raise SetScrewError("count", "None, one, two or four screws are reckoned with.")
    if count < 2:
        return float(count), ""
    if angle_deg is None:
        raise SetScrewError("angle", "Say at which angle about the shaft the screws stand to each other.")
    factor, mark = factor_by_angle(angle_deg, table)
    if count == 2:
        return factor, mark
    return 2 * factor, "constructed"


def torsional_nm(axial_n: float, shaft_mm: float) -> float:
    """Torque that a holding force bears on a shaft.

    Parameters
    ----------
    axial_n : float
        Holding force. [N]
    shaft_mm : float
        Shaft diameter. [mm]

    Returns
    -------
    float
        ``axial * shaft radius``. [N*m]

    Raises
    ------
    SetScrewError
        A diameter not above zero, a force that is not finite.

    References
    ----------
    Shigley's Mechanical Engineering Design, 9th ed., p. 390.
    """
    _positive("shaft_diameter", shaft_mm)
    if not math.isfinite(axial_n):
        raise SetScrewError("holding", "This force is missing or not a finite number.")
    return axial_n * shaft_mm / 2000


def holding(
    screw_n: float,
    count: int,
    angle_deg: float | None,
    shaft_mm: float,
    design_factor: float,
    *,
    flat: bool = False,
    harder_hrc: float | None = None,
    table: Sequence[AngleRow] = STARTER_ANGLES,
) -> Holding:
    """What the screws of one hub hold.

    Parameters
    ----------
    screw_n : float
        Axial holding power of one screw. [N]
    count, angle_deg, table
        As for `count_factor`.
    shaft_mm : float
        Shaft diameter. [mm]
    design_factor : float
        What the holding power is divided by, at least 1. [1]
    flat : bool
        The points stand on a flat: 6 % more against turning.
    harder_hrc : float, optional
        How much harder the screw is than the shaft; less than 10: 15 % less. None: not known, nothing taken off. [HRC]

    Returns
    -------
    Holding
        Axial and torsional, as they are and over the design factor. [N, N*m]

    Raises
    ------
    SetScrewError
        As the functions it uses; a design factor below 1, a holding power not above zero.

    References
    ----------
    Shigley, p. 390; flat and hardness: Machine Design, "Setscrews", 15 November 2002.
    """
    _positive("holding", screw_n)
    if not (math.isfinite(design_factor) and design_factor >= 1):
        raise SetScrewError("design_factor", "A design factor of at least 1 is expected.")
    factor, mark = count_factor(count, angle_deg, table)
    if harder_hrc is not None and not math.isfinite(harder_hrc):
        raise SetScrewError("harder_hrc", "This difference is not a finite number.")
    soft = harder_hrc is not None and harder_hrc < HARDER_HRC
    axial = screw_n * factor * (1 - SOFT_LOSES if soft else 1.0)
    torsional = torsional_nm(axial, shaft_mm) * (1 + FLAT_ADDS if flat else 1.0)
    return Holding(
        count=count,
        factor=factor,
        mark=mark,
        axial_n=axial,
        torsional_nm=torsional,
        design_factor=design_factor,
        axial_allowed_n=axial / design_factor,
        torsional_allowed_nm=torsional / design_factor,
    )


def share_used(held: Holding, torque_nm: float, thrust_n: float = 0.0) -> float | None:
    """How much of what the screws may be loaded with a torque and a thrust take together.

    Parameters
    ----------
    held : Holding
        Of one hub.
    torque_nm : float
        Torque that the screws carry: zero where a key carries it. [N*m]
    thrust_n : float
        Axial force on the hub, either way. [N]

    Returns
    -------
    float or None
        ``sqrt((T / T allowed)^2 + (F / F allowed)^2)``, 1 at the limit; None where no screw holds anything. [1]

    Raises
    ------
    SetScrewError
        A load that is not finite.

    References
    ----------
    Constructed: the point holds in the plane of the shaft's surface, so both forces add as vectors there.
    """
    for name, load in (("torque", torque_nm), ("thrust", thrust_n)):
        if not math.isfinite(load):
            raise SetScrewError(name, "This load is missing or not a finite number.")
    if held.axial_allowed_n == 0:
        return None
    return math.hypot(torque_nm / held.torsional_allowed_nm, thrust_n / held.axial_allowed_n)


def factor_range(load: str, table: Sequence[FactorRow] = STARTER_FACTORS) -> FactorRow:
    """The range of design factors for a kind of load.

    Parameters
    ----------
    load : str
        "static" or "dynamic".
    table : sequence of FactorRow
        The site's table.

    Returns
    -------
    FactorRow
        Lower and upper end with the source. [1]

    Raises
    ------
    SetScrewError
        A kind of load that the table does not have.

    References
    ----------
    Shigley's Mechanical Engineering Design, 9th ed., p. 390.
    """
    for row in table:
        if row.load == load:
            return row
    raise SetScrewError("load", f"Choose one of: {', '.join(row.load for row in table)}.")


def _positive(field: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0):
        raise SetScrewError(field, "This is missing, not finite or not above zero.")
