"""One running check of a walk: begun, entered and signed by one press."""

from __future__ import annotations

from collections.abc import Mapping

from couplings.models import Coupling
from inspections.models import SignedRecord, Visit, WorkOrder
from inspections.selectors.contractors import order_to_look_under
from inspections.services.drafts import begin_visit, save_entry
from inspections.services.signing import sign_visit
from plant.recording import current
from plant.refusals import Refused
from plant.sitetime import today_at


def look_in_passing(
    *, coupling: Coupling, fields: Mapping[str, str], work_order: WorkOrder | None = None
) -> SignedRecord:
    """Write down and sign one look at a running coupling, all of it or nothing.

    A contractor looks under the open order at this train that he is on.

    Raises
    ------
    Refused
        Looked at already today, nothing entered, or by field what cannot be taken.
    """
    unit = current()
    on = today_at(coupling.site, unit.at)
    if work_order is None and unit.by is not None:
        work_order = order_to_look_under(unit.by, coupling)
    looked = Visit.objects.filter(coupling=coupling, kind=Visit.Kind.RUNNING, on=on, state=Visit.State.SIGNED)
    if (earlier := looked.select_related("signed_by").first()) is not None:
        said = f"{earlier.signed_by} looked at it today already: go on to the next, or begin a visit of its own."
        raise Refused({"": said})
    if not any(text.strip() for text in fields.values()):
        raise Refused({"": "Nothing is entered yet: say what differs, or why nobody looked."})
    visit = begin_visit(coupling=coupling, kind=Visit.Kind.RUNNING, on=on, work_order=work_order)
    entry = save_entry(visit=visit, step="running-look", fields=fields, seen=None)
    if entry.errors:
        raise Refused({f"fields.{name}": said for name, said in entry.errors.items()})
    try:
        return sign_visit(visit=visit)
    except Refused as refusal:
        own = {name.removeprefix("running-look").lstrip("."): said for name, said in refusal.as_dict().items()}
        raise Refused({f"fields.{name}" if name else "": said for name, said in own.items()}) from None
