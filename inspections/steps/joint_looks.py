"""A joint that a re-check would spoil is looked at instead: whether anything about it has moved."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from couplings.engineering.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE, TOO_CLOSE
from couplings.models import SheetJoint
from inspections.models import JointLook, Visit
from inspections.steps.registry import Found
from inspections.steps.typed import Reading
from plant.calculations import FormField

# What each look comes to. A line that has moved says that something turned, or that only the paint was rubbed. Common
# practice.
VERDICTS = {
    JointLook.Seen.UNDISTURBED: IN_TOLERANCE,
    JointLook.Seen.MOVED: TOO_CLOSE,
    JointLook.Seen.LOOSE: OUT_OF_TOLERANCE,
}
SAID = {
    JointLook.Seen.UNDISTURBED: "Undisturbed: every witness line meets.",
    JointLook.Seen.MOVED: "A witness line has moved: either the screw turned, or only its paint was rubbed.",
    JointLook.Seen.LOOSE: "Found loose: it holds nothing any more.",
}
NAMES = ("seen", "seen_at")


@dataclass(frozen=True)
class Looked:
    """One joint as it was seen; `rule` is why no wrench may be put on it."""

    joint: SheetJoint
    seen: str
    positions: tuple[int, ...]
    rule: str


def look_fields(joint: SheetJoint, at: str, group: str, rule: str) -> list[FormField]:
    """What is asked of a joint that must not be checked by a wrench."""
    return [
        FormField(
            f"{at}.seen", "What is seen, no wrench on it", "choice", False, group, tuple(JointLook.Seen.choices),
            hint=rule,
        ),
        FormField(f"{at}.seen_at", "At which positions", "text", False, group, hint="Such as 3, 7."),
    ]  # fmt: skip


def read_look(reading: Reading, joint: SheetJoint, at: str, rule: str, positions: Any) -> Looked | None:
    """One joint as it was seen; None where it was not looked at."""
    seen = reading.choice(f"{at}.seen", JointLook.Seen.choices)
    where = positions(reading, joint, f"{at}.seen_at")
    if not seen:
        if where:
            reading.want(f"{at}.seen", f"{joint.name}: say what is seen at these positions.")
        return None
    if seen == JointLook.Seen.UNDISTURBED and where:
        reading.refuse(f"{at}.seen_at", "Undisturbed is said of every position: leave this empty.")
    elif seen != JointLook.Seen.UNDISTURBED:
        reading.want(f"{at}.seen_at", f"{joint.name}: say at which positions.")
    verdict, said = VERDICTS[JointLook.Seen(seen)], _sentence(JointLook.Seen(seen), where)
    reading.read.found.append(Found(joint.name, said, verdict))
    if verdict != IN_TOLERANCE:
        reading.warn(f"{joint.name}: {verdict}. {said} {rule}")
    return Looked(joint, seen, where, rule)


def look_fact(look: Looked, visit: Visit) -> JointLook:
    """The row that signing writes."""
    return JointLook(
        visit=visit,
        joint=look.joint.name,
        seen=look.seen,
        positions=list(look.positions),
        verdict=VERDICTS[JointLook.Seen(look.seen)],
        rule=look.rule[:400],
    )


def _sentence(seen: JointLook.Seen, where: tuple[int, ...]) -> str:
    at = f" At position{'s' if len(where) > 1 else ''} {', '.join(str(number) for number in where)}." if where else ""
    return f"{SAID[seen]}{at}"
