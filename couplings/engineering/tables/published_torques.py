"""Torque tables as printed, to hold a computed torque against: each made by its own policy, none mixed with another.

The Army table is K = 0.20 at 75 % of proof load (grade 5 at 7/8 and 1 in with the superseded 78 ksi); the MSFC table
follows 65 % of yield and lies 16 to 34 % below it.
"""

from __future__ import annotations

from dataclasses import dataclass

_ARMY = "Army TM 10-6640-238-13 App. G, capscrews clean and dry, within 10 %"
_MSFC = "MSFC-STD-486B (1992) Table I"
LBF_FT_NM = 1.3558179483314004  # exact by definition (NIST SP 811, App. B)


@dataclass(frozen=True)
class PublishedTorque:
    """One printed torque: SAE grade, size [inch], condition; `unit` is that of the print, [lbf*ft] or [lbf*in]."""

    source: str
    grade: str
    size: str
    condition: str
    printed: float
    unit: str
    note: str = ""

    @property
    def torque_nm(self) -> float:
        return self.printed * LBF_FT_NM / (12 if self.unit == "lbf*in" else 1)


_SIZES = ("1/4", "5/16", "3/8", "7/16", "1/2", "9/16", "5/8", "3/4", "7/8", "1")
_ARMY_LBF_FT = {
    "5": (8, 17, 31, 49, 75, 110, 150, 270, 395, 590),
    "8": (12, 24, 44, 70, 105, 155, 210, 375, 605, 910),
}
_MSFC_LBF_IN = {
    ("2", "1/4"): (55, 42), ("2", "3/4"): (1380, 1080),
    ("5", "1/4"): (80, 72), ("5", "3/8"): (265, 228), ("5", "1/2"): (610, 540), ("5", "3/4"): (2340, 1620),
    ("5", "1"): (5220, 4200),
    ("8", "1/4"): (102, 90), ("8", "3/8"): (375, 330), ("8", "1/2"): (905, 790), ("8", "3/4"): (3000, 2640),
    ("8", "1"): (7236, 6360),
}  # fmt: skip
_SUPERSEDED = "made with the superseded 78 ksi of grade 5"

PUBLISHED_TORQUES = (
    *(
        PublishedTorque(
            _ARMY, grade, size, "dry", torque, "lbf*ft", _SUPERSEDED if grade == "5" and size in ("7/8", "1") else ""
        )
        for grade, row in _ARMY_LBF_FT.items()
        for size, torque in zip(_SIZES, row, strict=True)
    ),
    *(
        PublishedTorque(_MSFC, grade, size, condition, torque, "lbf*in")
        for (grade, size), row in _MSFC_LBF_IN.items()
        for condition, torque in zip(("cadmium plated, dry", "lubricated"), row, strict=True)
    ),
)


def published_torques(grade: str, size: str) -> tuple[PublishedTorque, ...]:
    """What is printed for an SAE grade and a size.

    Parameters
    ----------
    grade : str
        '5' or '8'.
    size : str
        Such as '1/2'. [inch]

    Returns
    -------
    tuple of PublishedTorque
        Empty where there is nothing. [N*m]

    References
    ----------
    Each row names its own.
    """
    return tuple(row for row in PUBLISHED_TORQUES if (row.grade, row.size) == (grade, size))
