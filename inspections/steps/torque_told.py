"""What the fasteners step tells: the order of tightening, and each joint in words once it is entered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from couplings.engineering.tightening import Pass
from couplings.models import SheetJoint
from couplings.selectors import joint_advice
from inspections.models import Torque, Visit
from inspections.selectors.torques import fit_for_use, last_wrench
from inspections.steps.registry import Offer, Place, Typed
from inspections.steps.torque_judging import refusal, wrench_nm
from plant import units


@dataclass(frozen=True)
class PositionTold:
    position: int
    torque: str
    verdict: str
    reason: str


@dataclass(frozen=True)
class JointTold:
    """One joint. `refused` says why this visit must not touch it; `positions` those that were judged."""

    joint: SheetJoint
    refused: str
    passes: tuple[Pass, ...] = ()
    passes_source: str = ""
    found: Any = None
    sentences: tuple[str, ...] = ()
    positions: tuple[PositionTold, ...] = ()

    @property
    def verdict(self) -> str:
        return self.found.verdict.verdict if self.found is not None and self.found.verdict is not None else ""


@dataclass(frozen=True)
class FastenersTold:
    joints: tuple[JointTold, ...]
    above: str = "inspections/fragments/tightening_order.html"
    below: str = "inspections/fragments/torques_told.html"
    judged: tuple[JointTold, ...] = field(default=())

    def answer(self, system: str) -> dict[str, Any]:
        return {"joints": [_answered(one, system) for one in self.joints]}


def told_of(place: Place, found: Sequence[Any]) -> FastenersTold | None:
    """The joints of the visit's data sheet with their order, and what the entry says of each."""
    rows = []
    for joint, one in zip(place.joints, found, strict=True):
        refused = refusal(place.visit, joint)
        if refused:
            rows.append(JointTold(joint, refused))
            continue
        advice = joint_advice(joint)
        verdict = one.verdict if one is not None else None
        rows.append(
            JointTold(
                joint,
                "",
                advice.passes,
                advice.passes_source,
                one,
                tuple(_sentences(one, place.system)) if verdict is not None else (),
                tuple(_positions(one, place.system)) if verdict is not None else (),
            )
        )
    return FastenersTold(tuple(rows), judged=tuple(row for row in rows if row.verdict)) if rows else None


def fastener_offers(visit: Visit, typed: Typed) -> list[Offer]:
    """Per joint: all set to the data sheet's torque with the wrench last used here."""
    place = Place(visit, visit.entered_at)
    joints = [(no, joint) for no, joint in enumerate(place.joints) if not refusal(visit, joint)]
    if not joints:
        return []
    named = {text.strip() for name, text in typed.items() if name.endswith(".instrument")}
    wrench = next(
        (
            one
            for one in place.instruments
            if one.kind == "torque-set" and named & {str(one.uuid), one.serial} and fit_for_use(one, visit)
        ),
        None,
    ) or last_wrench(visit)
    if wrench is None:
        return []
    offers = []
    for number, joint in joints:
        torque = units.quantity(wrench_nm(joint), "torque", place.system)
        assert torque is not None
        asked, at = units.written(wrench_nm(joint), "torque", place.system), f"joint{number}"
        of = f" ({joint.name})" if len(joints) > 1 else ""
        offers.append(
            Offer(
                at,
                f"All {joint.positions} set to {asked} with {wrench}{of}",
                {
                    f"{at}.how": Torque.How.SET.value,
                    f"{at}.torque": f"{torque['value']:.7g}",
                    f"{at}.instrument": str(wrench.uuid),
                },
            )
        )
    return offers


def _sentences(found: Any, system: str) -> list[str]:
    verdict, said = found.verdict, [found.verdict.reason]
    if verdict.lowest is not None and verdict.mean_nm is not None:
        lowest, mean = (units.written(one, "torque", system) for one in (verdict.lowest.torque_nm, verdict.mean_nm))
        below = ", ".join(str(number) for number in verdict.below) or "none"
        said.append(
            f"Lowest {lowest} at position {verdict.lowest.position}, mean {mean}; below the data sheet: {below}."
        )
        if not found.first_nm:
            said.append("Compared with the data sheet alone: no earlier re-check since it was tightened is on record.")
    if found.tool is not None:
        said.append(f"Wrench within {100 * found.tool.limit:.1f} % ({found.tool.source}).")
    said += [rule.how for rule in verdict.recheck.rules]
    if found.trend is not None:
        clear = "" if found.trend.tells else ", which the wrench cannot tell from level"
        said.append(
            f"Over {found.trend.visits} visits the mean changes by {100 * found.trend.per_year:+.1f} % a year "
            f"(standard uncertainty {100 * found.trend.u_per_year:.1f} %){clear}."
        )
    return said


def _positions(found: Any, system: str) -> list[PositionTold]:
    odd = {*found.turned_out, *found.moved}
    return [
        PositionTold(
            row.position,
            units.written(row.torque_nm, "torque", system) if row.torque_nm is not None else "—",
            row.verdict,
            row.reason,
        )
        for row in found.verdict.positions
        if row.torque_nm is not None or row.position in odd
    ]


def _answered(one: JointTold, system: str) -> dict[str, Any]:
    return {
        "name": one.joint.name,
        "refused": one.refused,
        "order": one.joint.order,
        "passes": [
            {
                "number": row.number,
                "share": units.quantity(row.share, "share", system),
                "torque": units.quantity(row.torque_nm, "torque", system),
                "order": row.order,
                "positions": list(row.positions),
            }
            for row in one.passes
        ],
        "passes_source": one.passes_source,
        "summary": _summary(one, system) if one.verdict else None,
    }


def _summary(one: JointTold, system: str) -> dict[str, Any]:
    verdict, trend = one.found.verdict, one.found.trend
    lowest = verdict.lowest
    return {
        "verdict": verdict.verdict,
        "reason": verdict.reason,
        "lowest": units.quantity(lowest.torque_nm, "torque", system) if lowest is not None else None,
        "lowest_position": lowest.position if lowest is not None else None,
        "mean": units.quantity(verdict.mean_nm, "torque", system),
        "below": list(verdict.below),
        "not_read": list(verdict.unread),
        "positions": [
            {
                "position": row.position,
                "torque": units.quantity(row.torque_nm, "torque", system),
                "verdict": row.verdict,
                "reason": row.reason,
                "compared": [
                    {
                        "against": line.against,
                        "reference": units.quantity(line.reference_nm, "torque", system),
                        "ratio": line.ratio,
                        "verdict": line.verdict,
                    }
                    for line in row.compared
                ],
            }
            for row in verdict.positions
        ],
        "trend": {
            "visits": trend.visits,
            "per_year": trend.per_year,
            "u_per_year": trend.u_per_year,
            "tells": trend.tells,
        }
        if trend is not None
        else None,
    }
