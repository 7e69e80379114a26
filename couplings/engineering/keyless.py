"""Records of hubs held without a key: hydraulic on a taper, and shrink discs; each with the checks a crew makes.

The figures checked against (advance, pressures, contact, gaps) are the data sheet's; none is assumed here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from couplings.engineering.fits import FitError
from couplings.engineering.pairs import IN, OUT

NOT_KNOWN = "not known"


@dataclass(frozen=True)
class Finding:
    """One check of a record, in words; `verdict` is in tolerance, out of tolerance or not known."""

    field: str
    verdict: str
    message: str


@dataclass(frozen=True)
class HydraulicFit:
    """A hub advanced on a taper by oil pressure. Lengths [mm], pressures [MPa], contact as a share, wait [hour]

    None is not written down. `advance_mm` is read from hand-tight to the final place; `waited_hours` from the release
    of the expansion pressure until the hub may be loaded.
    """

    advance_mm: float | None = None
    advance_wanted_mm: float | None = None
    advance_tolerance_mm: float | None = None
    expansion_pressure_mpa: float | None = None
    highest_pressure_mpa: float | None = None
    contact_share: float | None = None
    least_contact_share: float | None = None
    waited_hours: float | None = None
    least_wait_hours: float | None = None
    stop_nut_locked: bool | None = None


@dataclass(frozen=True)
class ShrinkDisc:
    """A hub squeezed on the shaft by a screwed disc. Torques [N*m], gaps round the disc [mm]

    `turned_at_full_torque` is whether any screw still turned in the last round at full torque. Shaft and bore under the
    disc are dry and clean; the screws are greased or not as the data sheet says.
    """

    screw_torque_nm: float | None = None
    screw_torque_wanted_nm: float | None = None
    turned_at_full_torque: bool | None = None
    gaps_mm: Sequence[float] = ()
    gap_difference_limit_mm: float | None = None
    shaft_dry_and_clean: bool | None = None


def hydraulic_findings(record: HydraulicFit) -> tuple[Finding, ...]:
    """Check what was written down of a hydraulic fit.

    Parameters
    ----------
    record : HydraulicFit
        As written down. [mm], [MPa]

    Returns
    -------
    tuple of Finding
        One per check, in the order of the work; a check with a figure missing is 'not known' and names it.

    Raises
    ------
    FitError
        A figure that is not finite or below zero, or a share above 1.

    References
    ----------
    Common practice; every limit is the data sheet's.
    """
    _check_record(record)
    advance_least = advance_most = None
    if record.advance_wanted_mm is not None and record.advance_tolerance_mm is not None:
        advance_least = record.advance_wanted_mm - record.advance_tolerance_mm
        advance_most = record.advance_wanted_mm + record.advance_tolerance_mm
    return (
        _between("contact_share", "Contact by blueing", record.contact_share, record.least_contact_share, math.inf),
        _between("advance_mm", "Advance from hand-tight", record.advance_mm, advance_least, advance_most),
        _between(
            "expansion_pressure_mpa", "Expansion pressure", record.expansion_pressure_mpa, 0.0,
            record.highest_pressure_mpa,
        ),
        _between("waited_hours", "Wait before loading", record.waited_hours, record.least_wait_hours, math.inf),
        _said("stop_nut_locked", "The stop nut is locked", record.stop_nut_locked),
    )  # fmt: skip


def shrink_disc_findings(record: ShrinkDisc) -> tuple[Finding, ...]:
    """Check what was written down of a shrink disc.

    Parameters
    ----------
    record : ShrinkDisc
        As written down. [N*m], [mm]

    Returns
    -------
    tuple of Finding
        One per check; a check with a figure missing is 'not known' and names it.

    Raises
    ------
    FitError
        A figure that is not finite or below zero.

    References
    ----------
    Common practice; torque and gap difference are the data sheet's.
    """
    _check_record(record)
    wanted = record.screw_torque_wanted_nm
    spread = max(record.gaps_mm) - min(record.gaps_mm) if len(record.gaps_mm) >= 3 else None
    still = None if record.turned_at_full_torque is None else not record.turned_at_full_torque
    return (
        _said("shaft_dry_and_clean", "Shaft and bore are dry and clean", record.shaft_dry_and_clean),
        _between("screw_torque_nm", "Screw torque", record.screw_torque_nm, wanted, wanted),
        _said("turned_at_full_torque", "No screw turned in the last round", still),
        _between("gaps_mm", "Difference of gaps round the disc", spread, 0.0, record.gap_difference_limit_mm),
    )


def _between(field: str, what: str, value: float | None, least: float | None, most: float | None) -> Finding:
    if value is None:
        return Finding(field, NOT_KNOWN, f"{what}: not written down.")
    if least is None or most is None:
        return Finding(field, NOT_KNOWN, f"{what}: the data sheet's figure is missing.")
    if value < least - 1e-9:
        return Finding(field, OUT, f"{what}: {value:g} where at least {least:g} is asked for.")
    if value > most + 1e-9:
        return Finding(field, OUT, f"{what}: {value:g} where at most {most:g} is allowed.")
    return Finding(field, IN, f"{what}: {value:g}.")


def _said(field: str, what: str, answer: bool | None) -> Finding:
    if answer is None:
        return Finding(field, NOT_KNOWN, f"{what}: not said.")
    return Finding(field, IN if answer else OUT, f"{what}: {'yes' if answer else 'no'}.")


def _check_record(record: HydraulicFit | ShrinkDisc) -> None:
    for field, value in vars(record).items():
        for number in value if isinstance(value, list | tuple) else (value,):
            if number is None or isinstance(number, bool):
                continue
            if not math.isfinite(number) or number < 0:
                raise FitError(field, "This must be a finite number, not negative.")
            if field.endswith("_share") and number > 1:
                raise FitError(field, "A share is at most 1.")
