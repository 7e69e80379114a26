"""Starter rows of the speed-grade table: only where a source is public.

A site that owns ANSI/ASA S2.75 fills the rows marked "fill" from its own copy: the standard's table is not public, so
no number is given here.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class GradeRow:
    """One row: up to `rpm` [1/min] (the shaft's highest speed; None: any), limits [mm, mrad] where the source has them.

    `kind`: 'short flexible' is judged at the coupling's centre, 'spacer' at its flex planes. `mark`: published,
    textbook, or fill (the site fills it from its own copy). `printed_offset_in`: as the source prints it. [inch]
    """

    grade: str
    kind: str
    rpm: float | None
    offset_mm: float | None
    flex_angle_mrad: float | None
    rule: str
    source: str
    mark: str
    printed_offset_in: float | None = None


_PUMPS = "R. Mackay, The Practical Pumping Handbook, Elsevier 2004, p. 178, fig. 10.13"
_API = "API RP 686, 2nd ed. (2009), ch. 7, 5.4.6.2, as quoted on a public engineering forum"
_ASA = "ANSI/ASA S2.75 Part 1: fill from your own copy, its table is not public"

# Millimetres are the printed inches as the trade rounds them. The angles printed beside them are almost certainly a
# misprinted unit and are left out.
STARTER_GRADES = (
    GradeRow("pump, 3600 rpm", "short flexible", 3600, 0.05, None, "per-plane", _PUMPS, "textbook", 0.002),
    GradeRow("pump, 1800 rpm", "short flexible", 1800, 0.10, None, "per-plane", _PUMPS, "textbook", 0.004),
    GradeRow("pump, 1200 rpm", "short flexible", 1200, 0.13, None, "per-plane", _PUMPS, "textbook", 0.005),
    GradeRow("flex planes", "spacer", None, None, 0.5, "per-plane", _API, "published"),
    GradeRow("own copy, short flexible", "short flexible", None, None, None, "per-plane", _ASA, "fill"),
    GradeRow("own copy, spacer", "spacer", None, None, None, "per-plane", _ASA, "fill"),
)


def starter_grade(kind: str, rpm: float) -> GradeRow | None:
    """The starter row that holds at a speed: the lowest band at or above it, else the row for any speed.

    Parameters
    ----------
    kind : {'short flexible', 'spacer'}
    rpm : float
        The shaft's highest speed. [1/min]

    Returns
    -------
    GradeRow or None
        None when no row with a number reaches so high.

    References
    ----------
    R. Mackay, The Practical Pumping Handbook, p. 178, and API RP 686 as quoted in public; each row names its own.
    """
    filled = [row for row in STARTER_GRADES if row.kind == kind and row.mark != "fill"]
    bands = [row for row in filled if row.rpm is None or row.rpm >= rpm]
    return min(bands, key=lambda row: row.rpm or float("inf"), default=None)
