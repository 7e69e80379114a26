"""Planned stops: entering, moving and taking them out."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from plant import access
from plant.models import Area, Site, Stop, Train
from plant.recording import bump, changed, current, removed
from plant.refusals import Refused
from plant.services.references import drop_references, set_references
from plant.services.rows import errors_of, refuse_known_uuid, set_fields

FIELDS = ("name", "area", "train", "begins_on", "ends_on", "note")
ACTION = "stop.write"
LONGEST = timedelta(days=366)


def plan_stop(
    *,
    site: Site,
    name: str,
    begins_on: date,
    ends_on: date,
    area: Area | None = None,
    train: Train | None = None,
    note: str = "",
    external_ref: Mapping[str, str | None] | None = None,
    uuid: UUID | None = None,
) -> Stop:
    """Enter days on which a train, an area or (with neither) the whole site stands still; the last day counts.

    Days that are over may be entered too, so that what was done in them can be told.
    """
    access.require(current().by, ACTION, site)
    refuse_known_uuid(Stop, uuid)
    stop = Stop(site=site, name=name, area=area, train=train, begins_on=begins_on, ends_on=ends_on, note=note)
    if uuid is not None:
        stop.uuid = uuid
    _check(stop)
    stop.save()
    set_references(root=stop, refs=external_ref)
    changed(stop)
    return stop


def change_stop(
    *,
    stop: Stop,
    expected: int | None = None,
    external_ref: Mapping[str, str | None] | None = None,
    **fields: Any,
) -> Stop:
    """Give a stop other days, another name or another place; its history keeps what it was."""
    access.require(current().by, ACTION, stop.site_id)
    bump(stop, expected)
    set_fields(stop, fields, FIELDS)
    _check(stop)
    stop.save()
    set_references(root=stop, refs=external_ref)
    return stop


def remove_stop(*, stop: Stop, expected: int | None = None) -> None:
    """Take out a stop that will not be; what was planned for its days stays planned."""
    access.require(current().by, ACTION, stop.site_id)
    if expected is not None:
        bump(stop, expected)
    removed(stop)
    drop_references(root=stop)
    stop.delete()


def _check(stop: Stop) -> None:
    stop.name, stop.note = stop.name.strip(), stop.note.strip()
    errors = errors_of(stop)
    if stop.area is not None and stop.train is not None:
        errors["train"] = "Name an area or a train, not both; with neither it is the whole site."
    elif stop.area is not None and stop.area.site_id != stop.site_id:
        errors["area"] = "This area is at another site."
    elif stop.train is not None and stop.train.site_id != stop.site_id:
        errors["train"] = "This train is at another site."
    for name in ("begins_on", "ends_on"):
        if name not in errors and not date(2000, 1, 1) <= getattr(stop, name) <= date(2100, 12, 31):
            errors[name] = "Give a day between the years 2000 and 2100."
    if not {"begins_on", "ends_on"} & set(errors):
        if stop.ends_on < stop.begins_on:
            errors["ends_on"] = "It ends before it begins: give the last day of the stop."
        elif stop.ends_on - stop.begins_on > LONGEST:
            errors["ends_on"] = "A stop lasts a year at most; a train that stands longer is out of service."
    if errors:
        raise Refused(errors)
