"""Hold points of a visit: what somebody else has to look on, who did, and what that holds up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from couplings.models import SheetHoldPoint
from inspections import rules
from inspections.models import HandOver, Visit, Witness
from inspections.selectors.photos import signed_photos
from inspections.steps import STEPS
from inspections.steps.excused import NAME
from inspections.steps.records import instant
from plant.models import Membership


@dataclass(frozen=True)
class HoldPoint:
    """One hold point of the data sheet in this visit. `witness` holds for the step as it stands; `lapsed` is one that
    looked on before the step was changed."""

    step: str
    what: str
    role: str
    witness: Witness | None
    lapsed: Witness | None = None

    @property
    def title(self) -> str:
        return STEPS[self.step].title

    @property
    def role_words(self) -> str:
        return dict(Membership.Role.choices).get(self.role, self.role)


def hold_points(visit: Visit) -> list[HoldPoint]:
    """The hold points of the steps that this visit does, in the order of the work.

    That is what has something typed in, and what its kind cannot be signed without: whoever checks fasteners places no
    hubs, and nobody has to look on at what is not done.
    """
    rows = list(SheetHoldPoint.objects.filter(version_id=visit.sheet_version_id))
    if not rows:
        return []
    seen = list(Witness.objects.filter(visit=visit).select_related("by").order_by("pk"))
    order, done = list(STEPS), _done(visit)
    found = []
    for row in sorted(rows, key=lambda one: order.index(one.step) if one.step in STEPS else -1):
        if row.step not in STEPS or not STEPS[row.step].asked(visit) or row.step not in done:
            continue
        here = [one for one in seen if (one.step, one.what) == (row.step, row.what)]
        now = version_of(visit, row.step)
        holds = next((one for one in here if one.seen_version == now), None)
        lapsed = here[-1] if here and holds is None else None
        found.append(HoldPoint(row.step, row.what, row.role, holds, lapsed))
    return found


def _done(visit: Visit) -> set[str]:
    wanted = {row.step for row in rules.WANTED[visit.kind]}
    typed = {
        entry.step
        for entry in visit.entries.all()
        if any(text.strip() for name, text in entry.typed.items() if name != NAME)
    }
    return wanted | typed | {"isolation", "signature"}


def version_of(visit: Visit, step: str) -> int:
    """What the step's entries stood at: changes with every change of any of them."""
    entries = [one for one in visit.entries.all() if step in ("signature", one.step)]
    return sum(one.version for one in entries)


def typed_version(visit: Visit) -> int:
    """What all steps of the visit stand at."""
    return version_of(visit, "signature")


def held_up_by(visit: Visit, step: str) -> list[HoldPoint]:
    """Hold points of the step right before this one that nobody witnessed: they block this step and no other."""
    points = [one for one in hold_points(visit) if one.witness is None]
    if not points:
        return []
    keys = [key for key, row in STEPS.items() if row.filled and row.asked(visit)]
    place = keys.index(step) if step in keys else 0
    return [one for one in points if place > 0 and one.step == keys[place - 1]]


def signed_beside(visit: Visit) -> dict[str, Any]:
    """What the signed text says besides steps and rows: witnesses, notes, photos.

    Only what is there: older texts have none of it.
    """
    witnesses = [
        {
            "step": one.step,
            "what": one.what,
            "role": one.role,
            "seen_version": one.seen_version,
            "by": str(one.by.uuid),
            "at": instant(one.at),
        }
        for one in Witness.objects.filter(visit=visit).select_related("by").order_by("pk")
    ]
    notes = [
        {"text": one.text, "to": one.to, "by": str(one.by.uuid), "at": instant(one.at)}
        for one in HandOver.objects.filter(visit=visit).select_related("by").order_by("pk")
    ]
    found = (("witnesses", witnesses), ("hand_overs", notes), ("photos", signed_photos(visit)))
    return {name: rows for name, rows in found if rows}
