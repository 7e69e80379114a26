"""A joint of a visit held against its data sheet and its own past."""

from __future__ import annotations

import math
from typing import Any

from couplings.engineering.torque_tools import CLASS_SOURCE, TorqueTool, class_limit
from couplings.engineering.torque_trend import TorqueTrend, TorqueVisit, torque_trend
from couplings.engineering.torquecheck import FEATURES, JointVerdict, Reading, check_joint
from couplings.models import Instrument, SheetJoint
from inspections import rules
from inspections.models import Visit
from inspections.selectors.torques import past_of
from inspections.steps.registry import Place


def wrench_nm(joint: SheetJoint) -> float:
    """The data sheet's torque as the wrench has to give it, a nut's own running torque on top. [N*m]"""
    return joint.torque_nm + (joint.prevailing_nm or 0.0)


def refusal(visit: Visit, joint: SheetJoint) -> str:
    """Why this visit must not touch the joint, and what is done instead; empty where it may."""
    sentence = rules.recheck_refusal(visit.kind, joint.recheck, joint.recheck_reason)
    rule = FEATURES.get(joint.feature)
    return f"{sentence} {rule.how}" if sentence and rule is not None else sentence


def tool_of(instrument: Instrument | None, joint: SheetJoint, due: bool) -> TorqueTool:
    """The wrench as the engineering rooms know it: its own uncertainty, else what its class allows."""
    if instrument is not None and instrument.standard_u_share is not None:
        # An even distribution of half width a has the standard uncertainty a/sqrt(3) (JCGM 100:2008, 4.3.7).
        return TorqueTool(instrument.standard_u_share * math.sqrt(3), due=due, source="the instrument's register")
    return TorqueTool(class_limit(wrench_nm(joint)), due=due, source=CLASS_SOURCE)


def joint_verdict(place: Place, found: Any, tool: TorqueTool) -> tuple[dict[int, float], JointVerdict | None]:
    """Each position's own first re-check, and the verdict; None where nothing was judged.

    Tightened anew, what a click wrench was set to is done and not checked: only what was read is judged then.
    """
    joint, anew = found.joint, place.visit.kind in rules.TIGHTENS_ANEW
    read = [number for number in sorted(found.positions) if number not in found.turned_out]
    if found.how == "read" and found.positions:
        first = {} if anew else past_of(place.earlier_torques, joint.name).first_nm
        first = {n: nm for n, nm in first.items() if n <= joint.positions and n not in found.turned_out}
        readings, set_nm = [Reading(number, found.positions[number]) for number in read], None
    elif found.how == "set" and found.pattern_nm is not None and not anew:
        first = {}
        readings = [Reading(number, moved=True) for number in found.moved if number not in found.turned_out]
        # An exception set lower tells less: the joint is judged by the lowest setting.
        set_nm = min([found.pattern_nm, *(found.positions[number] for number in read)])
    else:
        return {}, None
    readings += [Reading(number, turned_out=True) for number in found.turned_out]
    verdict = check_joint(
        joint.torque_nm,
        joint.positions,
        readings,
        tool,
        set_nm=set_nm,
        first_nm=first,
        # This visit may touch the joint, so that only a qualified re-check is left to heed.
        features=[joint.feature] if joint.feature == "prevailing-torque" else [],
        prevailing_nm=joint.prevailing_nm or 0.0,
        confidence=place.site.confidence,
    )
    return first, verdict


def trend_of(place: Place, joint: SheetJoint, verdict: JointVerdict | None, tool: TorqueTool) -> TorqueTrend | None:
    """The joint's mean over its visits since it was tightened anew, this one included."""
    if verdict is None or verdict.mean_nm is None or place.visit.kind in rules.TIGHTENS_ANEW:
        return None
    visits = past_of(place.earlier_torques, joint.name).visits
    here = TorqueVisit(float(place.visit.on.toordinal()), "read", verdict.mean_nm)
    return torque_trend(wrench_nm(joint), [*visits, here], tool)
