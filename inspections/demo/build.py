"""Filling an empty database with the invented plant, in the order in which a plant would have done it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from functools import partial
from typing import Any
from uuid import UUID, uuid5

from couplings.models import Coupling, Family, SheetVersion
from couplings.services.couplings import register_coupling, set_target
from couplings.services.instruments import register_instrument
from couplings.services.sheets import publish_version, write_sheet
from couplings.services.starters import load_starters
from inspections.demo import greyfen, keeping, other_visits, planning, saltholm, sheets
from inspections.demo import people as who
from inspections.demo.histories import LIVES
from inspections.demo.lives import outings_of
from inspections.demo.outings import LEDGER, Crew, morning, working_day
from inspections.demo.places import Place, Row, Works
from inspections.demo.stories import OPEN_DRAFT, STORIES
from inspections.demo.works import WORKS
from inspections.models import CheckKind, Flag
from inspections.services.checks import recompute_site, redraw_site
from inspections.services.flags import own_flag
from inspections.services.group_fits import fit_groups
from inspections.services.lives import fit_lives
from inspections.services.policies import load_policies, write_policy
from plant.models import Area, Person, Site
from plant.recording import recording
from plant.services.register import register_area, register_site, register_train
from plant.sitetime import today_at

# What makes a site the demo's, on whatever database.
SPACE = UUID("6f0d2d54-3f0a-5d0e-9b1c-0a51ef7de300")
SETUP_DAYS = 1130
DRAFT_MINUTES = 110
FITTED_DAYS, EXPLAINED_DAYS = 200, 135
ACCEPTED = {"risk": 0.1, "longest_months": 15}
# What the sites have decided of late: elements come out at an age, and where machines run hardest hours count too.
POLICIES: dict[str, tuple[dict[str, Any], ...]] = {
    "Greyfen Works": (
        {"check_kind": CheckKind.ELEMENT, "every_months": 36, "needs_stop": True, "crew_hours": 2, "crew_size": 2},
    ),
    "Saltholm Mill": (
        {
            "check_kind": CheckKind.ALIGNMENT, "criticality": "A", "every_months": 12, "every_hours": 6000,
            "first_days": 30, "first_hours": 500, "after_other_work": False, "by_drift": True, "needs_stop": True,
            "crew_hours": 3, "crew_size": 2,
        } | ACCEPTED,
    ),
}  # fmt: skip
SHEETS = {"Greyfen Works": sheets.GREYFEN, "Saltholm Mill": sheets.SALTHOLM}
TOOLS = {
    "Greyfen Works": greyfen.WRENCHES | {"dial": "D-101", "gauge": "M-71"},
    "Saltholm Mill": saltholm.WRENCHES | {"dial": "D-201"},
}
Say = Callable[[str], None]


def site_uuid(name: str) -> UUID:
    return uuid5(SPACE, name)


def demo_sites() -> list[Site]:
    """The demo's sites that are here."""
    return list(Site.objects.filter(uuid__in=[site_uuid(works.name) for works in WORKS]))


def fill(
    now: datetime, password: str, say: Say = lambda line: None, plant: tuple[Works, ...] = WORKS
) -> dict[str, Person]:
    """The whole plant, its history reaching back three years from `now`. Call it in one transaction.

    `say` is told how far it has come, in one line now and then. `plant` may be less of it: fewer trains at both sites.
    """
    sites = {works.name: _site(works, now) for works in plant}
    people = who.register_people(list(sites.values()), now - timedelta(days=SETUP_DAYS), now, password)
    for works in plant:
        site = sites[works.name]
        say(f"{site}: {len(works.trains)} trains")
        _register(works, site, people, now)
        _history(works, site, people, now, say)
    who.invite_somebody(sites[plant[0].name], people["kim"], now - timedelta(days=1))
    say("How groups of couplings drift")
    foresee(list(sites.values()), now)
    for works in plant:
        site = sites[works.name]
        with recording(by=people["ana"], at=now - timedelta(hours=1)):
            for policy in POLICIES.get(works.name, ()):
                write_policy(site=site, source="the site's own", **policy)
        with recording(by=None, at=now):
            fit_lives(site=site, today=today_at(site, now))
            recompute_site(site=site, today=today_at(site, now))
        keeping.put_off(site, people["samir"], now)
        planning.lay_out(site, people, now)
    planning.ask_for_mails(sites[plant[0].name], people, now)
    with recording(by=people["ana"], at=now):
        for flag in Flag.objects.filter(kind=Flag.Kind.OUT, cleared_at__isnull=True):
            own_flag(flag=flag, owner=people["ana"])
    return people


def foresee(sites: list[Site], at: datetime) -> None:
    """Fit the groups as they are at that moment, and forecast every coupling by them; as the weekly run does."""
    with recording(by=None, at=at):
        fit_groups(on=at.date())
        for site in sites:
            redraw_site(site=site, today=today_at(site, at))


def _site(works: Works, now: datetime) -> Site:
    with recording(by=None, at=now - timedelta(days=SETUP_DAYS)):
        return register_site(
            name=works.name, zone=works.zone, units=works.units, uuid=site_uuid(works.name), **works.settings
        )


def _register(works: Works, site: Site, people: dict[str, Person], now: datetime) -> None:
    """The register as the keeper, limits as the engineer wrote and the manager approved them."""
    day = morning(site, working_day(today_at(site, now - timedelta(days=SETUP_DAYS)) + timedelta(days=3)))
    with recording(by=people["kim"], at=day.at(60)):
        areas: dict[str, Area] = {}
        for name, parent in works.areas.items():
            areas[name] = register_area(site=site, name=name, parent=areas.get(parent))
        for number, row in enumerate(works.trains, start=1):
            _train(row, site, areas, f"EQ-{number:03d}")
        for kind, name, serial, columns, _days in works.instruments:
            register_instrument(site=site, kind=kind, name=name, serial=serial, **columns)
        keeping.enter_units(works, site)
    with recording(by=people["ana"], at=day.at(120)):
        load_starters(site=site)
        # The kinds that this plant's visits do; of the others everything would be overdue.
        for one in load_policies(site=site, kinds=(CheckKind.ALIGNMENT, CheckKind.TORQUE)):
            # This plant accepts one chance in ten: its yearly rounds were never laid out for less.
            drift: dict[str, Any] = ACCEPTED if one.check_kind == CheckKind.ALIGNMENT else {}
            write_policy(site=site, check_kind=one.check_kind, after_other_work=False, **drift)
        for designation, content in SHEETS[works.name].items():
            family = Family.objects.get(code=content["family"])
            fields = {name: value for name, value in keeping.wear_limits(content).items() if name != "family"}
            write_sheet(site=site, family=family, designation=designation, sheet_note=sheets.INVENTED, **fields)
        for place in keeping.places_of(works):
            _target(place, site)
    with recording(by=people["ole"], at=day.at(240)):
        for version in SheetVersion.objects.filter(sheet__site=site):
            publish_version(version=version)


def _train(row: Row, site: Site, areas: dict[str, Area], key: str) -> None:
    train = register_train(
        site=site, area=areas[row.area], tag=row.tag, name=row.name, criticality=row.criticality,
        cautions=row.cautions, machines=_turning(row), external_ref={LEDGER: key},
    )  # fmt: skip
    machines = list(train.machines.order_by("position"))
    for number, (place, driver, driven) in enumerate(zip(row.couplings, machines, machines[1:], strict=False)):
        register_coupling(
            train=train, driver_machine=driver, driven_machine=driven, tag=place.tag, rpm=place.rpm,
            lowest_rpm=place.lowest_rpm, power_kw=place.power_kw, external_ref={LEDGER: f"{key}-C{number + 1}"},
        )  # fmt: skip


def _turning(row: Row) -> list[dict[str, Any]]:
    """The machines with the speeds and powers of the couplings on both sides of them."""
    found = []
    for number, machine in enumerate(row.machines):
        before, after = row.couplings[max(0, number - 1)], row.couplings[min(number, len(row.couplings) - 1)]
        speeds = {"rpm": before.rpm, "lowest_rpm": before.lowest_rpm, "power_kw": before.power_kw}
        if machine["role"] == "gear":
            speeds |= {
                "driven_rpm": after.rpm,
                "driven_lowest_rpm": after.lowest_rpm,
                "driven_power_kw": after.power_kw,
            }
        elif after.power_kw != before.power_kw:
            speeds["driven_power_kw"] = after.power_kw
        found.append(machine | speeds)
    return found


def _target(place: Place, site: Site) -> None:
    if any(place.target):
        offset_v, offset_h, slope_v, slope_h = place.target
        set_target(
            coupling=Coupling.objects.get(site=site, tag=place.tag), kind="thermal", note=place.target_note,
            offset_v_mm=offset_v, offset_h_mm=offset_h, slope_v_mrad=slope_v, slope_h_mrad=slope_h,
        )  # fmt: skip


def _history(works: Works, site: Site, people: dict[str, Person], now: datetime, say: Say) -> None:
    """Everything that happened, in the order of its days."""
    today = today_at(site, now)
    places = {place.tag: place for place in keeping.places_of(works)}
    versions = SheetVersion.objects.filter(sheet__site=site, number=1).select_related("sheet")
    by_name = {one.sheet.designation: one for one in versions}
    crew = Crew(site, people, places, by_name, TOOLS[works.name])
    tags = {row.tag for row in works.trains}
    # (day, order within it, act)
    acts: list[tuple[date, int, Callable[[], None]]] = []
    outings = [one for one in STORIES[works.name] if one.train in tags]
    for life in LIVES[works.name]:
        outings += outings_of(life, places, SHEETS[works.name]) if life.train in tags else ()
    for outing in outings:
        on = working_day(today - timedelta(days=outing.days_ago))
        acts.append((on, 2, partial(crew.carry_out, outing, on)))
    for _kind, _name, serial, _columns, days in works.instruments:
        for one in days:
            on = today - timedelta(days=one)
            acts.append((on, 0, partial(keeping.calibrate, site, people["kim"], serial, on)))
    for at, act in keeping.meter_acts(works, site, people["jon"], today, SETUP_DAYS):
        acts.append((at.date(), 1, act))
    for one, act_at in keeping.acts(works, site, people, SPACE):
        at = morning(site, today - timedelta(days=one)).at(15)
        acts.append((at.date(), 1, partial(act_at, at)))
    acts += other_visits.acts(crew, people, today)
    acts.append((today - timedelta(days=who.LEFT_DAYS), 3, partial(who.see_off, site, people, now)))
    # Before the pipe work that moved a train, so that what it did stands out as soon as it is measured.
    fitted_on, explained_on = today - timedelta(days=FITTED_DAYS), today - timedelta(days=EXPLAINED_DAYS)
    acts.append((fitted_on, 4, partial(foresee, [site], morning(site, fitted_on).at(60))))
    acts.append((explained_on, 4, partial(keeping.explain, site, people["ana"], morning(site, explained_on).at(60))))
    year = 0
    for on, _order, act in sorted(acts, key=lambda act: act[:2]):
        if on.year != year:
            year = on.year
            say(f"{site}: {year}")
        act()
    with recording(by=people["kim"], at=now - timedelta(days=2)):
        keeping.enter_papers(works, site, today, by_name)
    if OPEN_DRAFT.train in tags:
        crew.leave_open(OPEN_DRAFT, now - timedelta(minutes=DRAFT_MINUTES))
