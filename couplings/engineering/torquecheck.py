"""Checking again the torque of a joint: whether it may be done, and what each reading says about what is left.

A reading is the torque at first movement in the tightening direction. Friction at rest makes it read above the
installation torque, so a reading below it is a real loss, and one at it may hide a small loss: that is why a joint is
also held against its own first re-check. Loosened, a screw is a new installation and its history begins again.

References
----------
MSFC-STD-486B s. 3.11 ("verification torque"); NSTS 08307 s. 3.11 (what was loosened is tightened anew).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from scipy import special

from couplings.engineering.conformity import IN_TOLERANCE, NOT_KNOWN, OUT_OF_TOLERANCE, TOO_CLOSE
from couplings.engineering.threads import FastenerError, positive
from couplings.engineering.torque_tools import TorqueTool

# Starter: a loss of 10 % is allowed for settling (MIL-HDBK-60 s. 5.5.2); the limit as a rule of acceptance is ours.
ALLOWED_LOSS = 0.10
ALLOWED_LOSS_SOURCE = "starter: 10 %, what MIL-HDBK-60 s. 5.5.2 allows for relaxation"
CONFIDENCE = 0.95
BY_SPECIFICATION, BY_FIRST, BY_SETTING = "specified torque", "its own first re-check", "setting"
_WORST_FIRST = (OUT_OF_TOLERANCE, NOT_KNOWN, TOO_CLOSE, IN_TOLERANCE)


@dataclass(frozen=True)
class RecheckRule:
    """What a feature of a joint does to a re-check: 'not-allowed', or 'qualified' with how it is then done."""

    feature: str
    title: str
    allowed: str
    how: str
    mark: str = "common practice"


RECHECK_RULES = (
    RecheckRule(
        "locking-compound", "thread-locking compound", "not-allowed",
        "Any movement breaks the cured compound: take the screw out, clean it, renew the compound, tighten anew.",
    ),
    RecheckRule(
        "locking-patch", "thread-locking patch", "not-allowed",
        "A patch that has cured is broken by movement: fit a screw with a new patch.",
    ),
    RecheckRule(
        "prevailing-torque", "prevailing-torque nut", "qualified",
        "The nut's own running torque is in the reading: take it off before comparing.",
    ),
    RecheckRule(
        "tapered-bush", "tapered bush", "not-allowed",
        "Turning a seated screw draws the bush further up its taper: check only while seating, as the data sheet says.",
    ),
    RecheckRule(
        "single-use", "single-use screw", "not-allowed",
        "It may be tightened once: what is in doubt is replaced.",
    ),
    RecheckRule(
        "stretch-set", "screw tightened by angle or into yield", "not-allowed",
        "Its torque does not tell its preload: what is in doubt is replaced and tightened by its own procedure.",
    ),
)  # fmt: skip
FEATURES = {rule.feature: rule for rule in RECHECK_RULES}


@dataclass(frozen=True)
class Recheck:
    """Whether a joint may be checked again: 'allowed', 'qualified' or 'not-allowed', and by which rules."""

    allowed: str
    rules: tuple[RecheckRule, ...] = ()


@dataclass(frozen=True)
class Reading:
    """One position. [N*m]

    `torque_nm` at first movement on a dial or electronic wrench; `moved` whether the screw moved before a click wrench
    clicked; `turned_out` found loose or backed out, whatever it then read.
    """

    position: int
    torque_nm: float | None = None
    moved: bool | None = None
    turned_out: bool = False


@dataclass(frozen=True)
class Compared:
    """A reading against one reference [N*m], as the loss from it over the loss allowed. [1]

    `share` 1 is the limit, negative reads higher than the reference; `reach` is how far the decision's confidence
    reaches on either side; `probability` that the loss is within what is allowed.
    """

    against: str
    reference_nm: float
    ratio: float
    share: float
    reach: float
    probability: float
    verdict: str


@dataclass(frozen=True)
class PositionVerdict:
    """One position judged, with its reading and that reading's standard uncertainty. [N*m]"""

    position: int
    verdict: str
    reason: str
    torque_nm: float | None = None
    u_nm: float | None = None
    compared: tuple[Compared, ...] = ()


@dataclass(frozen=True)
class JointVerdict:
    """The joint in one line: worst verdict, lowest and mean reading [N*m], positions below the specified torque."""

    verdict: str
    reason: str
    positions: tuple[PositionVerdict, ...]
    lowest: PositionVerdict | None
    mean_nm: float | None
    below: tuple[int, ...]
    unread: tuple[int, ...]
    recheck: Recheck


def recheck_of(features: Iterable[str]) -> Recheck:
    """Whether a joint with these features may be checked again, and how.

    Parameters
    ----------
    features : iterable of str
        Such as a locking compound.

    Returns
    -------
    Recheck
        allowed, qualified or not-allowed, with the rules that say so.

    Raises
    ------
    FastenerError
        A feature that is not in RECHECK_RULES.

    References
    ----------
    Common practice; the data sheet goes first.
    """
    named = list(features)
    for feature in named:
        if feature not in FEATURES:
            raise FastenerError("features", f"Choose from: {', '.join(FEATURES)}.")
    rules = tuple(rule for rule in RECHECK_RULES if rule.feature in named)
    if any(rule.allowed == "not-allowed" for rule in rules):
        return Recheck("not-allowed", rules)
    return Recheck("qualified" if rules else "allowed", rules)


def retained(torque_nm: float, reference_nm: float) -> float:
    """First movement over the torque it is compared with.

    Parameters
    ----------
    torque_nm, reference_nm : float
        [N*m]

    Returns
    -------
    float
        Below 1 is a real loss. [1]

    References
    ----------
    MSFC-STD-486B s. 3.11.
    """
    positive("torque", torque_nm)
    positive("reference", reference_nm)
    return torque_nm / reference_nm


def check_joint(
    specified_nm: float,
    positions: int,
    readings: Sequence[Reading],
    tool: TorqueTool,
    *,
    set_nm: float | None = None,
    first_nm: Mapping[int, float] | None = None,
    features: Iterable[str] = (),
    prevailing_nm: float = 0.0,
    allowed_loss: float = ALLOWED_LOSS,
    confidence: float = CONFIDENCE,
) -> JointVerdict:
    """Judge a re-check position by position, and the joint.

    Parameters
    ----------
    specified_nm : float
        Torque of the data sheet, without a prevailing torque. [N*m]
    positions : int
        How many the joint has.
    readings : sequence of Reading
        Read one by one, or with `set_nm` only the exceptions: all others held at the click.
    tool : TorqueTool
    set_nm : float, optional
        What a click wrench was set to; None: the torques were read. [N*m]
    first_nm : mapping of position to torque, optional
        The joint's own first re-check, read. [N*m]
    features : iterable of str
        Of RECHECK_RULES.
    prevailing_nm : float
        Running torque of a prevailing-torque nut; taken off every reading and setting. [N*m]
    allowed_loss : float
        Share of the reference that may be lost. [1]
    confidence : float
        Of the decision, 0.5 to 1: in tolerance needs that much probability, out of tolerance leaves no more than the
        rest.

    Returns
    -------
    JointVerdict

    Raises
    ------
    FastenerError
        A position twice or outside the joint; torque not above zero; shares out of range.

    References
    ----------
    Decision with uncertainty: JCGM 106:2012, ISO 14253-1. Meaning of a reading: MSFC-STD-486B s. 3.11.
    """
    _checked(specified_nm, positions, readings, allowed_loss, confidence)
    _checked_running(prevailing_nm, readings, dict(first_nm or {}), set_nm)
    recheck = recheck_of(features)
    by_position = {one.position: one for one in readings}
    judge = _Judge(specified_nm, tool, dict(first_nm or {}), prevailing_nm, allowed_loss, confidence)
    rows: list[PositionVerdict] = []
    for number in range(1, positions + 1):
        one = by_position.get(number)
        if one is None and set_nm is not None:
            one = Reading(number, moved=False)
        if one is None:
            rows.append(PositionVerdict(number, NOT_KNOWN, "not read"))
        elif recheck.allowed == "not-allowed":
            rows.append(PositionVerdict(number, NOT_KNOWN, "this joint must not be re-checked", one.torque_nm))
        elif one.turned_out:
            rows.append(PositionVerdict(number, OUT_OF_TOLERANCE, "found turned out: a new installation"))
        elif set_nm is not None:
            rows.append(judge.held(number, set_nm, bool(one.moved)))
        else:
            rows.append(judge.read(number, one.torque_nm))
    return _joint(tuple(rows), recheck, specified_nm)


@dataclass(frozen=True)
class _Judge:
    specified_nm: float
    tool: TorqueTool
    first_nm: dict[int, float]
    prevailing_nm: float
    allowed_loss: float
    confidence: float

    def read(self, position: int, torque_nm: float | None) -> PositionVerdict:
        if torque_nm is None:
            return PositionVerdict(position, NOT_KNOWN, "not read")
        net, u = torque_nm - self.prevailing_nm, self.tool.standard_uncertainty_nm(torque_nm)
        lines = [self._compared(BY_SPECIFICATION, net, u, self.specified_nm, 0.0)]
        if position in self.first_nm:
            first = self.first_nm[position] - self.prevailing_nm
            # Two readings, each with its own error: the same wrench would cancel some of it, which is not counted on.
            u_first = self.tool.standard_uncertainty_nm(self.first_nm[position])
            lines.append(self._compared(BY_FIRST, net, u, first, u_first))
        worst = min(lines, key=lambda line: (_WORST_FIRST.index(line.verdict), -line.share))
        lost = 1 - worst.ratio
        reason = f"{100 * lost:.0f} % below {worst.against}" if lost >= 0.005 else f"not below {worst.against}"
        return PositionVerdict(position, worst.verdict, reason, torque_nm, u, tuple(lines))

    def held(self, position: int, set_nm: float, moved: bool) -> PositionVerdict:
        """A click says only on which side of the setting the screw lies, so a screw that moved may still be enough."""
        net, u = set_nm - self.prevailing_nm, self.tool.standard_uncertainty_nm(set_nm)
        line = self._compared(BY_SETTING, net, u, self.specified_nm, 0.0)
        if moved and line.verdict == OUT_OF_TOLERANCE:
            return PositionVerdict(position, OUT_OF_TOLERANCE, "moved before a setting already too low", None, u)
        if moved:
            return PositionVerdict(position, NOT_KNOWN, "moved before the click: a loss of unknown size", None, u)
        if line.verdict == IN_TOLERANCE:
            return PositionVerdict(position, IN_TOLERANCE, "held at the click", None, u)
        return PositionVerdict(position, NOT_KNOWN, "held, but the setting is too low to tell", None, u)

    def _compared(self, against: str, net: float, u: float, reference: float, u_reference: float) -> Compared:
        keep = 1 - self.allowed_loss
        spread = math.hypot(u, keep * u_reference)
        above = net - keep * reference
        probability = float(special.ndtr(above / spread))
        if probability >= self.confidence:
            verdict = IN_TOLERANCE
        elif probability <= 1 - self.confidence:
            verdict = OUT_OF_TOLERANCE
        else:
            verdict = TOO_CLOSE
        allowed = self.allowed_loss * reference
        reach = float(special.ndtri(self.confidence)) * spread / allowed
        return Compared(against, reference, net / reference, (reference - net) / allowed, reach, probability, verdict)


def _joint(rows: tuple[PositionVerdict, ...], recheck: Recheck, specified_nm: float) -> JointVerdict:
    judged = [row for row in rows if row.compared]
    lowest = min(judged, key=lambda row: row.compared[0].ratio, default=None)
    mean = math.fsum(row.torque_nm or 0.0 for row in judged) / len(judged) if judged else None
    below = tuple(row.position for row in judged if row.compared[0].ratio < 1)
    unread = tuple(row.position for row in rows if row.verdict == NOT_KNOWN and row.reason == "not read")
    if recheck.allowed == "not-allowed":
        verdict = NOT_KNOWN
        reason = " ".join(rule.how for rule in recheck.rules if rule.allowed == "not-allowed")
    else:
        verdict = min((row.verdict for row in rows), key=_WORST_FIRST.index)
        where = [row.position for row in rows if row.verdict == verdict]
        reason = _sentence(verdict, where, len(rows))
    return JointVerdict(verdict, reason, rows, lowest, mean, below, unread, recheck)


def _sentence(verdict: str, where: list[int], positions: int) -> str:
    at = f"position{'s' if len(where) > 1 else ''} {', '.join(map(str, where))}"
    if len(where) == positions:
        at = "every position"
    return {
        OUT_OF_TOLERANCE: f"More torque is lost than is allowed, or a screw is turned out: {at}.",
        NOT_KNOWN: f"Nothing can be said at {at}.",
        TOO_CLOSE: f"The wrench cannot tell at {at}: a better one, or a second reading after a new tightening, would.",
        IN_TOLERANCE: "No position has lost more than is allowed.",
    }[verdict]


def _checked(
    specified_nm: float,
    positions: int,
    readings: Sequence[Reading],
    allowed_loss: float,
    confidence: float,
) -> None:
    positive("torque", specified_nm)
    if not 1 <= positions <= 64:
        raise FastenerError("positions", "A joint has 1 to 64 positions.")
    if not 0 < allowed_loss < 1:
        raise FastenerError("allowed_loss", "The loss allowed is a share above 0 and below 100 %.")
    if not 0.5 < confidence < 1:
        raise FastenerError("confidence", "A probability between 0.5 and 1 is expected, such as 0.95.")
    seen: set[int] = set()
    for place, one in enumerate(readings):
        if not 1 <= one.position <= positions:
            raise FastenerError(f"readings.{place}.position", f"This joint has positions 1 to {positions}.")
        if one.position in seen:
            raise FastenerError(f"readings.{place}.position", "This position is there twice.")
        seen.add(one.position)
        if one.torque_nm is not None:
            positive(f"readings.{place}.value", one.torque_nm)


def _checked_running(
    prevailing_nm: float, readings: Sequence[Reading], first_nm: dict[int, float], set_nm: float | None
) -> None:
    """What turns the nut alone cannot be more than what moved it on the joint."""
    if not (math.isfinite(prevailing_nm) and prevailing_nm >= 0):
        raise FastenerError("prevailing_torque", "A prevailing torque is not negative.")
    given = [(f"readings.{place}.value", one.torque_nm) for place, one in enumerate(readings)]
    given += [(f"first_recheck.{place}.value", torque) for place, torque in enumerate(first_nm.values())]
    given.append(("set_torque", set_nm))
    for field, torque in given:
        if torque is None:
            continue
        positive(field, torque)
        if torque <= prevailing_nm:
            raise FastenerError(field, "This is no more than the nut's own prevailing torque.")
