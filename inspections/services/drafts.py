"""Drafts: a visit begun, its steps saved as typed, several hands at once, a visit dropped."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any
from uuid import UUID

from couplings.models import Coupling, Fit
from inspections import rules
from inspections.models import Entry, Visit, WorkOrder
from inspections.selectors.contractors import is_on
from inspections.selectors.hold_points import held_up_by
from inspections.selectors.people import works_at
from inspections.steps import STEPS, Place, Step
from plant import access
from plant.models import Person
from plant.recording import bump, changed, current
from plant.refusals import Refused, Stale
from plant.sitetime import today_at

LONGEST = 1000
MOST_FIELDS = 400
MOST_ROUNDS = 30


def begin_visit(
    *,
    coupling: Coupling,
    kind: str,
    on: date,
    work_order: WorkOrder | None = None,
    uuid: UUID | None = None,
    taken_by: Person | None = None,
    taken_at: datetime | None = None,
    from_paper: bool = False,
    paper_isolation: str = "",
) -> Visit:
    """Begin to write one time at one coupling, under the work order whose isolation it needs.

    `from_paper`: typed in later; `paper_isolation` is what the paper says of permit or reason, and who tried it.
    """
    unit = current()
    access.require(unit.by, "visit.fill", coupling.site)
    taken_by, taken_at = taken_by or unit.by, taken_at or unit.at
    if unit.by is None or taken_by is None:
        raise RuntimeError("A visit is begun by a person.")
    fit = _fit_on(coupling, on, later=from_paper or kind == Visit.Kind.LEGACY)
    errors = _begin_errors(coupling, kind, on, work_order, fit, taken_by, taken_at, from_paper)
    paper_isolation = paper_isolation.strip()
    if sentence := rules.paper_refusal(kind, from_paper, paper_isolation):
        errors["paper_isolation"] = sentence
    if not is_on(unit.by, work_order, coupling.site_id):
        errors["work_order"] = "You are not in the crew of this work order: choose one of yours."
    if uuid is not None and Visit.objects.filter(uuid=uuid).exists():
        errors["id"] = "A visit with this id already exists."
    if errors:
        raise Refused(errors)
    assert fit is not None
    visit = Visit(
        site=coupling.site,
        coupling=coupling,
        fit=fit,
        sheet_version=fit.sheet_version,
        work_order=work_order,
        kind=kind,
        on=on,
        zone=coupling.site.zone,
        taken_by=taken_by,
        taken_at=taken_at,
        entered_by=unit.by,
        entered_at=unit.at,
        from_paper=from_paper,
        paper_isolation=paper_isolation,
    )
    if uuid is not None:
        visit.uuid = uuid
    visit.save()
    changed(visit)
    return visit


def save_entry(
    *,
    visit: Visit,
    step: str,
    number: int = 0,
    fields: Mapping[str, str],
    seen: int | None,
    uuid: UUID | None = None,
    keep_rest: bool = False,
) -> Entry:
    """Keep what was typed in one step, as it was typed.

    Parameters
    ----------
    fields : mapping of field name to text
        Only what this hand changed; "" empties a field. Fields nobody else touched since `seen` are merged.
    seen : int or None
        The entry's version this hand last saw; None or 0 when it saw none.
    keep_rest : bool
        Keep the fields that do not clash, and name the others in the entry's `clashes` instead of raising: a page asks
        about one field and loses none of the rest.

    Returns
    -------
    Entry
        With `errors` for what cannot be taken as typed: it stays there, and signing asks for it again.

    Raises
    ------
    Stale
        A field of these was changed by somebody else since `seen`; `current` holds both for every such field.
    Refused
        Unknown step or field, not text, the isolation not verified yet, the visit no longer a draft.
    """
    unit = current()
    access.require(unit.by, "visit.fill", visit.site_id)
    # The visit's row is what writers of one visit wait for, and what signing holds while it reads the entries.
    visit = _locked(visit)
    row = _step(visit, step, number)
    check_texts(fields)
    if row.needs_isolation and visit.work_order is not None:
        sentence = rules.isolation_refusal(visit.work_order.number, visit.work_order.verified_at)
        if sentence and not visit.from_paper:
            raise Refused({"": sentence}, code="isolation-not-verified")
    if sentence := rules.hold_refusal(f"{one.title}, {one.what}" for one in held_up_by(visit, step)):
        raise Refused({"": sentence}, code="hold-point")
    entry = Entry.objects.filter(visit=visit, step=step, number=number).select_related("by").first()
    if entry is None:
        if uuid is not None and Entry.objects.filter(uuid=uuid).exists():
            raise Refused({"id": "An entry with this id already exists in another place."})
        entry = Entry(visit=visit, step=step, number=number, version=0, at=unit.at)
        if uuid is not None:
            entry.uuid = uuid
    given = {name: text for name, text in fields.items() if entry.typed.get(name, "") != text}
    clashes = _clashes(entry, given, seen or 0)
    if clashes and not keep_rest:
        raise _stale(clashes)
    given = {name: text for name, text in given.items() if name not in clashes}
    check_names(row, visit, {**entry.typed, **given}, given)
    if given or entry.pk is None:
        _merge(entry, given, row)
    entry.clashes = clashes
    return entry


def drop_visit(*, visit: Visit, expected: int | None = None) -> Visit:
    """Give up a draft: it stays readable and feeds nothing."""
    access.require(current().by, "visit.fill", visit.site)
    bump(visit, expected)
    if visit.state != Visit.State.DRAFT:
        raise Refused({"state": "Only a visit that is being written can be dropped; a signed one is amended."})
    visit.state = Visit.State.DROPPED
    visit.save()
    return visit


def _fit_on(coupling: Coupling, on: date, later: bool) -> Fit | None:
    """The fit that is there; for what is written down later the one that was there then, or the first on record."""
    fits = list(Fit.objects.filter(coupling=coupling).select_related("sheet_version").order_by("fitted_on", "pk"))
    now = next((one for one in fits if one.removed_on is None), None)
    if not later or not fits:
        return now
    then = [one for one in fits if one.fitted_on <= on and (one.removed_on is None or on <= one.removed_on)]
    return then[-1] if then else fits[0] if on < fits[0].fitted_on else now


def _begin_errors(
    coupling: Coupling,
    kind: str,
    on: date,
    order: WorkOrder | None,
    fit: Fit | None,
    taken_by: Person,
    taken_at: datetime,
    from_paper: bool,
) -> dict[str, str]:
    unit = current()
    errors: dict[str, str] = {}
    if kind not in Visit.Kind.values:
        errors["kind"] = f"Not a kind of visit. Choose one of: {', '.join(Visit.Kind.values)}."
    if coupling.retired_on is not None:
        errors["coupling"] = f"{coupling} was retired on {coupling.retired_on}: nothing new is written for it."
    elif fit is None:
        errors["coupling"] = f"Nothing is fitted at {coupling} on record: enter the fit with its data sheet first."
    elif on < fit.fitted_on and kind != Visit.Kind.LEGACY:
        errors["on"] = f"Before {fit.fitted_on}, when this fit was made: mend the day, or the fit's."
    if sentence := rules.future_refusal(on, today_at(coupling.site, unit.at)):
        errors["on"] = sentence
    if sentence := rules.future_refusal(taken_at, unit.at):
        errors["taken_at"] = sentence
    if order is None:
        if sentence := rules.order_refusal(kind, has_order=False):
            errors["work_order"] = sentence
    elif order.site_id != coupling.site_id or order.train_id != coupling.train_id:
        errors["work_order"] = f"This work order is not for the train of {coupling}: choose one that is."
    elif order.state != WorkOrder.State.OPEN and not from_paper:
        errors["work_order"] = f"Work order {order.number} is closed: open another for new work."
    if taken_by != unit.by and not works_at(taken_by, coupling.site_id, unit.at.date()):
        errors["taken_by"] = f"{taken_by} has no role at this site."
    return errors


def _locked(visit: Visit) -> Visit:
    held = (
        Visit.objects.select_for_update(of=("self",))
        .select_related("work_order", "sheet_version__sheet__family", "site", "coupling", "signed_by")
        .get(pk=visit.pk)
    )
    if held.state != Visit.State.DRAFT:
        raise Refused({"": _written_no_more(held)}, code="not-a-draft")
    return held


def _written_no_more(visit: Visit) -> str:
    sentence = f"This visit is {visit.get_state_display()} and is not written in any more."
    if visit.state == Visit.State.SIGNED:
        sentence += f" {visit.signed_by} signed it; what is typed now goes into the record by an amendment."
    return sentence


def _step(visit: Visit, key: str, number: int) -> Step:
    row = STEPS.get(key)
    if row is None:
        raise Refused({"step": f"There is no step “{key[:30]}”. The steps are: {', '.join(STEPS)}."})
    if not row.filled:
        raise Refused({"step": "Isolation is confirmed on the work order, for all its visits at once."})
    if row.numbered and not 1 <= number <= MOST_ROUNDS:
        raise Refused({"number": f"Rounds count from 1 to {MOST_ROUNDS}."})
    if not row.numbered and number != 0:
        raise Refused({"number": f"{row.title} has one entry only: leave the number out."})
    if not row.asked(visit):
        raise Refused({"step": f"{row.title}: {row.why_spared(visit)}"})
    return row


def check_texts(fields: Mapping[str, Any], path: str = "fields") -> None:
    """Refuse what is not text, or no text that both databases can keep."""
    errors: dict[str, str] = {}
    if len(fields) > MOST_FIELDS:
        errors[""] = f"At most {MOST_FIELDS} fields at once."
    for name, text in fields.items():
        if not isinstance(text, str):
            errors[f"{path}.{name}"] = "Send what was typed, as text."
        elif len(text) > LONGEST:
            errors[f"{path}.{name}"] = f"At most {LONGEST} characters."
        elif not _storable(text):
            errors[f"{path}.{name}"] = "This holds characters that are not text."
    if errors:
        raise Refused(errors)


def _storable(text: str) -> bool:
    """PostgreSQL keeps neither a NUL nor half of a surrogate pair."""
    return "\x00" not in text and not any("\ud800" <= letter <= "\udfff" for letter in text)


def _clashes(entry: Entry, given: Mapping[str, str], seen: int) -> dict[str, dict[str, str]]:
    """Fields that somebody changed since `seen`, with both texts."""
    return {
        name: {
            "yours": text,
            "theirs": entry.typed.get(name, ""),
            "by": entry.touched[name]["by"],
            "at": entry.touched[name]["at"],
        }
        for name, text in given.items()
        if name in entry.touched and entry.touched[name]["version"] > seen
    }


def _stale(clashes: Mapping[str, Mapping[str, str]]) -> Stale:
    return Stale(
        {
            f"fields.{name}": f"{clash['by']} entered “{clash['theirs']}” in the meantime: choose which one holds."
            for name, clash in clashes.items()
        },
        current=dict(clashes),
    )


def check_names(
    row: Step, visit: Visit, typed: Mapping[str, str], given: Mapping[str, str], path: str = "fields"
) -> None:
    """Refuse fields that the step does not have."""
    unknown = row.strange(given, visit, typed)
    if unknown:
        raise Refused({f"{path}.{name[:60]}": f"{row.title} has no field of this name." for name in unknown})


def _merge(entry: Entry, given: Mapping[str, str], row: Step) -> None:
    unit = current()
    entry.version += 1
    who = {"version": entry.version, "by": str(unit.by or ""), "at": unit.at.isoformat()}
    entry.typed = {**entry.typed, **given}
    entry.touched = {**entry.touched, **{name: who for name in given}}
    entry.by, entry.at = unit.by, unit.at
    entry.errors = row.read(entry.typed, Place(entry.visit, unit.at)).errors
    entry.save()
