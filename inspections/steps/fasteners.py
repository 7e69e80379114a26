"""Fasteners, joint by joint of the data sheet: a torque set for the whole pattern, or read at each position."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from couplings.engineering.conformity import OUT_OF_TOLERANCE, TOO_CLOSE
from couplings.engineering.threads import FastenerError
from couplings.engineering.torque_tools import TorqueTool
from couplings.engineering.torque_trend import TorqueTrend
from couplings.engineering.torquecheck import JointVerdict
from couplings.models import SheetJoint
from inspections import rules
from inspections.models import JointLook, Torque, Visit
from inspections.steps.joint_looks import NAMES, Looked, look_fact, look_fields, read_look
from inspections.steps.registry import Place, Read, Step, Typed
from inspections.steps.torque_judging import joint_verdict, refusal, tool_of, trend_of, wrench_nm
from inspections.steps.torque_told import fastener_offers, told_of
from inspections.steps.typed import Reading, ended
from plant import units
from plant.calculations import FormField

TOOL_FOR = {"set": ("torque-set",), "read": ("torque-read",)}
POSITIONS = re.compile(r"[\s,;]+")


@dataclass(frozen=True)
class Tightened:
    """One joint as entered. `pattern_nm` with 'set'; `turned_out` were tightened anew, `moved` before the click."""

    joint: SheetJoint
    how: str
    pattern_nm: float | None
    positions: dict[int, float]
    instrument: Any
    turned_out: tuple[int, ...] = ()
    moved: tuple[int, ...] = ()
    first_nm: dict[int, float] = field(default_factory=dict)
    tool: TorqueTool | None = None
    verdict: JointVerdict | None = None
    trend: TorqueTrend | None = None


def _knows_more(name: str, visit: Visit) -> bool:
    """Fields of a wrench on a joint that must not be checked: refused beside it with the reason, not as strange."""
    for number, joint in enumerate(visit.sheet_version.joints.all()):
        if refusal(visit, joint):
            at = f"joint{number}"
            positions = {f"{at}.position{no}" for no in range(1, joint.positions + 1)}
            if name in {f"{at}.how", f"{at}.torque", f"{at}.instrument"} | positions:
                return True
    return False


def _fields(visit: Visit, typed: Typed) -> list[FormField]:
    rows = []
    for place, joint in enumerate(visit.sheet_version.joints.all()):
        at, group = f"joint{place}", f"{joint.name}, {joint.positions} {joint.thread}".strip()
        asked = units.written(wrench_nm(joint), "torque", visit.site.units)
        refused = refusal(visit, joint)
        if refused:
            rows += look_fields(joint, at, group, refused)
            continue
        rows += [
            FormField(
                f"{at}.how",
                "How the torque is known",
                "choice",
                required=True,
                group=group,
                choices=tuple(Torque.How.choices),
                hint=f"On the data sheet: {asked}, {joint.get_order_display()}.",
            ),
            FormField(f"{at}.torque", "Torque the wrench was set to", "torque", group=group),
            FormField(f"{at}.instrument", "Wrench", "instrument", group=group),
            *(
                FormField(f"{at}.position{number}", f"Position {number}", "torque", group=group)
                for number in range(1, joint.positions + 1)
            ),
        ]
        if visit.kind not in rules.TIGHTENS_ANEW:
            rows += [
                FormField(
                    f"{at}.turned_out",
                    "Positions found turned out",
                    "text",
                    group=group,
                    hint="Such as 3, 7. Tightened anew, they begin again: their torque is that of the new tightening.",
                ),
                FormField(
                    f"{at}.moved", "Positions that moved before the click", "text", group=group, hint="Such as 3, 7."
                ),
            ]
    return rows


def _read(typed: Typed, place: Place) -> Read:
    reading = Reading(typed, place)
    found: list[Tightened | Looked] = []
    for number, joint in enumerate(place.joints):
        at = f"joint{number}"
        if sentence := refusal(place.visit, joint):
            looks = {f"{at}.{name}" for name in NAMES}
            wrench = [name for name in typed if name.startswith(f"{at}.") and name not in looks and typed[name].strip()]
            if wrench:
                reading.refuse(f"{at}.how", f"{joint.name}: {sentence}")
            look = read_look(reading, joint, at, sentence, _positions)
            if look is not None:
                found.append(look)
            continue
        found.append(read_joint(reading, joint, at))
    if not found and not reading.read.errors and not reading.read.missing:
        reading.read.missing.setdefault("joint0.seen", "No joint is looked at yet: say what is seen, or leave it all.")
    return reading.done(found)


def read_joint(reading: Reading, joint: SheetJoint, at: str) -> Tightened:
    """One joint as typed, with what is wrong and missing, and judged as far as it can be."""
    how = reading.choice(f"{at}.how", Torque.How.choices)
    pattern = reading.quantity(f"{at}.torque", "torque", 0, 1e6)
    tool = reading.instrument(f"{at}.instrument", TOOL_FOR.get(how, ()))
    positions: dict[int, float] = {}
    for number in range(1, joint.positions + 1):
        value = reading.quantity(f"{at}.position{number}", "torque", 0, 1e6)
        if value is not None:
            positions[number] = value
    turned_out, moved = (_positions(reading, joint, f"{at}.{name}") for name in ("turned_out", "moved"))
    reading.want(
        f"{at}.how", f"{joint.name}: say whether the torque was set on a click wrench or read position by one."
    )
    reading.want(f"{at}.instrument", f"{joint.name}: name the wrench.")
    if how == "set":
        reading.want(f"{at}.torque", f"{joint.name}: the torque the wrench was set to is missing.")
    elif how == "read":
        _want_read(reading, joint, at, pattern, positions)
        if moved:
            reading.refuse(f"{at}.moved", "A wrench that reads shows how much: enter the torque at the position.")
        for number in turned_out:
            reading.want(
                f"{at}.position{number}",
                f"{joint.name}: the torque to which position {number} was tightened anew is missing.",
            )
    _compare(reading, joint, how, pattern, {n: v for n, v in positions.items() if n not in turned_out})
    found = Tightened(joint, how, pattern, positions, tool, turned_out, moved)
    return _judged(reading, found, at)


def _want_read(
    reading: Reading, joint: SheetJoint, at: str, pattern: float | None, positions: dict[int, float]
) -> None:
    if pattern is not None:
        reading.refuse(f"{at}.torque", "A torque that was read belongs to a position: enter it there, and only there.")
    if not positions:
        reading.read.missing.setdefault(f"{at}.position1", f"{joint.name}: no position is read yet.")
    elif unread := [n for n in range(1, joint.positions + 1) if n not in positions]:
        reading.warn(f"{joint.name}: not read at {_listed(unread)} of {joint.positions}.")


def _positions(reading: Reading, joint: SheetJoint, name: str) -> tuple[int, ...]:
    """Numbers of positions as a crew writes them: 3, 7 12."""
    words = [word for word in POSITIONS.split(reading.text(name)) if word]
    numbers = {int(word) for word in words if word.isascii() and word.isdigit() and len(word) <= 2}
    if len(numbers) < len(set(words)) or any(not 1 <= number <= joint.positions for number in numbers):
        reading.refuse(name, f"Write positions as numbers from 1 to {joint.positions}, such as 3, 7.")
        return ()
    return tuple(sorted(numbers))


def _judged(reading: Reading, found: Tightened, at: str) -> Tightened:
    """Hold the joint against the specification and its own past; a reading that cannot be one is refused."""
    place, joint = reading.place, found.joint
    if any(name.startswith(f"{at}.") for name in reading.read.errors):
        return found
    tool = tool_of(found.instrument, joint, ended(found.instrument, place.visit.on))
    try:
        first, verdict = joint_verdict(place, found, tool)
    except FastenerError as error:
        number = error.field.split(".")[1] if error.field.startswith("readings.") else ""
        read = [n for n in sorted(found.positions) if n not in found.turned_out]
        name = f"position{read[int(number)]}" if number and int(number) < len(read) else "torque"
        reading.refuse(f"{at}.{name}", error.message)
        return found
    if verdict is not None and verdict.verdict in (OUT_OF_TOLERANCE, TOO_CLOSE):
        reading.warn(f"{joint.name}: {verdict.verdict}. {verdict.reason}")
    trend = trend_of(place, joint, verdict, tool) if found.how == "read" else None
    return Tightened(
        joint, found.how, found.pattern_nm, found.positions, found.instrument, found.turned_out, found.moved,
        first, tool, verdict, trend,
    )  # fmt: skip


def _compare(reading: Reading, joint: SheetJoint, how: str, pattern: float | None, positions: dict[int, float]) -> None:
    """Say what differs from the data sheet; rounding of a converted figure (1 %) is not a difference."""
    system, specified = reading.place.system, wrench_nm(joint)
    asked = units.written(specified, "torque", system)
    if how == "set" and pattern is not None and abs(pattern / specified - 1) > 0.01:
        reading.warn(f"{joint.name}: set to {units.written(pattern, 'torque', system)}; the data sheet asks {asked}.")
    low = [number for number, value in positions.items() if value < specified * 0.99]
    if low:
        reading.warn(f"{joint.name}: below the data sheet's {asked} at {_listed(low)}.")


def _listed(positions: list[int]) -> str:
    return f"position{'s' if len(positions) > 1 else ''} {', '.join(str(number) for number in positions)}"


def _facts(values: list[Tightened | Looked], place: Place) -> list[Any]:
    rows: list[Any] = []
    for found in values:
        if isinstance(found, Looked):
            rows.append(look_fact(found, place.visit))
            continue
        at: dict[int | None, float] = {position: value for position, value in found.positions.items()}
        if found.how == "set" and found.pattern_nm is not None:
            at[None] = found.pattern_nm
            at |= {number: at.get(number, found.pattern_nm) for number in (*found.turned_out, *found.moved)}
        rows += [_row(found, place, position, torque_nm) for position, torque_nm in at.items()]
    return rows


def _row(found: Tightened, place: Place, position: int | None, torque_nm: float) -> Torque:
    verdict, reason = "", ""
    if found.verdict is not None and position is None:
        verdict, reason = found.verdict.verdict, found.verdict.reason
    elif found.verdict is not None and (found.how == "read" or position in (*found.turned_out, *found.moved)):
        one = next(row for row in found.verdict.positions if row.position == position)
        verdict, reason = one.verdict, one.reason
    what = ""
    if position in found.turned_out:
        what = Torque.Found.TURNED_OUT.value
    elif position in found.moved:
        what = Torque.Found.MOVED.value
    return Torque(
        visit=place.visit,
        joint=found.joint.name,
        how=found.how,
        position=position,
        torque_nm=torque_nm,
        instrument=found.instrument,
        out_of_calibration=ended(found.instrument, place.visit.on),
        found=what,
        specified_nm=wrench_nm(found.joint),
        first_nm=found.first_nm.get(position) if position is not None and not what else None,
        u_nm=found.tool.standard_uncertainty_nm(torque_nm) if found.tool is not None else None,
        verdict=verdict,
        reason=reason[:200],
    )


def _applies(visit: Visit) -> bool:
    """Whether the data sheet has a joint: what this kind of visit may not touch is looked at."""
    return bool(visit.sheet_version.joints.all())


def _may_tighten(visit: Visit) -> bool:
    """Whether there is a joint that a wrench may be put on. A look alone is welcome, and nobody waits for it."""
    return any(not refusal(visit, joint) for joint in visit.sheet_version.joints.all())


def _told(visit: Visit, typed: Typed) -> Any:
    place = Place(visit, visit.entered_at)
    reading = Reading(typed, place)
    found = [
        None if refusal(visit, joint) else read_joint(reading, joint, f"joint{number}")
        for number, joint in enumerate(place.joints)
    ]
    return told_of(place, found)


FASTENERS = Step(
    "fasteners",
    "Fasteners",
    _fields,
    _read,
    _facts,
    Torque,
    tells=_told,
    offers=fastener_offers,
    applies=_applies,
    wanted=_may_tighten,
    knows_more=_knows_more,
    beside=(JointLook,),
)
