"""Keeping the register: sites, areas and trains. Machines are in machines.py, hour meters in meters.py."""

import uuid as uuids
from collections.abc import Mapping, Sequence
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from plant import access
from plant.currencies import CURRENCIES
from plant.models import Area, Site, SiteNumber, Train
from plant.recording import bump, changed, current, removed
from plant.refusals import NotAllowed, Refused
from plant.services.machines import set_machines
from plant.services.meters import record_run_hours, strike_run_hours
from plant.services.references import drop_references, set_references
from plant.services.rows import errors_of, refuse_known_uuid, set_fields, taken
from plant.services.service import open_first_spell, set_service

__all__ = [
    "change_area", "change_site", "change_train", "record_run_hours", "register_area", "register_site",
    "register_train", "remove_area", "strike_run_hours",
]  # fmt: skip

SITE_FIELDS = (
    "name", "zone", "units", "currency", "labour_rate", "element_cost", "failure_cost", "down_cost", "crew_hours_week",
    "dates_owner", "confidence", "closure_limit_mm", "reading_u_mm", "engagement_share", "shim_stock_mm", "shims_most",
    "soft_foot_limit_mm", "pipe_strain_limit_mm", "shaft_run_out_table", "hub_run_out_table", "reference_degc",
    "support_material",
)  # fmt: skip
# How measurements are judged: the engineer's.
JUDGING_FIELDS = frozenset(SITE_FIELDS[SITE_FIELDS.index("confidence") :])
TRAIN_FIELDS = ("area", "tag", "name", "criticality", "service", "cautions")


def register_site(
    *, name: str, zone: str = "UTC", units: str = "metric", uuid: uuids.UUID | None = None, **settings: Any
) -> Site:
    """A new site with its running number. Nobody has a role there yet, so it takes a superuser or the program."""
    by = current().by
    if by is not None and not (by.is_superuser and by.is_active and by.token is None):
        raise NotAllowed("A new site is made by the administrator of the whole installation.")
    refuse_known_uuid(Site, uuid)
    site = Site(name=name, zone=zone, units=units, **({"uuid": uuid} if uuid else {}))
    set_fields(site, settings, SITE_FIELDS)
    _check_site(site)
    site.save()
    SiteNumber.objects.create(site=site)
    changed(site)
    return site


def change_site(*, site: Site, expected: int | None = None, **fields: Any) -> Site:
    """The name, zone and units are the keeper's; how measurements are judged is the engineer's."""
    by = current().by
    if not fields or set(fields) - JUDGING_FIELDS:
        access.require(by, "register.write", site)
    if set(fields) & JUDGING_FIELDS:
        access.require(by, "policy.write", site)
    bump(site, expected)
    set_fields(site, fields, SITE_FIELDS)
    _check_site(site)
    site.save()
    return site


def register_area(
    *,
    site: Site,
    name: str,
    parent: Area | None = None,
    external_ref: Mapping[str, str | None] | None = None,
    uuid: uuids.UUID | None = None,
) -> Area:
    access.require(current().by, "register.write", site)
    refuse_known_uuid(Area, uuid)
    area = Area(site=site, name=name.strip(), parent=parent, **({"uuid": uuid} if uuid else {}))
    _check_area(area)
    area.save()
    set_references(root=area, refs=external_ref)
    changed(area)
    return area


def change_area(
    *,
    area: Area,
    expected: int | None = None,
    external_ref: Mapping[str, str | None] | None = None,
    **fields: Any,
) -> Area:
    access.require(current().by, "register.write", area.site_id)
    bump(area, expected)
    set_fields(area, fields, ("name", "parent"))
    _check_area(area)
    area.save()
    set_references(root=area, refs=external_ref)
    return area


def remove_area(*, area: Area, expected: int | None = None) -> None:
    """An area that holds nothing any more."""
    access.require(current().by, "register.write", area.site_id)
    if expected is not None:
        bump(area, expected)
    if area.trains.exists() or area.parts.exists():
        raise Refused("This area holds trains or other areas. Move them first.", code="in-use")
    if area.stops.exists():
        raise Refused("A planned stop names this area. Change or remove the stop first.", code="in-use")
    removed(area)
    drop_references(root=area)
    area.delete()


def register_train(
    *,
    site: Site,
    area: Area,
    tag: str,
    name: str = "",
    criticality: str = "B",
    cautions: str = "",
    machines: Sequence[Mapping[str, Any]] = (),
    service: str = "in",
    external_ref: Mapping[str, str | None] | None = None,
    uuid: uuids.UUID | None = None,
) -> Train:
    access.require(current().by, "register.write", site)
    refuse_known_uuid(Train, uuid)
    train = Train(
        site=site,
        area=area,
        tag=tag.strip(),
        name=name,
        criticality=criticality,
        cautions=cautions,
        service=service,
        **({"uuid": uuid} if uuid else {}),
    )
    _check_train(train)
    train.save()
    open_first_spell(train)
    set_machines(train, machines)
    set_references(root=train, refs=external_ref)
    changed(train)
    return train


def change_train(
    *,
    train: Train,
    expected: int | None = None,
    machines: Sequence[Mapping[str, Any]] | None = None,
    external_ref: Mapping[str, str | None] | None = None,
    **fields: Any,
) -> Train:
    """Change what is given. A list of machines replaces the whole list; `set_machines` says how each is known.

    A state of service given here holds from now on; `set_service` takes the time and the reason with it.
    """
    access.require(current().by, "register.write", train.site_id)
    bump(train, expected)
    standing = train.service
    set_fields(train, fields, TRAIN_FIELDS)
    train.tag = train.tag.strip()
    _check_train(train)
    asked, train.service = train.service, standing
    train.save()
    if asked != standing:
        set_service(train=train, state=asked)
    if machines is not None:
        set_machines(train, machines)
    set_references(root=train, refs=external_ref)
    return train


def _check_site(site: Site) -> None:
    site.name, site.currency = site.name.strip(), site.currency.strip().upper()
    errors = errors_of(site)
    if "currency" not in errors and site.currency not in CURRENCIES:
        errors["currency"] = f"“{site.currency}” is no currency of ISO 4217; write one such as EUR, NOK or USD."
    if "zone" not in errors:
        # The list first: ZoneInfo would look for a file of any name.
        if site.zone not in available_timezones():
            errors["zone"] = f"“{site.zone}” is no time zone; write one such as Europe/Oslo."
        else:
            ZoneInfo(site.zone)
    if taken(site, "name"):
        errors["name"] = "A site of this name exists already."
    if errors:
        raise Refused(errors)


def _check_area(area: Area) -> None:
    errors = errors_of(area)
    if area.parent is not None:
        if area.parent.site_id != area.site_id:
            errors["parent"] = "This area is at another site."
        elif _within_itself(area):
            errors["parent"] = "An area cannot be a part of itself."
    if "name" not in errors and taken(area, "site", "name"):
        errors["name"] = f"There is an area “{area.name}” at this site already."
    if errors:
        raise Refused(errors)


def _within_itself(area: Area) -> bool:
    above, seen = area.parent, set()
    while above is not None and above.pk not in seen:
        if above.pk == area.pk:
            return True
        seen.add(above.pk)
        above = above.parent
    return False


def _check_train(train: Train) -> None:
    errors = errors_of(train)
    if not Area._base_manager.filter(pk=train.area_id, site_id=train.site_id).exists():
        errors["area"] = "This area is at another site."
    if "tag" not in errors and taken(train, "site", "tag"):
        errors["tag"] = f"There is a train “{train.tag}” at this site already."
    if errors:
        raise Refused(errors)
