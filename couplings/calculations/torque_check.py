"""`torque-check`: whether a joint may be checked again, and what the readings say, position by position."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from couplings.calculations.bolt_torque_request import Sourced
from couplings.calculations.torque_check_form import EXAMPLE, FORM
from couplings.calculations.torque_check_request import TorqueCheckRequest, read_torque_check
from couplings.engineering.threads import FastenerError
from couplings.engineering.torque_tools import usable_range_nm
from couplings.engineering.torque_trend import TorqueTrend, TorqueVisit, torque_trend
from couplings.engineering.torquecheck import (
    ALLOWED_LOSS_SOURCE,
    Compared,
    JointVerdict,
    PositionVerdict,
    check_joint,
)
from plant import units
from plant.calculations import Calculation
from plant.refusals import Refused

_PLACES = {"torque": "torque", "features": "features"}


@dataclass(frozen=True)
class TorqueCheckResult:
    request: TorqueCheckRequest
    joint: JointVerdict
    trend: TorqueTrend | None
    warnings: tuple[str, ...]

    @property
    def allowed_loss(self) -> Sourced:
        given = self.request.allowed_loss_given
        return Sourced(self.request.allowed_loss, "as given" if given else ALLOWED_LOSS_SOURCE)


def compute_torque_check(request: TorqueCheckRequest) -> TorqueCheckResult:
    """Judge the joint; Refused says which field cannot be used and why."""
    try:
        joint = check_joint(
            request.torque_nm,
            request.positions,
            request.readings,
            request.tool,
            set_nm=request.set_nm,
            first_nm=request.first_nm,
            features=request.features,
            prevailing_nm=request.prevailing_nm,
            allowed_loss=request.allowed_loss,
            confidence=request.confidence,
        )
        visits = request.visits
        if joint.mean_nm is not None:
            visits += (TorqueVisit(0.0, "read", joint.mean_nm),)
        trend = torque_trend(request.torque_nm, visits, request.tool)
    except FastenerError as error:
        raise Refused({_PLACES.get(error.field, error.field): error.message}) from error
    return TorqueCheckResult(request, joint, trend, _warnings(request, joint))


def _warnings(request: TorqueCheckRequest, joint: JointVerdict) -> tuple[str, ...]:
    said = []
    if request.tool.due:
        said.append("The wrench's calibration had run out: the readings are kept, marked so.")
    if request.tool.due is None:
        said.append("When the wrench was calibrated is not known.")
    if request.tool.full_scale_nm is not None:
        low, high = usable_range_nm(request.tool.full_scale_nm)
        used = [one.torque_nm for one in joint.positions if one.torque_nm is not None]
        used += [] if request.set_nm is None else [request.set_nm]
        if any(not low <= torque <= high for torque in used):
            said.append(
                "A wrench is best used from 20 to 80 % of its scale (MSFC-STD-486B s. 4.2); some of this lies outside."
            )
    turned = [one.position for one in request.readings if one.turned_out]
    if turned:
        said.append(
            "A screw found turned out is a new installation: tighten it anew by its procedure; its earlier readings "
            "no longer compare (NSTS 08307 s. 3.11)."
        )
    if any(one.compared and one.compared[0].ratio > 1.2 for one in joint.positions):
        said.append("Some positions read more than a fifth high: corroded or over-tightened, not safer.")
    return tuple(said)


def answer_torque_check(result: TorqueCheckResult, system: str) -> dict[str, Any]:
    """The answer in the units asked for; null for what was not read."""
    request, joint = result.request, result.joint
    lowest = joint.lowest
    return {
        "how": request.how,
        "recheck": {
            "allowed": joint.recheck.allowed,
            "rules": [
                {"feature": one.feature, "allowed": one.allowed, "how": one.how, "mark": one.mark}
                for one in joint.recheck.rules
            ],
        },
        "verdict": joint.verdict,
        "reason": joint.reason,
        "summary": {
            "lowest": None
            if lowest is None
            else {"position": lowest.position, "torque": units.quantity(lowest.torque_nm, "torque", system)},
            "mean": units.quantity(joint.mean_nm, "torque", system),
            "below_specified": list(joint.below),
            "not_read": list(joint.unread),
        },
        "positions": [_position(one, system) for one in joint.positions],
        "specified": units.quantity(request.torque_nm, "torque", system),
        "prevailing_torque": units.quantity(request.prevailing_nm, "torque", system) if request.prevailing_nm else None,
        "allowed_loss": {"value": units.without_dust(request.allowed_loss), "source": result.allowed_loss.source},
        "confidence": request.confidence,
        "tool": {
            "limit": units.without_dust(request.tool.limit),
            "source": request.tool.source,
            "calibration_due": request.tool.due,
        },
        "trend": None
        if result.trend is None
        else {
            "visits": result.trend.visits,
            "share_per_year": units.without_dust(result.trend.per_year),
            "standard_uncertainty": units.without_dust(result.trend.u_per_year),
            "tells": result.trend.tells,
        },
        "warnings": list(result.warnings),
    }


def _position(one: PositionVerdict, system: str) -> dict[str, Any]:
    torque = units.quantity(one.torque_nm, "torque", system)
    return {
        "position": one.position,
        "torque": None
        if torque is None
        else {**torque, "standard_uncertainty": units.quantity(one.u_nm, "torque", system)},
        "verdict": one.verdict,
        "reason": one.reason,
        "compared": [_compared(line, system) for line in one.compared],
    }


def _compared(line: Compared, system: str) -> dict[str, Any]:
    return {
        "against": line.against,
        "reference": units.quantity(line.reference_nm, "torque", system),
        "ratio": units.without_dust(line.ratio),
        "loss_used": units.without_dust(line.share),
        "probability_in_tolerance": units.without_dust(line.probability),
        "verdict": line.verdict,
    }


def drawn(result: TorqueCheckResult, system: str) -> dict[str, Any]:
    """The line of the position that lost most, and the rows of the table."""
    lines = [(line, one) for one in result.joint.positions for line in one.compared]
    most = max(lines, key=lambda pair: pair[0].share, default=None)
    by_first = any(len(one.compared) > 1 for one in result.joint.positions)
    return {"most": most[0] if most else None, "most_at": most[1] if most else None, "by_first": by_first}


TORQUE_CHECK = Calculation(
    name="torque-check",
    title="Torque check",
    summary="Whether a joint may be checked again, and how much of its torque is left, position by position.",
    reader=read_torque_check,
    function=compute_torque_check,
    writer=answer_torque_check,
    template="couplings/calculations/torque_check.html",
    form=FORM,
    drawn=drawn,
    example=EXAMPLE,
)
