"""Advice on what a data sheet says of its fasteners: preload of a joint, and what set screws hold at a coupling."""

from __future__ import annotations

from dataclasses import dataclass, replace

from couplings.engineering import shaft
from couplings.engineering.fastening import SCATTER, JointAdvice, advice_on
from couplings.engineering.setscrew_classes import SetScrewError
from couplings.engineering.setscrews import COUNTS, Holding, factor_range, holding, row_of, seated, share_used
from couplings.engineering.tables.nut_factors import ScatterRow
from couplings.engineering.tables.setscrews import STARTER_ANGLES, STARTER_HOLDING
from couplings.models import Coupling, SheetJoint, SheetVersion
from couplings.selectors.sheets import JOINT_FIELDS
from couplings.selectors.tables import second_screws_at
from plant import units

LOAD = "dynamic"  # a shaft that runs; the range of its design factors stands in the table of starters


@dataclass(frozen=True)
class HoldingAdvice:
    """What the set screws of one hub hold against the torque of the shaft. Advice: a key carries torque too.

    `torque_nm` is None where the power is not known, `share` where nothing is held or no torque known; `missing` says
    why there is no `held`.
    """

    count: int
    held: Holding | None = None
    torque_nm: float | None = None
    share: float | None = None
    design_factor: float = 1.0
    source: str = ""
    factor_source: str = ""
    missing: str = ""

    def sentence(self, system: str) -> str:
        """In one sentence with its numbers."""
        if self.held is None:
            return f"What {_screws(self.count)} can hold is not known. {self.missing}"
        if self.count == 0:
            return "No set screw holds this hub: the fit or a key has to."
        torsional, allowed = (
            units.written(one, "torque", system) for one in (self.held.torsional_nm, self.held.torsional_allowed_nm)
        )
        said = f"{_screws(self.count)} can hold {torsional} on this shaft, {allowed} with a design factor of "
        said = f"{said[0].upper()}{said[1:]}{self.design_factor:g} ({self.factor_source})"
        if self.torque_nm is None:
            return f"{said}. The power of this coupling is not on record, so the shaft's torque is not known."
        torque = units.written(self.torque_nm, "torque", system)
        if self.share is not None and self.share <= 1:
            return f"{said}; the shaft's torque is {torque}."
        return f"{said}; the shaft's torque is {torque}: more than that, so a key or the fit has to carry it."


def joint_advice(joint: SheetJoint, scatter: ScatterRow = SCATTER) -> JointAdvice:
    """Passes, preload range and share of the proof load of one joint, with what to heed and what is missing.

    `scatter` is the site's (`joint_scatter_at`); without one the starter's.
    """
    return advice_on({name: getattr(joint, name) for name in JOINT_FIELDS}, scatter)


def sentences_of(advice: JointAdvice, system: str) -> list[str]:
    """The advice in words with its numbers, the gravest first."""
    found = list(advice.warnings)
    if (preload := advice.preload) is not None:
        low, nominal, high = (
            units.written(one, "force", system) for one in (preload.low_n, preload.nominal_n, preload.high_n)
        )
        found.append(
            f"Preload {nominal}, {100 * preload.share:.0f} % of the proof load ({preload.strength_source}); from {low} "
            f"after losses to {high} by the scatter of {preload.scatter_source}."
        )
    return found + list(advice.missing)


def holding_advice(version: SheetVersion, coupling: Coupling, count: int | None = None) -> HoldingAdvice:
    """What `count` set screws of a hub hold against this coupling's torque; the sheet's count where none is given."""
    torque = shaft.torque_nm(coupling.power_kw, coupling.rpm) if coupling.power_kw else None
    return holding_at(version, torque, count)


def holding_at(version: SheetVersion, torque_nm: float | None, count: int | None = None) -> HoldingAdvice:
    """The same against any torque, such as the sheet's own rating; None: what they hold alone."""
    count = version.set_screw_count if count is None else count
    row, torque = factor_range(LOAD), torque_nm
    advice = HoldingAdvice(count, None, torque, None, row.low, factor_source=f"{row.load} load, {row.source}")
    if count == 0:
        return replace(advice, held=Holding(0, 0.0, "", 0.0, 0.0, row.low, 0.0, 0.0))
    try:
        force, source = _one_screw(version)
        if version.bore_mm is None:
            raise SetScrewError("bore", "The bore of the hub is not on the data sheet.")
        angles = second_screws_at(version.sheet.site_id) if count > 1 else STARTER_ANGLES
        held = holding(force, count, version.set_screw_angle_deg, version.bore_mm, row.low, table=angles)
    except SetScrewError as error:
        return replace(advice, missing=error.message)
    used = share_used(held, torque) if torque is not None else None
    return replace(advice, held=held, share=used, source=source)


def holding_by_count(version: SheetVersion, coupling: Coupling) -> list[HoldingAdvice]:
    """None, one, two and four screws beside each other."""
    return [holding_advice(version, coupling, count) for count in COUNTS]


def _one_screw(version: SheetVersion) -> tuple[float, str]:
    """Axial holding power of one screw [N] and where it is from: the sheet's own figure goes before the table."""
    if version.set_screw_holding_n is not None:
        return version.set_screw_holding_n, version.set_screw_holding_source
    if version.set_screw_size not in {row.size for row in STARTER_HOLDING}:
        said = f" for {version.set_screw_size}" if version.set_screw_size else ""
        raise SetScrewError("size", f"No holding power is on record{said}: state it on the data sheet with its source.")
    row = row_of(version.set_screw_size)
    screw = seated(row, version.set_screw_torque_nm)
    return screw.holding_n, f"{screw.source} ({screw.mark})"


def _screws(count: int) -> str:
    return {1: "one set screw"}.get(count, f"{count} set screws")
