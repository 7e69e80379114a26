"""Hold points witnessed by somebody else, and notes from one shift to the next."""

from __future__ import annotations

from inspections import rules
from inspections.models import Entry, HandOver, Visit, Witness
from inspections.selectors.contractors import is_on
from inspections.selectors.hold_points import HoldPoint, hold_points, version_of
from inspections.selectors.summary import summary_of
from inspections.selectors.visits import read_entry
from inspections.steps import STEPS
from plant import access
from plant.models import Person
from plant.recording import bump, changed, current
from plant.refusals import Refused


def witness_step(*, visit: Visit, step: str, what: str, expected: int | None = None) -> Witness:
    """Say that one looked on at a hold point of the data sheet. Nobody witnesses what he took, typed or signs.

    Raises
    ------
    Refused
        No such hold point, witnessed already, one's own work, not the role that the data sheet asks for, the step not
        complete, the visit no longer a draft.
    """
    unit = current()
    access.require(unit.by, "visit.witness", visit.site_id)
    bump(visit, expected)
    fresh = _draft(visit)
    point = next((one for one in hold_points(fresh) if (one.step, one.what) == (step, what)), None)
    if point is None:
        raise Refused({"what": "The data sheet of this fit has no such hold point in this step."})
    if point.witness is not None:
        raise Refused({"what": f"{point.witness.by} witnessed this already."})
    assert unit.by is not None
    sentence = rules.witness_refusal(
        own_work=_had_a_hand(fresh, step, unit.by),
        has_role=point.role in unit.by.roles_by_site().get(visit.site_id, set()),
        role=point.role_words,
        complete=_complete(fresh, point),
    )
    if sentence:
        raise Refused({"": sentence})
    row = Witness.objects.create(
        visit=fresh, step=step, what=what, role=point.role, seen_version=version_of(fresh, step), by=unit.by, at=unit.at
    )
    changed(visit)
    return row


def hand_over(*, visit: Visit, text: str, to: str = "", expected: int | None = None) -> HandOver:
    """Leave a note for the next shift; notes are kept as they were written and go into the record."""
    unit = current()
    access.require(unit.by, "visit.fill", visit.site_id)
    bump(visit, expected)
    fresh = _draft(visit)
    text, to = text.strip(), to.strip()
    errors = {}
    if not text:
        errors["text"] = "Say what is done, what is left, and what the next shift must know."
    elif len(text) > 1000:
        errors["text"] = f"At most 1000 characters; this is {len(text)}."
    if len(to) > 80:
        errors["to"] = "At most 80 characters."
    errors |= {name: "This holds characters that are not text." for name, one in (("text", text), ("to", to))
               if "\x00" in one}  # fmt: skip
    if errors:
        raise Refused(errors)
    assert unit.by is not None
    row = HandOver.objects.create(visit=fresh, text=text, to=to, by=unit.by, at=unit.at)
    changed(visit)
    return row


def _draft(visit: Visit) -> Visit:
    unit = current()
    fresh = (
        Visit.objects.select_related(
            "work_order", "sheet_version__sheet__family", "site", "fit", "coupling__grade",
            "coupling__driver_machine", "coupling__driven_machine", "coupling__train",
        )
        .prefetch_related("entries__by", "sheet_version__joints")
        .get(pk=visit.pk)
    )  # fmt: skip
    if fresh.state != Visit.State.DRAFT:
        raise Refused({"": f"This visit is {fresh.get_state_display()}: nothing is added to it any more."})
    if unit.by is not None and not is_on(unit.by, fresh.work_order, fresh.site_id):
        raise Refused({"": "You are not in the crew of this work order."})
    return fresh


def _had_a_hand(visit: Visit, step: str, person: Person) -> bool:
    """Whether this person took the readings or typed anything in the step; for the signature, in any step."""
    if person.pk in (visit.taken_by_id, visit.entered_by_id):
        return True
    entries: list[Entry] = [one for one in visit.entries.all() if step in ("signature", one.step)]
    typed = {touch["by"] for one in entries for touch in one.touched.values()}
    return str(person) in typed or any(one.by_id == person.pk for one in entries)


def _complete(visit: Visit, point: HoldPoint) -> bool:
    """Whether there is something to witness: the step understood, or for the signature everything else there."""
    if point.step == "signature":
        return all(one.step == "signature" for one in summary_of(visit).missing)
    if point.step == "isolation":
        return visit.from_paper or (visit.work_order is not None and visit.work_order.isolation_stands)
    entries = [one for one in visit.entries.all() if one.step == point.step]
    reads = [read_entry(visit, one.step, one.number) for one in entries]
    return bool(reads) and all(read.complete for read in reads) and STEPS[point.step].filled
