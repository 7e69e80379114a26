"""Work on foundation or pipes beside a coupling: written down, so that it is checked once more."""

from __future__ import annotations

from datetime import date

from couplings.models import Coupling
from inspections.models import OtherWork
from inspections.services.checks import recompute_coupling
from plant.access import require
from plant.recording import changed, current, removed
from plant.refusals import Refused
from plant.sitetime import today_at


def report_other_work(*, coupling: Coupling, kind: str, on: date, note: str = "") -> OtherWork:
    """Say that work on the foundation or the pipes was finished; dates that wait for it follow at once."""
    unit = current()
    require(unit.by, "check.plan", coupling.site_id)
    errors = {}
    if kind not in OtherWork.Kind.values:
        errors["kind"] = f"Choose one of {', '.join(OtherWork.Kind.values)}."
    if on > today_at(coupling.site, unit.at):
        errors["on"] = "That day is still to come: write it down when the work is finished."
    if len(note) > 200:
        errors["note"] = "Say it in at most 200 characters."
    if coupling.retired_on is not None:
        errors["coupling"] = "This coupling is retired."
    if not errors and OtherWork.objects.filter(coupling=coupling, kind=kind, on=on).exists():
        errors["on"] = "That was written down already."
    if errors:
        raise Refused(errors)
    work = OtherWork.objects.create(
        site_id=coupling.site_id, coupling=coupling, kind=kind, on=on, note=note.strip(), by=unit.by, at=unit.at
    )
    changed(work)
    return work


def take_back_other_work(*, work: OtherWork) -> None:
    """Take out what was written down by mistake; the dates it brought go with it."""
    require(current().by, "check.plan", work.site_id)
    coupling = work.coupling
    removed(work)
    work.delete()
    recompute_coupling(coupling=coupling)
