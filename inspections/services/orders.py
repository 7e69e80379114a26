"""Work orders: opening one, its crew, its isolation from permit to removal, closing it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any
from uuid import UUID

from inspections import rules
from inspections.models import CrewMember, Visit, WorkOrder
from plant import access
from plant.models import Train
from plant.recording import bump, changed, current
from plant.refusals import Refused
from plant.services.references import set_references

CHANGEABLE = ("number", "title", "planned_on", "crew")


def open_order(
    *,
    train: Train,
    number: str,
    title: str = "",
    planned_on: date | None = None,
    crew: Sequence[Mapping[str, Any]] = (),
    external_ref: Mapping[str, str | None] | None = None,
    uuid: UUID | None = None,
) -> WorkOrder:
    """Open an outing at one train. Crew rows: `person` (or None), `name`, `employer`."""
    access.require(current().by, "order.write", train.site)
    number, title = number.strip(), title.strip()
    errors = _number_errors(train.site_id, number, None) | _title_errors(title) | _crew_errors(train.site_id, crew)
    if uuid is not None and WorkOrder.objects.filter(uuid=uuid).exists():
        errors["id"] = "A work order with this id already exists."
    if errors:
        raise Refused(errors)
    order = WorkOrder(site=train.site, train=train, number=number, title=title, planned_on=planned_on)
    if uuid is not None:
        order.uuid = uuid
    order.save()
    _write_crew(order, crew)
    set_references(root=order, refs=external_ref)
    changed(order)
    return order


def change_order(
    *,
    order: WorkOrder,
    expected: int | None = None,
    external_ref: Mapping[str, str | None] | None = None,
    **fields: Any,
) -> WorkOrder:
    """Change number, title, planned day or the whole crew of an open order."""
    access.require(current().by, "order.write", order.site)
    if unknown := set(fields) - set(CHANGEABLE):
        raise Refused({name: "This cannot be changed on a work order." for name in sorted(unknown)})
    bump(order, expected)
    _still_open(order)
    errors: dict[str, str] = {}
    if "number" in fields:
        fields["number"] = str(fields["number"]).strip()
        errors |= _number_errors(order.site_id, fields["number"], order.pk)
    if "title" in fields:
        fields["title"] = str(fields["title"]).strip()
        errors |= _title_errors(fields["title"])
    if "crew" in fields:
        errors |= _crew_errors(order.site_id, fields["crew"])
    if errors:
        raise Refused(errors)
    crew = fields.pop("crew", None)
    for name, value in fields.items():
        setattr(order, name, value)
    order.save()
    if crew is not None:
        order.crew.all().delete()
        _write_crew(order, crew)
    set_references(root=order, refs=external_ref)
    return order


def isolate(
    *, order: WorkOrder, permit: str = "", no_permit_reason: str = "", expected: int | None = None
) -> WorkOrder:
    """Write down the isolation: the permit's number, or why there is none. Trying it dead is `verify_isolation`."""
    unit = current()
    access.require(unit.by, "order.isolate", order.site)
    bump(order, expected)
    _still_open(order)
    permit, no_permit_reason = permit.strip(), no_permit_reason.strip()
    errors = rules.isolate_refusal(permit, no_permit_reason)
    if len(permit) > 60:
        errors["permit"] = "At most 60 characters."
    if len(no_permit_reason) > 200:
        errors["no_permit_reason"] = "At most 200 characters."
    if order.isolation_stands:
        errors = {"": "This order's isolation stands already: remove it before another is written down."}
    if errors:
        raise Refused(errors)
    order.permit, order.no_permit_reason = permit, no_permit_reason
    order.isolated_at, order.isolated_by = unit.at, unit.by
    order.verified_at = order.verified_by = order.removed_at = order.removed_by = None
    order.save()
    return order


def verify_isolation(*, order: WorkOrder, expected: int | None = None) -> WorkOrder:
    """Tried and verified dead, stored energy released: from now on stopped-work steps can be filled."""
    unit = current()
    access.require(unit.by, "order.isolate", order.site)
    bump(order, expected)
    _still_open(order)
    if order.isolated_at is None:
        raise Refused({"": "Nothing is isolated yet: enter the permit's number, or the reason for none, first."})
    if order.removed_at is not None:
        raise Refused({"": "The isolation was removed: isolate the machine again first."})
    if order.verified_at is None:
        order.verified_at, order.verified_by = unit.at, unit.by
        order.save()
    return order


def remove_isolation(*, order: WorkOrder, expected: int | None = None) -> WorkOrder:
    """Guard on, isolation taken off."""
    unit = current()
    access.require(unit.by, "order.isolate", order.site)
    bump(order, expected)
    _still_open(order)
    if order.isolated_at is None:
        raise Refused({"": "Nothing is isolated on this order, so there is nothing to remove."})
    if order.removed_at is None:
        order.removed_at, order.removed_by = unit.at, unit.by
        order.save()
    return order


def close_order(*, order: WorkOrder, expected: int | None = None) -> WorkOrder:
    """Close an order whose visits are signed or dropped and whose isolation is off."""
    access.require(current().by, "order.write", order.site)
    bump(order, expected)
    _still_open(order)
    errors: dict[str, str] = {}
    tags = list(order.visits.filter(state=Visit.State.DRAFT).values_list("coupling__tag", flat=True))
    if tags:
        errors["state"] = f"Still being written: {', '.join(sorted(set(tags)))}. Sign or drop these visits first."
    elif order.isolated_at is not None and order.removed_at is None:
        errors["state"] = "The isolation still stands: write down its removal first."
    if errors:
        raise Refused(errors)
    order.state = WorkOrder.State.CLOSED
    order.save()
    return order


def _still_open(order: WorkOrder) -> None:
    if order.state != WorkOrder.State.OPEN:
        raise Refused({"state": f"Work order {order.number} is closed: open another for new work."})


def _number_errors(site_id: int, number: str, own: int | None) -> dict[str, str]:
    if not number:
        return {"number": "The order's number is missing."}
    if len(number) > 40:
        return {"number": "At most 40 characters."}
    others = WorkOrder.objects.filter(site_id=site_id, number=number)
    if (others if own is None else others.exclude(pk=own)).exists():
        return {"number": f"This site has a work order {number} already."}
    return {}


def _title_errors(title: str) -> dict[str, str]:
    return {"title": "At most 120 characters."} if len(title) > 120 else {}


def _crew_errors(site_id: int, crew: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    errors: dict[str, str] = {}
    seen: set[str] = set()
    for place, row in enumerate(crew):
        person, name = row.get("person"), _name_of(row)
        if not name:
            errors[f"crew.{place}.name"] = "Name this member of the crew."
        elif len(name) > 80 or len(str(row.get("employer", ""))) > 80:
            errors[f"crew.{place}.name"] = "Name and employer have at most 80 characters each."
        elif name in seen:
            errors[f"crew.{place}.name"] = f"{name} is in this crew already."
        if person is not None and site_id not in person.roles_by_site():
            errors[f"crew.{place}.person"] = f"{person} has no role at this site."
        seen.add(name)
    return errors


def _name_of(row: Mapping[str, Any]) -> str:
    name = str(row.get("name") or "").strip()
    return name or (str(row["person"]) if row.get("person") is not None else "")


def _write_crew(order: WorkOrder, crew: Sequence[Mapping[str, Any]]) -> None:
    CrewMember.objects.bulk_create(
        CrewMember(
            order=order,
            person=row.get("person"),
            name=_name_of(row),
            employer=str(row.get("employer") or getattr(row.get("person"), "employer", "") or "").strip(),
        )
        for row in crew
    )
