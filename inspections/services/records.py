"""The chain: the next link of a coupling, with the names and settings as they were."""

from __future__ import annotations

from typing import Any

from couplings.models import Coupling
from inspections.models import SignedRecord, Visit
from inspections.selectors.hold_points import signed_beside
from inspections.steps.judging import RULE_VERSION
from inspections.steps.records import canonical, digest_of, instant, link_of, visit_of
from inspections.steps.rows import Plan, described
from plant.recording import current

FORMAT = 1


def append(
    *,
    coupling: Coupling,
    visit: Visit,
    plan: Plan,
    steps: list[dict[str, Any]],
    left_so_reason: str,
    nothing_moved: bool,
    amends: SignedRecord | None = None,
    reason: str = "",
    accepts: SignedRecord | None = None,
) -> SignedRecord:
    """Write the next link of the coupling's chain. The coupling's row is locked by the caller."""
    unit = current()
    if unit.by is None:
        raise RuntimeError("A record is signed by a person.")
    last = SignedRecord.objects.filter(coupling=coupling).order_by("-number").first()
    record = SignedRecord(
        site_id=coupling.site_id,
        coupling=coupling,
        number=last.number + 1 if last is not None else 1,
        kind=_kind(amends, accepts),
        visit=visit,
        amends=amends,
        reason=reason,
        previous_digest=last.digest if last is not None else "",
        signed_by=unit.by,
        signed_at=unit.at,
    )
    content = {
        "format": FORMAT,
        "rule_version": RULE_VERSION,
        "record": link_of(record),
        "visit": visit_of(visit, left_so_reason, nothing_moved),
        "names": _names(visit),
        "sheet": _sheet(visit),
        "settings": _settings(visit),
        "instruments": _instruments(plan),
        "steps": steps,
        **described(plan),
    }
    # A run-up names the text it accepts; what others said of the visit stands in the text that it is about.
    content |= {"accepts": accepts.digest} if accepts is not None else signed_beside(visit)
    record.text = canonical(content)
    record.digest = digest_of(record.previous_digest, record.text)
    record.save()
    return record


def _kind(amends: SignedRecord | None, accepts: SignedRecord | None) -> str:
    if accepts is not None:
        return SignedRecord.Kind.RUN_UP
    return SignedRecord.Kind.AMENDMENT if amends is not None else SignedRecord.Kind.VISIT


def _names(visit: Visit) -> dict[str, Any]:
    coupling, order, unit = visit.coupling, visit.work_order, current()
    names: dict[str, Any] = {
        "site": coupling.site.name,
        "area": coupling.train.area.name,
        "train": coupling.train.tag,
        "coupling": coupling.tag,
        "driver_machine": coupling.driver_machine.name,
        "driven_machine": coupling.driven_machine.name,
        "fit_serial": visit.fit.serial,
        "taken_by": str(visit.taken_by),
        "entered_by": str(visit.entered_by),
        "signed_by": str(unit.by),
    }
    if order is not None:
        names["work_order"] = {
            "number": order.number,
            "permit": order.permit,
            "no_permit_reason": order.no_permit_reason,
            "isolated_at": instant(order.isolated_at),
            "isolated_by": str(order.isolated_by or ""),
            "verified_at": instant(order.verified_at),
            "verified_by": str(order.verified_by or ""),
            "removed_at": instant(order.removed_at),
            "crew": [{"name": one.name, "employer": one.employer} for one in order.crew.all()],
        }
    return names


def _sheet(visit: Visit) -> dict[str, Any]:
    version = visit.sheet_version
    return {"designation": version.sheet.designation, "version": version.number, "digest": version.digest}


def _settings(visit: Visit) -> dict[str, Any]:
    site = visit.site
    return {
        "confidence": site.confidence,
        "closure_limit_mm": site.closure_limit_mm,
        "reading_u_mm": site.reading_u_mm,
        "engagement_share": site.engagement_share,
        "units": site.units,
    }


def _instruments(plan: Plan) -> dict[str, Any]:
    used = {row.instrument for row in plan.rows if getattr(row, "instrument", None) is not None}  # type: ignore[attr-defined]
    return {
        str(one.uuid): {
            "kind": one.kind,
            "name": one.name,
            "serial": one.serial,
            "calibrated_on": one.calibrated_on.isoformat() if one.calibrated_on else None,
            "calibration_days": one.calibration_days,
        }
        for one in used
    }
