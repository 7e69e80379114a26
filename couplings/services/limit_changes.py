"""Limits of a data sheet change by two people: one proposes with the version, another approves or turns it down."""

from __future__ import annotations

from datetime import date

from couplings import sheet_rules
from couplings.models import LimitChange, SheetVersion
from couplings.services.checking import refuse, saved
from plant import access
from plant.recording import bump, changed, current
from plant.refusals import Refused
from plant.services.rows import errors_of, taken
from plant.sitetime import today_at

Decision = LimitChange.Decision


def propose_limit_change(
    *, version: SheetVersion, before: SheetVersion, reason: str, change_number: str, from_on: date | None
) -> LimitChange:
    """Propose the limits of a version that is being published; called by that act, which has asked who may."""
    unit = current()
    site = version.sheet.site
    if unit.by is None:
        raise Refused({"reason": "Limits differ from the version before: a person has to propose that change."})
    errors = sheet_rules.change_errors(
        reason=reason,
        change_number=change_number,
        from_on=from_on,
        today=today_at(site, unit.at),
        before=before.number,
    )
    if errors or from_on is None:
        raise Refused(errors, "limit-change")
    change = LimitChange(
        site=site,
        sheet_version=version,
        before=before,
        reason=reason.strip(),
        change_number=change_number.strip(),
        from_on=from_on,
        proposed_by=unit.by,
        proposed_at=unit.at,
    )
    refuse(errors_of(change) | _number_taken(change))
    saved(change, lambda: _number_taken(change))
    changed(change)
    return change


def approve_limit_change(*, change: LimitChange, reason: str = "", expected: int | None = None) -> LimitChange:
    """Approve the limits another one proposed: from their day on fits may adopt the version."""
    return _decide(change, Decision.APPROVED, reason, expected)


def turn_down_limit_change(*, change: LimitChange, reason: str = "", expected: int | None = None) -> LimitChange:
    """Turn proposed limits down, with the reason: nothing is ever held to that version."""
    return _decide(change, Decision.TURNED_DOWN, reason, expected)


def _decide(change: LimitChange, decision: str, reason: str, expected: int | None) -> LimitChange:
    unit = current()
    access.require(unit.by, "limit.approve", change.site)
    bump(change, expected)
    if change.decision != Decision.WAITING:
        raise Refused(
            f"Limit change {change.change_number} is {change.get_decision_display()} already, by {change.decided_by}.",
            "decided",
        )
    if unit.by is None or unit.by.pk == change.proposed_by_id:
        raise Refused("Who proposed a limit change does not decide on it: ask somebody else.", "own-proposal")
    if decision == Decision.TURNED_DOWN and not reason.strip():
        raise Refused({"reason": "Say why it is turned down: the proposer has to know what to change."})
    change.decision, change.decision_reason = decision, reason.strip()
    change.decided_by, change.decided_at = unit.by, unit.at
    errors = errors_of(change)
    refuse({"reason" if field == "decision_reason" else field: message for field, message in errors.items()})
    change.save()
    # Readers of the sheet see the change beside its version.
    bump(change.sheet_version.sheet)
    return change


def _number_taken(change: LimitChange) -> dict[str, str]:
    if taken(change, "site_id", "change_number"):
        return {"change_number": "This site has a limit change of this number already."}
    return {}
