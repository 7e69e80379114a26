"""Filling an empty database with the invented plant, in the order in which a plant would have done it."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from uuid import UUID, uuid5

from couplings.models import Coupling, Family, Instrument, SheetVersion
from couplings.services.couplings import register_coupling, set_target
from couplings.services.instruments import change_instrument, register_instrument
from couplings.services.sheets import publish_version, write_sheet
from couplings.services.starters import load_starters
from inspections.demo import places, sheets
from inspections.demo.outings import Crew, morning, working_day
from inspections.demo.people import register_people
from inspections.demo.places import Place, Row, Works
from inspections.demo.stories import OPEN_DRAFT, STORIES
from inspections.models import CheckKind, Flag
from inspections.services.checks import recompute_site
from inspections.services.flags import own_flag
from inspections.services.policies import load_policies, write_policy
from plant.models import Area, Person, Site, Train
from plant.recording import recording
from plant.services.register import record_run_hours, register_area, register_site, register_train
from plant.sitetime import today_at

# What makes a site the demo's, on whatever database.
SPACE = UUID("6f0d2d54-3f0a-5d0e-9b1c-0a51ef7de300")
SETUP_DAYS = 545
METER_EVERY_DAYS = 45
DRAFT_MINUTES = 110
SHEETS = {"Greyfen Works": sheets.GREYFEN, "Saltholm Mill": sheets.SALTHOLM}
WRENCHES = {"Greyfen Works": {"set": places.WRENCH, "read": places.READER}, "Saltholm Mill": {"set": "W-231"}}


def site_uuid(name: str) -> UUID:
    return uuid5(SPACE, name)


def demo_sites() -> list[Site]:
    """The demo's sites that are here."""
    return list(Site.objects.filter(uuid__in=[site_uuid(works.name) for works in places.WORKS]))


def fill(now: datetime, password: str) -> dict[str, Person]:
    """The whole plant, its history reaching back a year and a half from `now`. Call it in one transaction."""
    sites = {works.name: _site(works, now) for works in places.WORKS}
    people = register_people(list(sites.values()), now - timedelta(days=SETUP_DAYS), password)
    for works in places.WORKS:
        site = sites[works.name]
        _register(works, site, people, now)
        _history(works, site, people, now)
    for site in sites.values():
        with recording(by=None, at=now):
            recompute_site(site=site, today=today_at(site, now))
    with recording(by=people["ana"], at=now):
        for flag in Flag.objects.filter(kind=Flag.Kind.OUT, cleared_at__isnull=True):
            own_flag(flag=flag, owner=people["ana"])
    return people


def _site(works: Works, now: datetime) -> Site:
    with recording(by=None, at=now - timedelta(days=SETUP_DAYS)):
        return register_site(
            name=works.name, zone=works.zone, units=works.units, uuid=site_uuid(works.name), **works.settings
        )


def _register(works: Works, site: Site, people: dict[str, Person], now: datetime) -> None:
    """The register as the keeper, limits as the engineer wrote and the manager approved them."""
    day = morning(site, working_day(today_at(site, now - timedelta(days=SETUP_DAYS)) + timedelta(days=3)))
    with recording(by=people["kim"], at=day.at(60)):
        areas = {name: register_area(site=site, name=name) for name in works.areas}
        for row in works.trains:
            _train(row, site, areas)
        for kind, name, serial, columns, days in works.instruments:
            calibrated_on = today_at(site, now) - timedelta(days=days[0]) if days else None
            register_instrument(
                site=site, kind=kind, name=name, serial=serial, **columns | {"calibrated_on": calibrated_on}
            )
    with recording(by=people["ana"], at=day.at(120)):
        load_starters(site=site)
        # The kinds that this plant's visits do; of the others everything would be overdue.
        for one in load_policies(site=site, kinds=(CheckKind.ALIGNMENT, CheckKind.TORQUE)):
            write_policy(site=site, check_kind=one.check_kind, after_other_work=False)
        for designation, content in SHEETS[works.name].items():
            family = Family.objects.get(code=content["family"])
            fields = {name: value for name, value in content.items() if name != "family"}
            write_sheet(site=site, family=family, designation=designation, sheet_note=sheets.INVENTED, **fields)
        for place in _places(works):
            _target(place, site)
    with recording(by=people["ole"], at=day.at(240)):
        for version in SheetVersion.objects.filter(sheet__site=site):
            publish_version(version=version)


def _train(row: Row, site: Site, areas: dict[str, Area]) -> None:
    train = register_train(
        site=site, area=areas[row.area], tag=row.tag, name=row.name, criticality=row.criticality,
        cautions=row.cautions, machines=row.machines,
    )  # fmt: skip
    machines = list(train.machines.order_by("position"))
    for place, driver, driven in zip(row.couplings, machines, machines[1:], strict=False):
        register_coupling(
            train=train, driver_machine=driver, driven_machine=driven, tag=place.tag, rpm=place.rpm,
            power_kw=place.power_kw,
        )  # fmt: skip


def _target(place: Place, site: Site) -> None:
    if any(place.target):
        offset_v, offset_h, slope_v, slope_h = place.target
        set_target(
            coupling=Coupling.objects.get(site=site, tag=place.tag), kind="thermal", note=place.target_note,
            offset_v_mm=offset_v, offset_h_mm=offset_h, slope_v_mrad=slope_v, slope_h_mrad=slope_h,
        )  # fmt: skip


def _history(works: Works, site: Site, people: dict[str, Person], now: datetime) -> None:
    """Outings, calibrations and meter readings, in the order of their days."""
    today = today_at(site, now)
    tags = {place.tag: place for place in _places(works)}
    versions = SheetVersion.objects.filter(sheet__site=site).select_related("sheet")
    crew = Crew(site, people, tags, {one.sheet.designation: one for one in versions}, WRENCHES[works.name])
    acts = [
        (working_day(today - timedelta(days=one.days_ago)), 1, lambda on, one=one: crew.carry_out(one, on))
        for one in STORIES[works.name]
    ]
    acts += [
        (today - timedelta(days=days[1]), 0, lambda on, serial=serial: _calibrate(site, people["kim"], serial, on))
        for _kind, _name, serial, _columns, days in works.instruments
        if len(days) > 1
    ]
    acts += [
        (today - timedelta(days=days), 2, lambda on, row=row: _meter(row, site, people["jon"], on, today))
        for row in works.trains
        if row.hours_a_day is not None
        for days in (*range(SETUP_DAYS - 10, 20, -METER_EVERY_DAYS), 10, 6, 2)
    ]
    for on, _order, act in sorted(acts, key=lambda act: act[:2]):
        act(on)
    if works is places.GREYFEN:
        crew.leave_open(OPEN_DRAFT, now - timedelta(minutes=DRAFT_MINUTES))


def _calibrate(site: Site, keeper: Person, serial: str, on: date) -> None:
    with recording(by=keeper, at=morning(site, on).at(30)):
        change_instrument(instrument=Instrument.objects.get(site=site, serial=serial), calibrated_on=on)


def _meter(row: Row, site: Site, reader: Person, on: date, today: date) -> None:
    assert row.hours_a_day is not None
    at = morning(site, on).at(45)
    hours = row.hours_a_day * (SETUP_DAYS - (today - on).days)
    with recording(by=reader, at=at):
        record_run_hours(train=Train.objects.get(site=site, tag=row.tag), at=at, hours=round(hours, 1))


def _places(works: Works) -> list[Place]:
    return [place for row in works.trains for place in row.couplings]
