"""Age of elastic elements: storage policy from the cure date, what published sources disagree on, heat ageing."""

from __future__ import annotations

import calendar
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from couplings.engineering.tables.elastomers import STORAGE_POLICIES, TEMPERATURES, StorageRow, TemperatureRow

GAS_CONSTANT = 8.314462618  # J/(mol K), CODATA 2018
KCAL_KJ = 4.184  # thermochemical calorie, exact by definition
DAYS_PER_YEAR = 365.25
_ZERO_C = 273.15


class AgeingError(ValueError):
    """A date, polymer or temperature that cannot be used; `field` names it."""

    def __init__(self, field: str, message: str) -> None:
        self.field, self.message = field, message
        super().__init__(f"{field}: {message}")


@dataclass(frozen=True)
class ElementAge:
    """Age of an element against a storage policy. [year]

    `initial_until` and `extended_until` are the last days of both periods, None without limit. `conflicts` tells what
    other published policies say of the same polymer.
    """

    polymer: str
    policy: str
    age_years: float
    row: StorageRow | None
    initial_until: date | None
    extended_until: date | None
    verdict: str
    reason: str
    conflicts: tuple[str, ...]


def storage_row(polymer: str, rows: Sequence[StorageRow]) -> StorageRow | None:
    """The row of a storage policy for a polymer.

    Parameters
    ----------
    polymer : str
        ISO 1629 letters, such as NBR.
    rows : sequence of StorageRow
        One policy. [year]

    Returns
    -------
    StorageRow or None
        None where the policy has no row. [year]

    References
    ----------
    The row names its own source.
    """
    return next((row for row in rows if row.polymer == polymer.upper()), None)


def storage_conflicts(
    polymer: str, policy: str, policies: Mapping[str, Sequence[StorageRow]] = STORAGE_POLICIES
) -> tuple[str, ...]:
    """What the other published policies say of a polymer, where they do not say the same.

    Parameters
    ----------
    polymer, policy : str
        ISO 1629 letters, and the policy that was chosen.
    policies : mapping of policy name to rows
        Starter: ISO 2230 and MIL-HDBK-695E. [year]

    Returns
    -------
    tuple of str
        One sentence per policy that differs; the figures are never averaged.

    References
    ----------
    ISO 2230:2002 and MIL-HDBK-695E (2011), both as restated in public text.
    """
    chosen = storage_row(polymer, policies.get(policy, ()))
    said = []
    for name, rows in policies.items():
        other = storage_row(polymer, rows)
        if name == policy or other is None:
            continue
        if chosen is None or (other.initial_years, other.extension_years) != (
            chosen.initial_years, chosen.extension_years,
        ):  # fmt: skip
            said.append(
                f"{other.source} gives {polymer.upper()} {_period(other)}. The site chooses one and records it."
            )
    return tuple(said)


def element_age(
    polymer: str,
    cured_on: date,
    on: date,
    policy: str = "iso-2230",
    policies: Mapping[str, Sequence[StorageRow]] = STORAGE_POLICIES,
) -> ElementAge:
    """Age of an element since its cure date against the site's storage policy.

    Parameters
    ----------
    polymer : str
        ISO 1629 letters, such as CR.
    cured_on, on : date
        Cure date, and the day asked about.
    policy : str
        Name of the policy the site chose.
    policies : mapping of policy name to rows
        Starter: ISO 2230 and MIL-HDBK-695E; a site may edit them. [year]

    Returns
    -------
    ElementAge
        In tolerance within the initial period, too close to call within the extension (an inspection decides), out of
        tolerance after it, not known where the policy has no row. [year]

    Raises
    ------
    AgeingError
        A policy that is not known, or a day before the cure date.

    References
    ----------
    ISO 2230:2002 as restated in public text. Storage only: a fitted element ages by load and heat as well.
    """
    if policy not in policies:
        raise AgeingError("policy", f"Choose one of: {', '.join(policies)}.")
    if on < cured_on:
        raise AgeingError("cured_on", "The cure date lies after the day asked about.")
    row = storage_row(polymer, policies[policy])
    years = (on - cured_on).days / DAYS_PER_YEAR
    conflicts = storage_conflicts(polymer, policy, policies)
    if row is None:
        reason = f"The policy {policy} has no row for {polymer}: enter one, from a source you can name."
        return ElementAge(polymer, policy, years, None, None, None, "not known", reason, conflicts)
    if row.initial_years is None:
        reason = f"{row.source} sets no limit."
        return ElementAge(polymer, policy, years, row, None, None, "in tolerance", reason, conflicts)
    first = years_later(cured_on, row.initial_years)
    last = years_later(cured_on, row.initial_years + row.extension_years)
    if on <= first:
        verdict, reason = "in tolerance", f"Within {_period(row)}."
    elif on <= last:
        verdict, reason = "too close to call", "Past the initial period: an inspection decides about the extension."
    else:
        verdict, reason = "out of tolerance", f"Past {_period(row)}: not to be fitted."
    return ElementAge(polymer, policy, years, row, first, last, verdict, reason, conflicts)


def years_later(start: date, years: float) -> date:
    """The same day so many years on, in whole months; the last of a short month stands for a day it does not have.

    Parameters
    ----------
    start : date
        First day.
    years : float
        Rounded to whole months. [year]

    Returns
    -------
    date
        Not beyond the calendar's last year.

    Raises
    ------
    AgeingError
        Years that are not finite or are negative.

    References
    ----------
    Common practice.
    """
    if not math.isfinite(years) or years < 0:
        raise AgeingError("years", "The years must be finite and not negative.")
    months = start.year * 12 + start.month - 1 + round(years * 12)
    year, month = divmod(months, 12)
    if year > date.max.year:
        return date.max
    return date(year, month + 1, min(start.day, calendar.monthrange(year, month + 1)[1]))


def ageing_factor(ea_kj_mol: float, from_c: float, to_c: float) -> float:
    """How many times faster a reaction ages a material at another temperature.

    Parameters
    ----------
    ea_kj_mol : float
        Activation energy, of the material and the property that counts. [kJ/mol]
    from_c, to_c : float
        Temperatures. [degC]

    Returns
    -------
    float
        ``exp(Ea/R (1/T1 - 1/T2))``; above 1 where it is hotter.

    Raises
    ------
    AgeingError
        A figure that is not finite, an energy not above zero, a temperature at or below absolute zero.

    References
    ----------
    Arrhenius, ISO 11346; natural rubber in air 90 kJ/mol: Rubber Chem. Technol. 74(1) 79 (2001).
    """
    if not math.isfinite(ea_kj_mol) or ea_kj_mol <= 0:
        raise AgeingError("ea", "The activation energy must be a finite number above zero.")
    for field, celsius in (("from", from_c), ("to", to_c)):
        if not math.isfinite(celsius) or celsius <= -_ZERO_C:
            raise AgeingError(field, "The temperature must be finite and above absolute zero.")
    return math.exp(ea_kj_mol * 1000 / GAS_CONSTANT * (1 / (from_c + _ZERO_C) - 1 / (to_c + _ZERO_C)))


def life_by_ten_degrees(life: float, reference_c: float, at_c: float) -> float:
    """The rule of thumb that ten degrees halve a life. A reason to look closer, never a date.

    Parameters
    ----------
    life : float
        At the reference temperature, in any unit of time. [year]
    reference_c, at_c : float
        Temperatures. [degC]

    Returns
    -------
    float
        ``life / 2^((T - Tref)/10)``, in the unit of `life`. [year]

    Raises
    ------
    AgeingError
        A figure that is not finite, a life not above zero.

    References
    ----------
    Common practice. It is Arrhenius with about 51 kJ/mol at 20 to 30 degC; natural rubber ages faster.
    """
    for field, number in (("life", life), ("reference", reference_c), ("at", at_c)):
        if not math.isfinite(number):
            raise AgeingError(field, "This must be a finite number.")
    if life <= 0:
        raise AgeingError("life", "The life must be above zero.")
    return life / 2 ** ((at_c - reference_c) / 10)


def temperature_rows(polymer: str, rows: Sequence[TemperatureRow] = TEMPERATURES) -> tuple[TemperatureRow, ...]:
    """Every published pair of service temperatures of a polymer, the starter first.

    Parameters
    ----------
    polymer : str
        ISO 1629 letters, or PU, HTPE.
    rows : sequence of TemperatureRow
        Starter or the site's own. [degC]

    Returns
    -------
    tuple of TemperatureRow
        Empty where there is none; where there are several the sources disagree. [degC]

    References
    ----------
    Each row names its own source.
    """
    return tuple(row for row in rows if row.polymer == polymer.upper())


def _period(row: StorageRow) -> str:
    if row.initial_years is None:
        return "no limit"
    more = f" and {row.extension_years:g} more after an inspection" if row.extension_years else ""
    return f"{row.initial_years:g} years{more}"
