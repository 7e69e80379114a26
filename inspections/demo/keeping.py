"""What is kept of the invented plant beside its visits: units, meters, spells of service, stores, limits."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime, timedelta
from functools import partial
from typing import Any
from uuid import UUID, uuid5

from couplings.models import (
    Coupling,
    DataSheet,
    Fit,
    Instrument,
    LimitChange,
    SheetVersion,
    StockLot,
    WearCode,
)
from couplings.services.adoption import adopt_version
from couplings.services.fits import install_fit
from couplings.services.instruments import calibrate_instrument
from couplings.services.limit_changes import approve_limit_change
from couplings.services.sheets import begin_version, change_version, publish_version
from couplings.services.stock import move_stock, receive_stock
from inspections.demo.outings import as_marked, morning
from inspections.demo.places import Row, Works
from inspections.models import Check, CheckKind, Flag, JumpCause
from inspections.services.deferral import defer_check
from inspections.services.flags import clear_flag
from plant.models import Machine, MachineUnit, Person, Site, Train
from plant.recording import recording
from plant.services.meters import record_run_hours
from plant.services.service import set_service
from plant.services.units import install_unit, register_unit, swap_unit, take_out_unit

People = Mapping[str, Person]
METER_EVERY_DAYS = 120
# Out of service or uncoupled: train, state, from and until how many days ago (None: still), why.
SPELLS = (
    ("CW-13", "out", 300, 270, "Intake drained for its cleaning."),
    ("RF-33", "out", 40, None, "Motor away for rewinding."),
    ("HY-91", "uncoupled", 6, None, "Solo run of the motor after its bearings were changed."),
)
PUT_OFF, PUT_OFF_DAYS = "RF-32", 14
STRAINED = "CL-15"
# Train, how many days ago a new hour meter was put in; it began at 0.
NEW_METERS = {"CM-81": 415}
# Part, batch, polymer, cured and received how many days ago, how many, where.
STORES = {
    "Greyfen Works": (
        ("insert J-95-A", "2406", "AU", 420, 400, 6, "shelf 3"),
        ("insert J-95-A", "2309", "AU", 780, 700, 2, "shelf 3"),
        ("tyre T-250-N", "1902", "NR", 2300, 1100, 1, "shelf 4, to be sorted out"),  # over its shelf life
        ("tyre T-250-N", "2411", "NR", 260, 240, 2, "shelf 4"),
        ("sleeve SL-8-E", "2408", "", 330, 300, 4, "shelf 2"),
        ("bush set PB-6-B", "2402", "NBR", 520, 500, 3, "shelf 5"),
        ("disc pack DS-180-P", "D-88", "", 0, 640, 2, "cabinet 1"),
    ),
    "Saltholm Mill": (
        ("insert JX-4-N", "K7", "NBR", 350, 310, 5, "bin 12"),
        ("sleeve SS-5-E", "K2", "", 620, 600, 2, "bin 14"),
    ),
}
LABORATORY = "Tarnholt Calibration"


def lot_uuid(space: UUID, site: Site, part: str, batch: str) -> UUID:
    return uuid5(space, f"{site.name} {part} {batch}")


def enter_units(works: Works, site: Site) -> None:
    """Nameplates of the machines of every train that matters, each in its place since before the record began."""
    number = 1000
    machines = Machine.objects.filter(train__site=site).exclude(train__criticality="C").select_related("train__site")
    for machine in machines.order_by("train__tag", "position"):
        number += 7
        unit = register_unit(
            site=site,
            kind=machine.name,
            serial=f"{machine.name[0].upper()}{number}",
            external_ref={"ledger": f"U-{number}"},
        )
        install_unit(unit=unit, machine=machine, at=None)
    if works.units == "metric":
        register_unit(site=site, kind="motor", serial="M2044", note="Spare, came back from the workshop.")


def enter_papers(works: Works, site: Site, today: date, sheets: Mapping[str, SheetVersion]) -> None:
    """Couplings of which only the papers tell: what is fitted, since when."""
    for place in places_of(works):
        if place.papers_days is None:
            continue
        on = today - timedelta(days=place.papers_days)
        install_fit(
            coupling=Coupling.objects.get(site=site, tag=place.tag), sheet_version=sheets[place.sheet], fitted_on=on,
            **as_marked(place, on),
        )  # fmt: skip


def places_of(works: Works) -> list[Any]:
    return [place for row in works.trains for place in row.couplings]


def hours_at(row: Row, days: int, setup_days: int) -> float:
    """What the train has run in all by so many days ago: its hours a day, less the days it was out."""
    assert row.hours_a_day is not None
    ran = setup_days - days
    for tag, _state, began, ended, _why in SPELLS:
        if tag == row.tag:
            ran -= max(0, began - max(days, ended or 0))
    return row.hours_a_day * ran


def read_meter(row: Row, site: Site, reader: Person, at: datetime, days: int, setup_days: int) -> None:
    """One reading, by the meter that is there then; on the day of a new one the old is read as well."""
    total, new = hours_at(row, days, setup_days), NEW_METERS.get(row.tag)
    train = Train.objects.get(site=site, tag=row.tag)
    began = hours_at(row, new, setup_days) if new is not None else 0.0
    shown = total if new is None or days >= new else total - began
    with recording(by=reader, at=at):
        if days == new:
            record_run_hours(train=train, at=at - timedelta(minutes=30), hours=round(shown, 1))
            shown = 0.0
        record_run_hours(train=train, at=at, hours=round(shown, 1), replaced=days == new)


def meter_acts(
    works: Works, site: Site, reader: Person, today: date, setup_days: int
) -> Iterator[tuple[datetime, Callable[[], None]]]:
    """When each hour meter is read, and the reading."""
    for row in works.trains:
        for days in meter_days(row, setup_days) if row.hours_a_day is not None else ():
            at = morning(site, today - timedelta(days=days)).at(45)
            yield at, partial(read_meter, row, site, reader, at, days, setup_days)


def meter_days(row: Row, setup_days: int) -> list[int]:
    regular = set(range(setup_days - 10, 20, -METER_EVERY_DAYS)) | {10, 2}
    return sorted(regular | ({NEW_METERS[row.tag]} if row.tag in NEW_METERS else set()), reverse=True)


def calibrate(site: Site, keeper: Person, serial: str, on: date) -> None:
    """A certificate of the invented laboratory; it holds for as long as the instrument's interval."""
    instrument = Instrument.objects.get(site=site, serial=serial)
    with recording(by=keeper, at=morning(site, on).at(30)):
        calibrate_instrument(
            instrument=instrument, on=on, laboratory=LABORATORY, certificate=f"TC-{serial}-{on:%y%m}", result="within",
            due_on=on + timedelta(days=instrument.calibration_days or 365),
        )  # fmt: skip


def acts(works: Works, site: Site, people: People, space: UUID) -> Iterator[tuple[int, Callable[[datetime], None]]]:
    """(days ago, what is done at that morning) of all that is not a visit, a calibration or a meter reading."""
    tags = {row.tag for row in works.trains}
    planner = people["samir"]
    for tag, state, began, ended, why in SPELLS:
        if tag in tags:
            yield began, partial(_serve, site, planner, tag, state, why)
            if ended is not None:
                yield ended, partial(_serve, site, planner, tag, "in", "")
    for row in STORES[works.name]:
        yield row[4], partial(_receive, site, people["kim"], space, row)
    bush, ana = "Pin and bush PB-6", people["ana"]
    for tag, days, act in (
        ("MC-34", 640, partial(_swap, site, people["jon"])),
        ("DR-35", 380, partial(_propose, site, ana, bush, "LC-014", 0.2, "Bushes wore on the fans: a smaller offset.")),
        ("DR-35", 375, partial(_approve, site, people["ole"], "LC-014")),
        ("DR-35", 360, partial(_adopt, site, people["ole"], bush)),
        ("DR-35", 150, partial(_counted, site, planner)),
        ("RF-33", 40, partial(_take_out, site, people["jon"])),
        ("VP-61", 5, partial(_draft, site, ana, "Shear sleeve SL-8")),
        ("CW-11", 3, partial(_propose, site, ana, "Tyre T-250", "LC-019", 1.2, "Two tyres cracked early near it.")),
    ):
        if tag in tags:
            yield days, act


def put_off(site: Site, planner: Person, now: datetime) -> None:
    """One yearly alignment waits for the stop of its train, with the reason."""
    check = Check.objects.filter(
        site=site, coupling__tag=PUT_OFF, kind=CheckKind.ALIGNMENT, settled_on__isnull=True
    ).first()
    if check is not None:
        with recording(by=planner, at=now):
            until = check.due_on + timedelta(days=PUT_OFF_DAYS)
            defer_check(check=check, until=until, reason="Waits for the stop of the refiner line.")


def explain(site: Site, by: Person, at: datetime) -> None:
    """What had moved the train whose suction line was made up: the engineer found out."""
    flags = Flag.objects.filter(site=site, coupling__tag=STRAINED, kind=Flag.Kind.JUMP, cleared_at__isnull=True)
    for flag in flags.select_related("coupling"):
        with recording(by=by, at=at):
            cause = f"{JumpCause.PIPE.value}: the suction line had been pulled to its flange; made up anew."
            clear_flag(flag=flag, cause=cause)


def wear_limits(content: Mapping[str, Any]) -> dict[str, Any]:
    """A sheet's columns and lists with its wear limits by their rows."""
    found = dict(content)
    if rows := found.get("wear_limits"):
        found["wear_limits"] = [row | {"code": WearCode.objects.get(code=row["code"])} for row in rows]
    return found


def _serve(site: Site, by: Person, tag: str, state: str, why: str, at: datetime) -> None:
    with recording(by=by, at=at):
        set_service(train=Train.objects.get(site=site, tag=tag), state=state, at=at, reason=why)


def _receive(site: Site, by: Person, space: UUID, row: tuple[Any, ...], at: datetime) -> None:
    part, batch, polymer, cured_days, received_days, number, place = row
    with recording(by=by, at=at):
        receive_stock(
            site=site, part_number=part, batch=batch, number=number, on=at.date(), polymer=polymer, place=place,
            cured_on=at.date() - timedelta(days=cured_days - received_days) if cured_days else None,
            uuid=lot_uuid(space, site, part, batch),
        )  # fmt: skip


def _counted(site: Site, by: Person, at: datetime) -> None:
    lot = StockLot.objects.get(site=site, part_number="bush set PB-6-B")
    with recording(by=by, at=at):
        move_stock(
            lot=lot, kind="correction", number=lot.count - 1, on=at.date(), note="Counted: one less than written."
        )


def _swap(site: Site, by: Person, at: datetime) -> None:
    machine = Machine.objects.select_related("train__site").get(train__site=site, train__tag="MC-34", position=1)
    with recording(by=by, at=at):
        swap_unit(
            machine=machine, unit=MachineUnit.objects.get(site=site, serial="M2044"), at=at,
            reason="Drive-end bearing noisy.", went_to="workshop", left_with_hub=False, came_with_hub=False,
        )  # fmt: skip


def _take_out(site: Site, by: Person, at: datetime) -> None:
    stay = MachineUnit.objects.get(site=site, stays__machine__train__tag="RF-33", stays__machine__position=1)
    with recording(by=by, at=at):
        take_out_unit(unit=stay, at=at, reason="Rewinding.", went_to="workshop", left_with_hub=True)


def _propose(site: Site, by: Person, designation: str, number: str, offset_mm: float, why: str, at: datetime) -> None:
    sheet = DataSheet.objects.get(site=site, designation=designation)
    with recording(by=by, at=at):
        version = begin_version(sheet=sheet)
        limits = [
            {name: getattr(row, name) for name in ("quantity", "stated_as", "stated_value", "over_diameter_mm")}
            | ({"stated_value": offset_mm} if row.quantity == "offset" else {})
            for row in version.limits.all()
        ]
        change_version(version=version, limits=limits)
        publish_version(
            version=version, reason=why, change_number=number, from_on=(at + timedelta(days=14)).date()
        )  # fmt: skip


def _approve(site: Site, by: Person, number: str, at: datetime) -> None:
    with recording(by=by, at=at):
        approve_limit_change(change=LimitChange.objects.get(site=site, change_number=number))


def _adopt(site: Site, by: Person, designation: str, at: datetime) -> None:
    """Everything in place goes by the new limits from that morning on."""
    version = SheetVersion.objects.filter(sheet__site=site, sheet__designation=designation).latest("number")
    fits = Fit.objects.filter(sheet_version__sheet=version.sheet, removed_on__isnull=True)
    with recording(by=by, at=at):
        adopt_version(version=version, fits=list(fits))


def _draft(site: Site, by: Person, designation: str, at: datetime) -> None:
    sheet = DataSheet.objects.get(site=site, designation=designation)
    with recording(by=by, at=at):
        change_version(version=begin_version(sheet=sheet), max_rpm=3000.0, note="Speed lowered by the maker's letter.")
