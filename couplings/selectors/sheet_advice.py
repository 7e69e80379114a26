"""What a data sheet says beyond its own words while it is written: the DBSE it can serve, and what its screws hold."""

from __future__ import annotations

from dataclasses import dataclass

from couplings.engineering.orientations import Element, Hub, Range, Rules, Running, ranges
from couplings.engineering.placement import PlacementError, flange_behind_gap_face_mm, plane_to_plane_mm
from couplings.models import SheetHub, SheetVersion
from couplings.selectors.joints import HoldingAdvice, holding_at
from couplings.selectors.sheets import hub_of
from plant import units

SIDES = ("driver", "driven")
WAYS = {False: "flange side to the gap", True: "flange side to the machine"}
DUST_MM = 1e-6


@dataclass(frozen=True)
class Served:
    """The DBSE that one orientation of both hubs serves with one length of element or spacer. [mm]

    `allowed`: the sheet lets both hubs stand that way round. `nominal`: the sheet's own DBSE lies in the range.
    """

    element: str
    length_mm: float
    driver: str
    driven: str
    allowed: bool
    gap_mm: float
    from_mm: float | None
    to_mm: float | None
    touching: bool
    nominal: bool | None


@dataclass(frozen=True)
class Told:
    """Advice on a version, for a competent person; `missing` says what the sheet would have to state for more."""

    served: tuple[Served, ...]
    stated_dbse_mm: tuple[tuple[str, float], ...]
    holding: HoldingAdvice | None
    torque_nm: float | None
    warnings: tuple[str, ...]
    missing: tuple[str, ...]


def told_while_writing(version: SheetVersion, system: str = units.METRIC) -> Told:
    """The DBSE range of every orientation and length, and the set screws held against the torque at rating.

    Rules of placement are the starters: 80 % of the bore engaged, common practice; nothing touches. What the hubs are
    allowed is the sheet's own. The shafts are taken as long enough: their lengths belong to the machines.
    """
    warnings: list[str] = []
    missing: list[str] = []
    served, stated = _served(version, system, warnings, missing)
    holding = _holding(version, system, warnings, missing)
    return Told(served, stated, holding, version.torque_rating_nm, tuple(warnings), tuple(missing))


def _served(
    version: SheetVersion, system: str, warnings: list[str], missing: list[str]
) -> tuple[tuple[Served, ...], tuple[tuple[str, float], ...]]:
    rows = [hub_of(version, side) for side in SIDES]
    elements = tuple(Element(one.name, one.length_mm) for one in version.spacers.all())
    if any(row is None for row in rows):
        missing.append("The hubs' bore length and flange plane are not stated: without them no DBSE can be worked out.")
    if not elements:
        missing.append("No length of the element or spacer is stated: give it from flange plane to flange plane.")
    if not elements or rows[0] is None or rows[1] is None:
        return (), ()
    pair = (rows[0], rows[1])
    hubs = (_hub(pair[0]), _hub(pair[1]))
    try:
        found = ranges(hubs, elements, Rules(), Running())
    except PlacementError as error:
        missing.append(error.message)
        return (), ()
    served = tuple(_row(one, pair, version.dbse_mm) for one in found)
    mine = [row for row in served if row.allowed]
    if version.dbse_mm is not None and mine and not any(row.nominal for row in mine):
        dbse = units.written(version.dbse_mm, "size", system)
        warnings.append(
            f"The sheet's own distance between shaft ends, {dbse}, is served by none of the ways it allows: see "
            "whether a flange plane, a length or the distance itself is wrong."
        )
    return served, _stated(pair, elements, version, system, warnings)


def _stated(
    pair: tuple[SheetHub, SheetHub],
    elements: tuple[Element, ...],
    version: SheetVersion,
    system: str,
    warnings: list[str],
) -> tuple[tuple[str, float], ...]:
    """The DBSE that follows from the overhangs the sheet states, flanges as it allows them first, per length."""
    if pair[0].overhang_mm is None or pair[1].overhang_mm is None:
        return ()
    turned = [hub.orientation == SheetHub.Way.OUT for hub in pair]
    behind = [
        flange_behind_gap_face_mm(hub.bore_length_mm, hub.flange_mm, out) for hub, out in zip(pair, turned, strict=True)
    ]
    # The plane-to-plane length of a DBSE of nothing, so that its difference from E is the DBSE that E needs.
    nothing = plane_to_plane_mm(0.0, pair[0].overhang_mm, pair[1].overhang_mm, behind[0], behind[1])
    found = tuple((one.name, one.length_mm - nothing) for one in elements)
    if version.dbse_mm is not None:
        room = (version.dbse_tolerance_mm or 0.0) + DUST_MM
        if not any(abs(dbse - version.dbse_mm) <= room for _name, dbse in found):
            given = ", ".join(units.written(dbse, "size", system) for _name, dbse in found)
            warnings.append(
                f"With the overhangs stated the shaft ends stand {given} apart, not "
                f"{units.written(version.dbse_mm, 'size', system)} as the sheet says."
            )
    return found


def _hub(row: SheetHub) -> Hub:
    return Hub(row.bore_length_mm, row.flange_mm, protrusion_mm=row.protrusion_mm)


def _row(one: Range, pair: tuple[SheetHub, SheetHub], nominal_mm: float | None) -> Served:
    inside = None
    if nominal_mm is not None:
        inside = (
            one.from_mm is not None
            and one.to_mm is not None
            and one.from_mm - DUST_MM <= nominal_mm <= one.to_mm + DUST_MM
            and not (one.touching and nominal_mm <= one.from_mm + DUST_MM)
        )
    allowed = all(_allowed(hub, out) for hub, out in zip(pair, one.reversed, strict=True))
    driver, driven = (WAYS[out] for out in one.reversed)
    return Served(
        one.element.name, one.element.length_mm, driver, driven, allowed, one.gap_mm, one.from_mm, one.to_mm,
        one.touching, inside,
    )  # fmt: skip


def _allowed(hub: SheetHub, out: bool) -> bool:
    return hub.orientation != (SheetHub.Way.IN if out else SheetHub.Way.OUT)


def _holding(version: SheetVersion, system: str, warnings: list[str], missing: list[str]) -> HoldingAdvice | None:
    if version.set_screw_count == 0:
        return None
    if version.torque_rating_nm is None:
        missing.append("The torque rating is not stated: what the set screws hold cannot be compared with it.")
    found = holding_at(version, version.torque_rating_nm)
    if found.missing:
        missing.append(found.missing)
    if found.held is not None and found.share is not None and found.share > 1:
        allowed = units.written(found.held.torsional_allowed_nm, "torque", system)
        warnings.append(
            f"The set screws hold {allowed} with a design factor of {found.design_factor:g} ({found.factor_source}); "
            f"the rating is {units.written(version.torque_rating_nm, 'torque', system)}: a key or the fit has to carry "
            "the rest."
        )
    return found
