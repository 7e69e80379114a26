"""What a signed visit leaves behind in the fit: the distance between shaft ends, and how its hub halves are mounted."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from couplings.models import Fit, HubHalf
from couplings.services.fits import change_fit
from couplings.services.hubs import TAPERED
from inspections.models import Mounting, Placement, Visit
from inspections.steps.rows import Plan
from plant.refusals import Refused

CARRIED = frozenset({"placement", "mounting"})


def carry_to_fit(*, visit: Visit, plan: Plan, steps: Collection[str] = CARRIED) -> None:
    """Give the fit what was last left behind in it, by these steps; what a later visit left stays.

    A hub half that came after this visit keeps its own facts, and a fit that was removed keeps what it left with.
    """
    fit = Fit.objects.select_related("site", "sheet_version__sheet__family").get(pk=visit.fit_id)
    if fit.removed_on is not None:
        return
    left: dict[str, Any] = {}
    placed = next(iter(plan.facts.get("placement", [])), None) if "placement" in steps else None
    if placed is not None and placed.dbse_mm is not None and fit.dbse_mm != placed.dbse_mm:
        later = Placement.objects.filter(visit__fit=fit, visit__on__gt=visit.on, record__feeds__isnull=False)
        if not later.exists():
            left["dbse_mm"] = placed.dbse_mm
    if "mounting" in steps and (hubs := _mounted(visit, plan, fit)):
        left["hubs"] = hubs
    if not left:
        return
    try:
        change_fit(fit=fit, **left)
    except Refused as refused:
        raise Refused({f"mounting.{name}": text for name, text in refused.as_dict().items()}) from None


def _mounted(visit: Visit, plan: Plan, fit: Fit) -> list[dict[str, Any]]:
    """The halves of the fit as this visit mounted them, in what they differ from what is on record."""
    rows: list[Mounting] = list(plan.facts.get("mounting", []))
    if not rows:
        return []
    later = Mounting.objects.filter(visit__fit=fit, visit__on__gt=visit.on, record__feeds__isnull=False)
    mounted_later = set(later.values_list("side", flat=True))
    present = {half.side: half for half in fit.hubs.all() if half.removed_on is None}
    found = []
    for row in rows:
        half = present.get(row.side) or HubHalf(fit=fit, side=row.side, fitted_on=fit.fitted_on)
        if row.side in mounted_later or half.fitted_on > visit.on:
            continue
        told = {name: value for name, value in _facts(row, half).items() if getattr(half, name) != value}
        if told:
            found.append({"side": row.side} | told)
    return found


def _facts(row: Mounting, half: HubHalf) -> dict[str, Any]:
    facts: dict[str, Any] = {}
    if row.bore_mm is not None:
        facts["bore_mm"] = row.bore_mm
    if row.key_width_mm is not None and row.key_height_mm is not None:
        facts |= {"key_width_mm": row.key_width_mm, "key_height_mm": row.key_height_mm}
    if row.kind:
        # Held another way than before, an advance or a pressure of then says nothing any more.
        same = row.kind == half.mounting_kind
        advance, pressure = row.advance_mm, row.expansion_pressure_mpa
        facts |= {
            "mounting_kind": row.kind,
            "advance_mm": _kept(advance, half.advance_mm, same) if row.kind in TAPERED else None,
            "pressure_mpa": _kept(pressure, half.pressure_mpa, same) if row.kind == "hydraulic" else None,
        }
    return facts


def _kept(now: float | None, before: float | None, same: bool) -> float | None:
    return before if now is None and same else now
