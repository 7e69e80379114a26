"""Work orders of the invented plant carried out: opened, isolated, measured, signed, closed, each at its instant."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any

from couplings.models import Coupling, Fit, SheetHoldPoint, SheetVersion
from couplings.selectors import fit_at, flex_planes_of, target_of
from couplings.services.fits import install_fit
from inspections import rules
from inspections.demo import entries
from inspections.demo.places import Place
from inspections.demo.readings import Four, Hand, typed
from inspections.demo.stories import Outing, Work
from inspections.models import Visit, WorkOrder
from inspections.services.drafts import begin_visit, save_entry
from inspections.services.orders import close_order, isolate, open_order, remove_isolation, verify_isolation
from inspections.services.signing import sign_visit
from inspections.services.witnessing import witness_step
from inspections.steps import STEPS
from plant import units
from plant.models import Person, Site, Train
from plant.recording import recording
from plant.sitetime import site_time, today_at, zone_of

MINUTES_A_WORK = 150
FIRST_ORDER = 4101
# Under each foot, from the base up; after an alignment one more. [mm]
SHIMS = {"metric": (2.0, 0.5, 0.15), "us": (2.032, 0.508, 0.127)}
LEDGER = "ledger"  # the plant's own work-order system, invented too


@dataclass(frozen=True)
class Day:
    """A shift at a site: instants by minutes since it began, and how a person there writes them."""

    site: Site
    began: datetime

    @property
    def on(self) -> date:
        return today_at(self.site, self.began)

    def at(self, minutes: float) -> datetime:
        return self.began + timedelta(minutes=minutes)

    def written(self, minutes: float) -> str:
        local = self.at(minutes).astimezone(zone_of(self.site))
        return f"{local:%H:%M}" if local.date() == self.on else f"{local:%Y-%m-%d %H:%M}"


def working_day(on: date) -> date:
    """The Friday before where the day is one of a weekend."""
    return on - timedelta(days=max(0, on.weekday() - 4))


def morning(site: Site, on: date) -> Day:
    return Day(site, site_time(site, datetime.combine(on, time(7, 0))))


def as_marked(place: Place, on: date) -> dict[str, Any]:
    """What is marked on the coupling of a place: serial numbers of its parts, match marks, the bolt set."""
    if not place.serial:
        return {}
    return {
        "serial": place.serial,
        "match_marks": place.match_marks,
        "bolt_set": f"set {place.serial}",
        "bolt_batch": f"{on:%y}{on.month:02d}",
        "bolts_fitted_on": on,
        "hubs": [
            {"side": side, "serial": f"{place.serial}-{mark}"} for side, mark in (("driver", "A"), ("driven", "B"))
        ],
    }


def _measured(fit: Fit) -> int:
    """How often this crew measured there, which chooses the scatter; looks, cards and papers between change nothing."""
    return fit.visits.filter(kind__in=rules.STOPPED - {"breakdown"}, from_paper=False).count()


class Crew:
    """Carries out outings of one site; numbers its work orders in the order they come."""

    def __init__(
        self,
        site: Site,
        people: Mapping[str, Person],
        places: Mapping[str, Place],
        sheets: Mapping[str, SheetVersion],
        tools: Mapping[str, str],
    ) -> None:
        self.site, self.people, self.places, self.sheets, self.tools = site, people, places, sheets, tools
        self.number = FIRST_ORDER

    def carry_out(self, outing: Outing, on: date) -> None:
        """One outing from the planner's order to its closing."""
        day, by = morning(self.site, on), self.people[outing.by]
        order = self.order(outing, day, by)
        for place, work in enumerate(outing.works):
            self._work(work, order, Day(self.site, day.at(20 + place * MINUTES_A_WORK)), by)
        self.finish(order, day, by, 20 + len(outing.works) * MINUTES_A_WORK)

    def finish(self, order: WorkOrder, day: Day, by: Person, minutes: float) -> None:
        """Isolation off, guard on, and the planner closes the order."""
        with recording(by=by, at=day.at(minutes + 15)):
            remove_isolation(order=order)
        with recording(by=self.people["samir"], at=day.at(minutes + 60)):
            close_order(order=order)

    def leave_open(self, outing: Outing, began: datetime) -> Visit:
        """An outing under way: as-found taken, something loosened, the first round's second dial not read yet."""
        day, by, work = Day(self.site, began), self.people[outing.by], outing.works[0]
        assert work.found is not None
        order = self.order(outing, day, by)
        coupling = Coupling.objects.get(site=self.site, tag=work.coupling)
        with recording(by=by, at=day.at(12)):
            visit = begin_visit(coupling=coupling, kind=work.kind, on=day.on, work_order=order)
        survey = self.survey(visit, work.found, day, 25, "found")
        self._save(visit, "as-found", survey | {"loosened_at": day.written(35)}, by, day.at(38))
        begun = self.survey(visit, work.rounds[0], day, 70, "round 1")
        kept = {name: text for name, text in begun.items() if not name.startswith("set1.") or name == "set1.x"}
        self._save(visit, "alignment", kept, by, day.at(74), number=1)
        return visit

    def order(self, outing: Outing, day: Day, by: Person) -> WorkOrder:
        number, self.number = self.number, self.number + 1
        train = Train.objects.get(site=self.site, tag=outing.train)
        with recording(by=self.people["samir"], at=day.at(-21 * 60)):
            order = open_order(
                train=train, number=f"WO-{number}", title=outing.title, planned_on=day.on, crew=[{"person": by}],
                external_ref={LEDGER: f"ORD-{number + 51000}"},
            )  # fmt: skip
        with recording(by=by, at=day.at(2)):
            isolate(order=order, permit=f"P-{number + 2300}")
        with recording(by=by, at=day.at(8)):
            verify_isolation(order=order)
        return order

    def _work(self, work: Work, order: WorkOrder, day: Day, by: Person) -> None:
        coupling = Coupling.objects.get(site=self.site, tag=work.coupling)
        first = work.kind == Visit.Kind.INSTALLATION
        if first:
            self._install(coupling, day, by)
        with recording(by=by, at=day.at(2)):
            visit = begin_visit(coupling=coupling, kind=work.kind, on=day.on, work_order=order)
        if work.found is not None:
            found = self.survey(visit, work.found, day, 15, "found")
            if work.left is not None:
                found["loosened_at"] = day.written(22)
            self._save(visit, "as-found", found, by, day.at(18 if work.left is None else 24))
        rigid = visit.sheet_version.sheet.family.kind == "rigid"
        self._beside(visit, work, first, rigid, by, day)
        if not rigid:
            self._aligned(visit, work, by, day)
        if visit.sheet_version.sheet.family.element_name:
            self._save(visit, "element", entries.element(visit, work), by, day.at(108))
        self._fasteners(visit, work, by, day.at(118))
        if work.worn:
            self._save(visit, "wear", entries.wear(visit, work.worn), by, day.at(124))
        if visit.sheet_version.sheet.family.lubricated and (first or work.worn):
            self._save(visit, "lubricant", entries.lubricant(visit, first), by, day.at(128))
        with recording(by=by, at=day.at(135)):
            sign_visit(visit=visit, left_so_reason=work.reason)

    def _beside(self, visit: Visit, work: Work, first: bool, rigid: bool, by: Person, day: Day) -> None:
        """Run-out, feet and shims, hubs and their placement."""
        hand = Hand(f"{visit.coupling.tag} {day.on} beside", self.site.units, noise_mm=0.002)
        if first or rigid:
            self._save(visit, "run-out", entries.run_out(visit, hand, self.tools["dial"]), by, day.at(28))
        if STEPS["soft-foot"].applies(visit) and (first or work.left is not None):
            shims = SHIMS[self.site.units][: 2 if first else 3]
            self._save(visit, "soft-foot", entries.feet(visit, hand, shims, rises=first), by, day.at(34))
        if first:
            self._save(visit, "mounting", entries.mounting(visit, hand, self.tools.get("gauge", "")), by, day.at(40))
        self._placement(visit, work, by, day.at(45))

    def _aligned(self, visit: Visit, work: Work, by: Person, day: Day) -> None:
        for number, position in enumerate(work.rounds, start=1):
            fields = self.survey(visit, position, day, 50 + number * 10, f"round {number}")
            self._save(visit, "alignment", fields, by, day.at(53 + number * 10), number=number)
        left = {"same_as": "as-found"}
        if work.left is not None:
            left = self.survey(visit, work.left, day, 95, "left")
        self._save(visit, "as-left", left, by, day.at(98))

    def _install(self, coupling: Coupling, day: Day, by: Person) -> None:
        place = self.places[coupling.tag]
        with recording(by=by, at=day.at(1)):
            install_fit(
                coupling=coupling,
                sheet_version=self.sheets[place.sheet],
                fitted_on=day.on,
                **as_marked(place, day.on),
            )

    def survey(self, visit: Visit, off: Four, day: Day, minutes: float, name: str) -> dict[str, str]:
        """Readings of shafts so far from the position wanted, with who, when and how warm."""
        place, fit = self.places[visit.coupling.tag], fit_at(visit.coupling)
        assert fit is not None
        way = replace(place.way, flex_planes_mm=flex_planes_of(fit.sheet_version))
        hand = Hand(f"{place.tag} {visit.kind} {_measured(fit)} {name}", self.site.units)
        stands: Any = tuple(want + by for want, by in zip(target_of(visit.coupling), off, strict=True))
        warm = 18.0 + hand.chance.randint(0, 8)
        return typed(stands, way, hand) | {
            "taken_at": day.written(minutes),
            "driver_support": self._temperature(warm),
            "driven_support": self._temperature(warm + hand.chance.randint(0, 3)),
            "stopped": str(hand.chance.randint(9, 40)),
        }

    def _placement(self, visit: Visit, work: Work, by: Person, at: datetime) -> None:
        version, hand = visit.sheet_version, Hand("", self.site.units)
        axial = version.limits.filter(quantity="axial").exists()
        if work.kind != Visit.Kind.INSTALLATION and not axial:
            return
        if version.dbse_mm is None:
            return
        bore = version.hub_length_mm or 0.0
        fields = {
            "dbse": hand.size((version.dbse_mm or 0.0) + work.dbse_off_mm),
            "driver_engagement": hand.size(bore * 0.97),
            "driven_engagement": hand.size(bore * 0.99),
        }
        self._save(visit, "placement", fields, by, at)
        self._witness(visit, "placement", at + timedelta(minutes=4))
        if work.kind == Visit.Kind.INSTALLATION and version.set_screw_count:
            torque = units.written(version.set_screw_torque_nm, "screw-torque", self.site.units)
            screws: dict[str, str] = {}
            for side in ("driver", "driven"):
                screws |= {f"{side}_count": str(version.set_screw_count), f"{side}_torque": torque}
                screws[f"{side}_instrument"] = self.tools["set"]
            self._save(visit, "set-screws", screws, by, at)

    def _witness(self, visit: Visit, step: str, at: datetime) -> None:
        """Where the data sheet holds the work up, the engineer looks on."""
        points = SheetHoldPoint.objects.filter(version=visit.sheet_version_id, step=step)
        for point in points.order_by("pk"):
            with recording(by=self.people["ana"], at=at):
                witness_step(visit=visit, step=step, what=point.what)

    def _fasteners(self, visit: Visit, work: Work, by: Person, at: datetime) -> None:
        if not work.torque:
            return
        fields: dict[str, str] = {}
        hand = Hand(f"{visit.coupling.tag} {_measured(visit.fit)} fasteners", self.site.units)
        for number, joint in enumerate(visit.sheet_version.joints.order_by("name")):
            if joint.recheck == "not-allowed" and work.kind not in (Visit.Kind.INSTALLATION, Visit.Kind.ELEMENT):
                continue
            how = work.torque if work.torque in self.tools else "set"
            fields |= {f"joint{number}.how": how, f"joint{number}.instrument": work.wrench or self.tools[how]}
            if how == "set":
                fields[f"joint{number}.torque"] = units.written(joint.torque_nm, "torque", self.site.units)
                if work.turned_out and number == 0:
                    fields["joint0.turned_out"] = work.turned_out
                continue
            for position in range(1, joint.positions + 1):
                read_nm = joint.torque_nm * (1.0 + hand.chance.gauss(0.01, 0.015))
                fields[f"joint{number}.position{position}"] = units.written(read_nm, "torque", self.site.units)
        self._save(visit, "fasteners", fields, by, at)

    def _temperature(self, degc: float) -> str:
        return f"{degc * 1.8 + 32:.0f}" if self.site.units == "us" else f"{degc:.0f}"

    def _save(
        self, visit: Visit, step: str, fields: Mapping[str, str], by: Person, at: datetime, number: int = 0
    ) -> None:
        with recording(by=by, at=at):
            entry = save_entry(visit=visit, step=step, number=number, fields=fields, seen=None)
        if entry.errors:
            raise RuntimeError(f"The demo typed {visit.coupling.tag} {step} wrongly: {entry.errors}")
