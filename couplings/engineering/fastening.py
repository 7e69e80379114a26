"""One joint of a data sheet as a whole: what may be written about it, its passes, and the preload that follows.

Nothing is assumed that the sheet does not say: without strength or nut factor there is no preload, and it is said why.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import isfinite
from typing import Any

from couplings.engineering.bolts import SET_SCREW_CLASSES, proof_load_n, share_warnings, strength_of
from couplings.engineering.tables.bolt_strengths import STARTER_STRENGTHS
from couplings.engineering.tables.nut_factors import STARTER_LOSS, STARTER_LOSS_SOURCE, STARTER_SCATTER, ScatterRow
from couplings.engineering.threads import FastenerError, parse_thread
from couplings.engineering.tightening import STARTER_SHARES, STARTER_SHARES_SOURCE, Pass, tightening_passes
from couplings.engineering.torque_preload import preload_n, preload_range_n
from couplings.engineering.torquecheck import FEATURES

# The words of a data sheet for the orders of tightening.py.
ORDERS = {"opposite": "opposite", "round": "round", "segment": "middle-outward"}
# The widest of NASA's set: a sheet does not say whether the threads were lubricated.
SCATTER = next(row for row in STARTER_SCATTER if row.method == "torque, dry or as received")
SEVERAL_PASSES_FROM = 3


@dataclass(frozen=True)
class Preload:
    """What a joint's torque makes of it. [N]

    Shares of the proof load and of the preload. [1] Losses are in `low_n`.
    """

    nominal_n: float
    low_n: float
    high_n: float
    proof_n: float
    strength_source: str
    scatter: float
    scatter_source: str
    loss: float
    loss_source: str

    @property
    def share(self) -> float:
        return self.nominal_n / self.proof_n

    @property
    def low_share(self) -> float:
        return self.low_n / self.proof_n

    @property
    def high_share(self) -> float:
        return self.high_n / self.proof_n


@dataclass(frozen=True)
class JointAdvice:
    """Advice on one joint: its passes, its preload where the sheet says enough, and what to heed.

    `missing` says in sentences what the sheet would have to state for a preload.
    """

    passes: tuple[Pass, ...]
    passes_source: str
    preload: Preload | None
    warnings: tuple[str, ...]
    missing: tuple[str, ...]


def completed(joint: Mapping[str, Any]) -> dict[str, Any]:
    """A joint as it is kept: where its feature forbids a re-check and nothing else is said, the sheet forbids it.

    Parameters
    ----------
    joint : mapping
        Fields as the data sheet states them. [N*m]

    Returns
    -------
    dict
        The same with what follows from its feature.

    References
    ----------
    Common practice, see `torquecheck.RECHECK_RULES`.
    """
    row = dict(joint)
    rule = FEATURES.get(row.get("feature") or "")
    if rule is not None and rule.allowed == "not-allowed":
        row.setdefault("recheck", "not-allowed")
        if row["recheck"] == "not-allowed" and not row.get("recheck_reason"):
            row["recheck_reason"] = rule.title
    return row


def fastening_errors(joint: Mapping[str, Any]) -> dict[str, str]:
    """What stands against a joint's strength, nut factor, order and re-check, by field; empty where nothing does.

    Parameters
    ----------
    joint : mapping
        Fields as the data sheet states them. [N*m]

    Returns
    -------
    dict
        Message by field.

    References
    ----------
    The rooms `bolts`, `tightening` and `torquecheck`, each with its source; common practice for the bounds.
    """
    errors = _strength_errors(joint) | _factor_errors(joint) | _recheck_errors(joint)
    positions, torque = joint.get("positions"), joint.get("torque_nm")
    shares = joint.get("pass_shares") or []
    if not (isinstance(shares, list) and all(_number(one) for one in shares)):
        return errors | {"pass_shares": "List the shares of the torque, pass by pass: [0.3, 0.7, 1]."}
    if len(shares) > 6:
        return errors | {"pass_shares": "At most six passes."}
    order = ORDERS.get(joint.get("order") or "opposite")
    if not (isinstance(positions, int) and 1 <= positions <= 64):
        return errors
    if torque is not None and isfinite(torque) and torque > 0 and order is not None:
        try:
            segments = joint.get("segments") or 1
            if segments != 1 and order != "middle-outward":
                errors["segments"] = "Segments go with the order from the middle of a segment outward only."
            passes_of(torque, positions, joint.get("order") or "opposite", segments, shares)
        except FastenerError as error:
            errors["pass_shares" if error.field == "shares" else error.field] = error.message
    return errors


def passes_of(
    torque_nm: float,
    positions: int,
    order: str,
    segments: int = 1,
    shares: Sequence[float] = (),
    running_nm: float = 0.0,
) -> tuple[Pass, ...]:
    """The passes of a joint as its sheet states them, else the starter's.

    Parameters
    ----------
    torque_nm : float
        Full torque. [N*m]
    positions : int
        Screws of the joint.
    order : {'opposite', 'round', 'segment'}
        As a data sheet names them.
    segments : int
        For 'segment'.
    shares : sequence of float
        Of the full torque, the last 1; empty: `STARTER_SHARES`, and for one or two screws one pass. [1]
    running_nm : float
        Running torque of a prevailing-torque nut: the wrench has to turn it too, in every pass. [N*m]

    Returns
    -------
    tuple of Pass
        The last at full torque; torques as at the wrench.

    Raises
    ------
    FastenerError
        As `tightening_passes`.

    References
    ----------
    See `tightening_passes`.
    """
    starter = STARTER_SHARES if positions >= SEVERAL_PASSES_FROM else (1.0,)
    passes = tightening_passes(
        torque_nm,
        positions,
        ORDERS[order],
        shares=tuple(shares) or starter,
        segments=segments if order == "segment" else 1,
        check_round=positions >= SEVERAL_PASSES_FROM,
    )
    return tuple(replace(one, torque_nm=one.torque_nm + running_nm) for one in passes)


def advice_on(joint: Mapping[str, Any], scatter: ScatterRow = SCATTER) -> JointAdvice:
    """Passes, preload range and share of proof of one joint of a data sheet.

    Parameters
    ----------
    joint : mapping
        The columns of a joint that `fastening_errors` found nothing against.
    scatter : ScatterRow
        Half width of the preload about its nominal value; a starter of a published set. [1]

    Returns
    -------
    JointAdvice
        Preload in N; None where the sheet does not state thread with pitch, strength or nut factor.

    References
    ----------
    T = K D F: Shigley, 9th ed., eq. 8-27; range: NASA-STD-5020B s. 4.3.1; policies: `share_warnings`.
    """
    shares = joint.get("pass_shares") or ()
    passes = passes_of(
        joint["torque_nm"],
        joint["positions"],
        joint["order"],
        joint.get("segments") or 1,
        shares,
        joint.get("prevailing_nm") or 0.0,
    )
    source = "data sheet" if shares else STARTER_SHARES_SOURCE
    warnings: list[str] = []
    missing: list[str] = []
    rule = FEATURES.get(joint.get("feature") or "")
    if rule is not None:
        warnings.append(f"{rule.title[0].upper()}{rule.title[1:]}: {rule.how}")
        if rule.feature == "prevailing-torque" and joint.get("prevailing_nm") is None:
            missing.append("The nut's own prevailing torque is not on the data sheet.")
    found = _preload(joint, scatter, missing)
    if found is not None:
        warnings += share_warnings(found.share, found.low_share, found.high_share)
    return JointAdvice(passes, source, found, tuple(warnings), tuple(missing))


def _preload(joint: Mapping[str, Any], scatter: ScatterRow, missing: list[str]) -> Preload | None:
    thread = strength = None
    if not joint.get("thread"):
        missing.append("The thread is not on the data sheet.")
    else:
        try:
            thread = parse_thread(joint["thread"])
        except FastenerError as error:
            missing.append(error.message)
    if not joint.get("strength_class"):
        missing.append("The property class or grade is not on the data sheet.")
    elif joint["strength_standard"] not in {row.standard for row in STARTER_STRENGTHS}:
        missing.append(f"No proof strength of {joint['strength_standard']} is on record here.")
    elif thread is not None:
        try:
            strength = strength_of(joint["strength_standard"], joint["strength_class"], thread.diameter_mm)
        except FastenerError as error:
            missing.append(error.message)
    if joint.get("nut_factor") is None:
        missing.append("The nut factor and its source are not on the data sheet: a preload is not guessed.")
    if thread is None or strength is None or joint.get("nut_factor") is None:
        return None
    net = joint["torque_nm"]  # the sheet's torque is without a prevailing torque
    factor, diameter = joint["nut_factor"], thread.diameter_mm
    low, high = preload_range_n(factor, diameter, net, net, scatter.scatter, STARTER_LOSS)
    return Preload(
        nominal_n=preload_n(factor, diameter, net),
        low_n=low,
        high_n=high,
        proof_n=proof_load_n(thread, strength),
        strength_source=f"{strength.standard} {strength.name}",
        scatter=scatter.scatter,
        scatter_source=f"{scatter.source}, {scatter.method}",
        loss=STARTER_LOSS,
        loss_source=STARTER_LOSS_SOURCE,
    )


def _strength_errors(joint: Mapping[str, Any]) -> dict[str, str]:
    standard, name = joint.get("strength_standard") or "", joint.get("strength_class") or ""
    if name in SET_SCREW_CLASSES:
        return {"strength_class": f"{name} is a class of set screws: for compression only, never in tension."}
    if name and not standard:
        return {"strength_standard": "Name the standard of this class or grade: ISO 898-1, SAE J429."}
    if standard and not name:
        return {"strength_class": f"Which property class or grade of {standard}?"}
    known = list(dict.fromkeys(row.name for row in STARTER_STRENGTHS if row.standard == standard))
    if known and name not in known:
        return {"strength_class": f"{standard} has no {name} here. It has: {', '.join(known)}."}
    return {}


def _factor_errors(joint: Mapping[str, Any]) -> dict[str, str]:
    factor, source = joint.get("nut_factor"), str(joint.get("nut_factor_source") or "").strip()
    if factor is not None and not source:
        return {"nut_factor_source": "Say where this nut factor is from: a table, a test, the maker."}
    if factor is None and source:
        return {"nut_factor": "Give the nut factor that this source states, or leave its source out."}
    return {}


def _recheck_errors(joint: Mapping[str, Any]) -> dict[str, str]:
    errors: dict[str, str] = {}
    rule = FEATURES.get(joint.get("feature") or "")
    if rule is not None and rule.allowed == "not-allowed" and joint.get("recheck") != "not-allowed":
        errors["recheck"] = f"With {rule.title} a re-check is not allowed. {rule.how}"
    prevailing, torque = joint.get("prevailing_nm"), joint.get("torque_nm")
    if prevailing is not None and (rule is None or rule.feature != "prevailing-torque"):
        errors["prevailing_nm"] = "A running torque goes with a prevailing-torque nut only: leave it out."
    elif prevailing is not None and torque is not None and prevailing >= torque:
        errors["prevailing_nm"] = "The nut's running torque is not below the torque of the joint: check the unit."
    return errors


def _number(one: Any) -> bool:
    return isinstance(one, int | float) and not isinstance(one, bool) and isfinite(one)
