"""Torque tools: what their class allows, when they are due for calibration, and how sure one reading is."""

from __future__ import annotations

import math
from dataclasses import dataclass

from couplings.engineering.threads import FastenerError, positive

# ISO 6789 as remembered (type II, classes A and B); a site puts its own copy's figures in. All from memory.
CLASS_SPLIT_NM = 10.0
CLASS_LIMIT_UP_TO_SPLIT = 0.06
CLASS_LIMIT_ABOVE = 0.04
INTERVAL_MONTHS = 12
INTERVAL_OPERATIONS = 5000
CLASS_SOURCE = "ISO 6789, type II, classes A and B (from memory)"
INTERVAL_SOURCE = "ISO 6789: 12 months or 5,000 operations, whichever first (from memory)"
# MSFC-STD-486B s. 4.2: use a tool between these shares of its full scale.
RANGE_SHARES = (0.2, 0.8)
TEST_SHARES = (0.2, 0.6, 1.0)


@dataclass(frozen=True)
class TorqueTool:
    """A wrench as it was used: its permissible deviation and the step of its scale.

    `limit` is a share of the reading [1], `resolution_nm` 0 where the scale is not known to limit [N*m]; `due` whether
    its calibration had run out, None where that is not known.
    """

    limit: float
    resolution_nm: float = 0.0
    full_scale_nm: float | None = None
    due: bool | None = None
    source: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.limit) and 0 < self.limit < 1):
            raise FastenerError("tool.limit", "The permissible deviation is a share above 0 and below 100 %.")
        if not (math.isfinite(self.resolution_nm) and self.resolution_nm >= 0):
            raise FastenerError("tool.resolution", "The step of the scale is not negative.")

    def standard_uncertainty_nm(self, torque_nm: float) -> float:
        """Standard uncertainty of one reading: permissible deviation and scale step as even distributions.

        ``sqrt((limit T)^2/3 + step^2/12)`` (JCGM 100:2008, 4.3.7). [N*m]
        """
        return math.hypot(self.limit * torque_nm / math.sqrt(3), self.resolution_nm / math.sqrt(12))


def class_limit(full_scale_nm: float) -> float:
    """Permissible deviation of a setting wrench.

    Parameters
    ----------
    full_scale_nm : float
        Its largest torque. [N*m]

    Returns
    -------
    float
        As a share of the reading. [1]

    References
    ----------
    ISO 6789, type II, classes A and B: 6 % up to 10 N*m, 4 % above (from memory).
    """
    positive("full_scale", full_scale_nm)
    return CLASS_LIMIT_UP_TO_SPLIT if full_scale_nm <= CLASS_SPLIT_NM else CLASS_LIMIT_ABOVE


def calibration_due(
    months: float,
    operations: float,
    *,
    interval_months: float = INTERVAL_MONTHS,
    interval_operations: float = INTERVAL_OPERATIONS,
) -> bool:
    """Whether a tool's interval has run out, by time or by use, whichever is reached first.

    Parameters
    ----------
    months, operations : float
        Since the last calibration. [month]
    interval_months, interval_operations : float
        A site's setting; starter 12 and 5 000. [month]

    Returns
    -------
    bool
        True once either is reached.

    Raises
    ------
    FastenerError
        A figure below zero, an interval not above zero.

    References
    ----------
    ISO 6789 (from memory); MSFC-STD-486B s. 4.2 checks at most every 30 days, and after a fall.
    """
    for name, value in (("months", months), ("operations", operations)):
        if not (math.isfinite(value) and value >= 0):
            raise FastenerError(name, "This must not be negative.")
    positive("interval_months", interval_months)
    positive("interval_operations", interval_operations)
    return months >= interval_months or operations >= interval_operations


def deviation(indicated: float, reference: float) -> float:
    """Deviation of a tool at one test.

    Parameters
    ----------
    indicated, reference : float
        In one unit. [N*m]

    Returns
    -------
    float
        ``(indicated - reference)/reference``: 100 against 96.0 is 4.17 %, beyond a class of 4 %. [1]

    References
    ----------
    ISO 6789 (from memory).
    """
    positive("reference", reference)
    positive("indicated", indicated)
    return (indicated - reference) / reference


def within_class(indicated: float, reference: float, limit: float) -> bool:
    """Whether a test stays inside the permissible deviation; the limit itself belongs to it.

    Parameters
    ----------
    indicated, reference : float
        In one unit. [N*m]
    limit : float
        Permissible deviation as a share. [1]

    Returns
    -------
    bool

    References
    ----------
    ISO 6789, from memory.
    """
    return abs(deviation(indicated, reference)) <= limit * (1 + 1e-12)


def calibration_points_nm(full_scale_nm: float) -> tuple[float, ...]:
    """Torques at which a tool is tested.

    Parameters
    ----------
    full_scale_nm : float
        [N*m]

    Returns
    -------
    tuple of floats
        20, 60 and 100 % of its largest. [N*m]

    References
    ----------
    ISO 6789, public text.
    """
    positive("full_scale", full_scale_nm)
    return tuple(share * full_scale_nm for share in TEST_SHARES)


def usable_range_nm(full_scale_nm: float) -> tuple[float, float]:
    """Where on its scale a tool may be used.

    Parameters
    ----------
    full_scale_nm : float
        [N*m]

    Returns
    -------
    (low, high)
        20 and 80 % of its largest. [N*m]

    References
    ----------
    MSFC-STD-486B s. 4.2.
    """
    positive("full_scale", full_scale_nm)
    return RANGE_SHARES[0] * full_scale_nm, RANGE_SHARES[1] * full_scale_nm
