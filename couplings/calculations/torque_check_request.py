"""The `torque-check` request: from JSON to the numbers of couplings.engineering, with the path of every refused field.

torque, positions           what the data sheet asks, and how many screws
features                    what the joint has that bears on a re-check: a list from RECHECK_RULES
prevailing_torque           needed with a prevailing-torque nut
method read                 readings: [{position, value, turned_out}], torque at first movement
                            first_recheck: [{position, value}], the joint's own
                            earlier: [{ago, mean}], earlier visits that were read
                            tightened_ago: when it was last tightened anew
method set                  set_torque of the click wrench; exceptions: [{position, found}], moved or turned-out
tool                        {limit, full_scale, resolution, months, operations, interval_months,
                            interval_operations}; without a limit, its class by its largest torque
allowed_loss, confidence    starters are named in the answer
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from couplings.calculations.bolt_torque_request import LARGE_TORQUE, read_share, read_whole
from couplings.calculations.request import Request
from couplings.engineering.threads import FastenerError
from couplings.engineering.tightening import MOST_POSITIONS
from couplings.engineering.torque_tools import (
    CLASS_SOURCE,
    INTERVAL_MONTHS,
    INTERVAL_OPERATIONS,
    TorqueTool,
    calibration_due,
    class_limit,
)
from couplings.engineering.torque_trend import TorqueVisit
from couplings.engineering.torquecheck import ALLOWED_LOSS, CONFIDENCE, FEATURES, Reading

METHODS = ("read", "set")
FOUND = ("moved", "turned-out")
TINY_TORQUE = 1e-3
_TO_READ = ("readings", "first_recheck", "earlier", "tightened_ago")
_TO_SET = ("set_torque", "exceptions")


@dataclass(frozen=True)
class TorqueCheckRequest:
    """Everything a re-check is judged from: N*m, shares; `earlier` days count back from today as negative."""

    how: str
    torque_nm: float
    positions: int
    readings: tuple[Reading, ...]
    set_nm: float | None
    first_nm: Mapping[int, float]
    tool: TorqueTool
    features: tuple[str, ...] = ()
    prevailing_nm: float = 0.0
    allowed_loss: float = ALLOWED_LOSS
    allowed_loss_given: bool = False
    confidence: float = CONFIDENCE
    visits: tuple[TorqueVisit, ...] = field(default=())


def read_torque_check(payload: Mapping[str, Any]) -> TorqueCheckRequest:
    """Read the request; raises Refused with every error by field path."""
    request = Request(payload)
    how = request.choice("method", METHODS, "read") or "read"
    torque = _torque(request, "torque", "Say which torque the data sheet asks.")
    positions = read_whole(request, "positions", "Say how many screws the joint has.", 1, MOST_POSITIONS)
    features = _features(request)
    prevailing = _prevailing(request, features)
    set_nm: float | None = None
    first: dict[int, float] = {}
    visits: tuple[TorqueVisit, ...] = ()
    if how == "set":
        set_nm = _torque(request, "set_torque", "Say what the click wrench was set to.")
        readings = _exceptions(request, positions)
        _only(request, _TO_READ, "A click wrench reads nothing: only what was read is compared and followed.")
    else:
        readings = _readings(request, positions)
        first = _by_position(request, "first_recheck", positions)
        visits = _visits(request)
        _only(request, _TO_SET, "This belongs to a click wrench, which reads nothing.")
    tool = _tool(request)
    loss = read_share(request, "allowed_loss", above=0, at_most=0.9)
    confidence = request.number("confidence")
    if confidence is not None and not 0.5 < confidence < 1:
        request.refuse("confidence", "A probability between 0.5 and 1 is expected, such as 0.95.")
    request.finish()
    request.raise_errors()
    assert torque is not None  # what is missing has been refused
    assert positions is not None
    assert tool is not None
    return TorqueCheckRequest(
        how=how,
        torque_nm=torque,
        positions=positions,
        readings=readings,
        set_nm=set_nm,
        first_nm=first,
        tool=tool,
        features=features,
        prevailing_nm=prevailing,
        allowed_loss=ALLOWED_LOSS if loss is None else loss,
        allowed_loss_given=loss is not None,
        confidence=CONFIDENCE if confidence is None else confidence,
        visits=visits,
    )


def _torque(request: Request, key: str, missing: str = "") -> float | None:
    torque = request.quantity(key, "torque", missing, above=0, within=LARGE_TORQUE)
    if torque is not None and torque < TINY_TORQUE:
        request.refuse(key, "No wrench tells so little: is the unit right?")
        return None
    return torque


def _only(request: Request, keys: tuple[str, ...], message: str) -> None:
    for key in keys:
        if request.has(key):
            request.refuse(key, message)


def _features(request: Request) -> tuple[str, ...]:
    given = request.given("features")
    if given is None:
        return ()
    if not isinstance(given, list | tuple):
        request.refuse("features", "A list is expected here.")
        return ()
    if any(not isinstance(one, str) or one not in FEATURES for one in given):
        request.refuse("features", f"Choose from: {', '.join(FEATURES)}.")
        return ()
    return tuple(dict.fromkeys(given))


def _prevailing(request: Request, features: tuple[str, ...]) -> float:
    has_nut = "prevailing-torque" in features
    missing = "Give the nut's own running torque: it is in every reading." if has_nut else ""
    prevailing = request.quantity("prevailing_torque", "torque", missing, at_least=0, within=LARGE_TORQUE)
    if prevailing is not None and not has_nut:
        request.refuse("prevailing_torque", "This belongs to a joint with the feature prevailing-torque.")
    return prevailing or 0.0


def _position(row: Request, positions: int | None, seen: set[int]) -> int | None:
    number = read_whole(row, "position", "Say which position.", 1, positions or MOST_POSITIONS)
    if number is not None and number in seen:
        row.refuse("position", "This position is there twice.")
        return None
    if number is not None:
        seen.add(number)
    return number


def _readings(request: Request, positions: int | None) -> tuple[Reading, ...]:
    rows: list[Reading] = []
    seen: set[int] = set()
    for row in request.rows("readings", MOST_POSITIONS, "No position is read yet."):
        number = _position(row, positions, seen)
        turned_out = row.flag("turned_out")
        value = _torque(row, "value", "" if turned_out else "A value is missing.")
        row.finish()
        if number is not None:
            rows.append(Reading(number, value, turned_out=turned_out))
    return tuple(rows)


def _exceptions(request: Request, positions: int | None) -> tuple[Reading, ...]:
    rows: list[Reading] = []
    seen: set[int] = set()
    for row in request.rows("exceptions", MOST_POSITIONS):
        number = _position(row, positions, seen)
        found = row.choice("found", FOUND, missing="Say how it was found: moved before the click, or turned out.")
        row.finish()
        if number is not None:
            rows.append(Reading(number, moved=found == "moved", turned_out=found == "turned-out"))
    return tuple(rows)


def _by_position(request: Request, key: str, positions: int | None) -> dict[int, float]:
    found: dict[int, float] = {}
    seen: set[int] = set()
    for row in request.rows(key, MOST_POSITIONS):
        number = _position(row, positions, seen)
        value = _torque(row, "value", "A value is missing.")
        row.finish()
        if number is not None and value is not None:
            found[number] = value
    return found


def _visits(request: Request) -> tuple[TorqueVisit, ...]:
    far = (40000.0, "This is longer ago than any record reaches.")
    rows: list[TorqueVisit] = []
    for row in request.rows("earlier", 50):
        ago = row.quantity("ago", "days", "Say how long ago.", at_least=1, within=far)
        mean = _torque(row, "mean", "The mean reading of that visit is missing.")
        row.finish()
        if ago is not None and mean is not None:
            rows.append(TorqueVisit(-ago, "read", mean))
    tightened = request.quantity("tightened_ago", "days", at_least=0, within=far)
    if tightened is not None:
        rows.append(TorqueVisit(-tightened, "installed"))
    return tuple(rows)


def _tool(request: Request) -> TorqueTool | None:
    part = request.part("tool", "Say what the wrench may be off: a limit, or its largest torque for its class.")
    if part is None:
        return None
    limit = read_share(part, "limit", above=0, at_most=0.5)
    full_scale = _torque(part, "full_scale")
    step = part.quantity("resolution", "torque", at_least=0, within=LARGE_TORQUE)
    due = _due(part)
    if not part.has("limit") and not part.has("full_scale"):
        part.refuse("limit", "Give what it may be off, or its largest torque for its class.")
    part.finish()
    source = "as given"
    if limit is None and full_scale is not None:
        limit, source = class_limit(full_scale), CLASS_SOURCE
    if limit is None:
        return None
    try:
        return TorqueTool(limit, step or 0.0, full_scale, due, source)
    except FastenerError as error:
        request.refuse(error.field, error.message)
        return None


def _due(part: Request) -> bool | None:
    """Whether the calibration had run out; None where it is not known when it was calibrated."""
    keys = ("months", "operations", "interval_months", "interval_operations")
    months, operations, every_months, every_operations = (part.number(key) for key in keys)
    for key, value in zip(keys, (months, operations, every_months, every_operations), strict=True):
        if value is not None and (value < 0 or (value == 0 and key.startswith("interval"))):
            part.refuse(
                key, "This must not be negative." if not key.startswith("interval") else "This must be above 0."
            )
            return None
    if months is None and operations is None:
        return None
    return calibration_due(
        months or 0.0,
        operations or 0.0,
        interval_months=INTERVAL_MONTHS if every_months is None else every_months,
        interval_operations=INTERVAL_OPERATIONS if every_operations is None else every_operations,
    )
