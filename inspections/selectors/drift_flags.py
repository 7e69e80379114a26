"""What a coupling's drift asks somebody to deal with: the evidence of each kind of flag, None where nothing does."""

from __future__ import annotations

from datetime import date
from typing import Any

from inspections.forecasting.outlook import FAST_CHANCE, FAST_SHARE
from inspections.models import CheckKind
from inspections.selectors.dates import Facts
from inspections.selectors.drift_due import chance_on


def jumped(facts: Facts) -> dict[str, Any] | None:
    """Legs that moved more than their history explains and have no cause yet."""
    return {"jumps": facts.drift.jumps} if facts.drift is not None and facts.drift.jumps else None


def moving_fast(facts: Facts) -> dict[str, Any] | None:
    """Its mean pace uses up half of the tolerance in a year or more, and that there is a pace is sure enough.

    Both are our own proposals: half, and one chance in twenty that nothing drifts.
    """
    state = facts.drift
    if state is None or not state.legs or state.pace_share is None or state.pace_chance is None:
        return None
    if state.pace_share < FAST_SHARE or state.pace_chance > FAST_CHANCE or state.left_on is None:
        return None
    return {"share": round(state.pace_share, 2), "legs": state.legs, "on": state.left_on.isoformat()}


def out_before_next(facts: Facts, today: date) -> dict[str, Any] | None:
    """More likely out of tolerance by the next planned stop, else by its next alignment check, than is accepted."""
    state, check = facts.drift, facts.open_checks.get(CheckKind.ALIGNMENT)
    if state is None or state.risk is None:
        return None
    by, on = ("stop", facts.stops_on) if facts.stops_on is not None else ("check", check.due_on if check else None)
    if on is None or on <= today:
        return None
    chance = chance_on(state, on)
    if chance is None or chance <= state.risk * 1.01:
        return None
    straight = state.straight_on.isoformat() if state.straight_on is not None else None
    return {"by": by, "on": on.isoformat(), "chance": round(chance, 4), "risk": state.risk, "straight_on": straight}
