"""Elements in store: received, issued, counted, scrapped. The count of a lot is what its movements add up to."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

from couplings import rules
from couplings.models import Element, RemovalReason, StockLot, StockMovement
from couplings.models.stock import MOST
from couplings.services.checking import refuse, saved
from plant import access
from plant.models import Site
from plant.recording import bump, changed, current
from plant.services.rows import errors_of, refuse_known_uuid, set_fields
from plant.sitetime import today_at

LOT_FIELDS = ("polymer", "place")
REASON_FIELDS = ("title", "failure", "in_use", "source")


def receive_stock(
    *,
    site: Site,
    part_number: str,
    number: int,
    on: date | None = None,
    batch: str = "",
    cured_on: date | None = None,
    note: str = "",
    uuid: UUID | None = None,
    **fields: Any,
) -> StockLot:
    """Receive elements into the store: into the lot of their part, batch and cure date, which begins where none is."""
    unit = current()
    access.require(unit.by, "stock.write", site)
    refuse_known_uuid(StockLot, uuid)
    on = on if on is not None else today_at(site, unit.at)
    part_number, batch = part_number.strip(), batch.strip()
    known = {"site": site, "part_number": part_number, "batch": batch, "cured_on": cured_on}
    lot = StockLot.objects.filter(**known).first()
    errors: dict[str, str] = {}
    if lot is not None and uuid is not None:
        errors["id"] = "This lot stands here under another id: leave the id out, and it is added to."
    new = lot is None
    lot = lot or StockLot(**known)
    if uuid is not None and new:
        lot.uuid = uuid
    if not new:
        bump(lot)
    set_fields(lot, {name: value for name, value in fields.items() if value or new}, LOT_FIELDS)
    lot.polymer = lot.polymer.strip().upper()
    errors |= errors_of(lot) | rules.movement_errors(
        kind="receipt", number=number, count=lot.count, on=on, today=today_at(site, unit.at), note=note
    )
    if cured_on is not None and cured_on > on:
        errors["cured_on"] = f"The cure date {cured_on} lies after the day they were received, {on}."
    if number + lot.count > MOST:
        errors.setdefault("number", f"A lot holds at most {MOST:,}.")
    movement = StockMovement(kind=StockMovement.Kind.RECEIPT, note=note.strip())
    errors |= {name: text for name, text in errors_of(movement).items() if name == "note"}
    refuse(errors)
    if new:
        saved(lot, lambda: {"part_number": "Somebody else began this lot just now: send it again to add to it."})
        changed(lot)
    _moved(lot, movement, number, on)
    return lot


def move_stock(
    *, lot: StockLot, kind: str, number: int, on: date | None = None, note: str = "", expected: int | None = None
) -> StockLot:
    """Issue or scrap a number of a lot, receive more of it, or correct it to the number that was counted."""
    unit = current()
    access.require(unit.by, "stock.write", lot.site)
    bump(lot, expected)
    today = today_at(lot.site, unit.at)
    on = on if on is not None else today
    movement = StockMovement(kind=kind, note=note.strip())
    errors = {name: text for name, text in errors_of(movement).items() if name in ("kind", "note")}
    errors |= rules.movement_errors(kind=kind, number=number, count=lot.count, on=on, today=today, note=note)
    change = {"receipt": number, "correction": number - lot.count}.get(kind, -number)
    if lot.count + change > MOST:
        errors.setdefault("number", f"A lot holds at most {MOST:,}.")
    refuse(errors)
    _moved(lot, movement, change, on)
    return lot


def change_lot(*, lot: StockLot, expected: int | None = None, **fields: Any) -> StockLot:
    """Change where a lot lies or what it is made of; part, batch and cure date are what it is known by."""
    access.require(current().by, "stock.write", lot.site)
    bump(lot, expected)
    set_fields(lot, fields, LOT_FIELDS)
    lot.polymer = lot.polymer.strip().upper()
    refuse(errors_of(lot))
    lot.save()
    return lot


def take_one(lot: StockLot, element: Element) -> None:
    """Issue the one that was fitted. Whoever may record the fitting may take it: nothing more is asked."""
    bump(lot)
    today = today_at(lot.site, current().at)
    refuse(
        {
            {"number": "lot"}.get(name, name): text
            for name, text in rules.movement_errors(
                kind="issue", number=1, count=lot.count, on=element.fitted_on, today=today, note=""
            ).items()
        }
    )
    movement = StockMovement(kind=StockMovement.Kind.ISSUE, element=element, note=f"fitted at {element.fit.coupling}")
    _moved(lot, movement, -1, element.fitted_on)


def write_removal_reason(
    *, site: Site, code: str, title: str, uuid: UUID | None = None, **fields: Any
) -> RemovalReason:
    """Add a reason for which elements are taken out at a site."""
    access.require(current().by, "policy.write", site)
    refuse_known_uuid(RemovalReason, uuid)
    reason = RemovalReason(site=site, code=code, title=title.strip())
    set_fields(reason, fields, REASON_FIELDS)
    if uuid is not None:
        reason.uuid = uuid
    refuse(errors_of(reason) | _code_taken(reason))
    saved(reason, lambda: _code_taken(reason))
    changed(reason)
    return reason


def change_removal_reason(*, reason: RemovalReason, expected: int | None = None, **fields: Any) -> RemovalReason:
    """Word a reason anew, or take it out of use; elements that went for it keep it."""
    access.require(current().by, "policy.write", reason.site)
    bump(reason, expected)
    set_fields(reason, fields, REASON_FIELDS)
    refuse(errors_of(reason))
    reason.save()
    return reason


def refuse_new_code(reason: RemovalReason) -> None:
    """Records name a reason by its code, which therefore stays."""
    refuse(
        {"code": f"Its code stays {reason.code}: records name it. Add another reason, and take this one out of use."}
    )


def _moved(lot: StockLot, movement: StockMovement, change: int, on: date) -> None:
    unit = current()
    lot.count += change
    lot.save()
    movement.lot, movement.change, movement.count_after = lot, change, lot.count
    movement.on, movement.at, movement.by = on, unit.at, unit.by
    movement.save()


def _code_taken(reason: RemovalReason) -> dict[str, str]:
    others = RemovalReason.objects.filter(site_id=reason.site_id, code=reason.code).exclude(pk=reason.pk)
    return {"code": "This site has a reason of this code already: change that one."} if others.exists() else {}
